"""The head as the evidence looks at it: its points, its pieces, and which piece is the skull."""

from dataclasses import dataclass

import numpy as np

from ...extents import all_of, extent_of
from ...figure import FloatArray, IntArray
from ..directions.middle import middle_and_width
from ..face.side_outline import cuts
from ..parts.body import WELD, Body, BoolArray
from ..points.islands import label_pieces
from ..points.sample import dense
from .skull_piece import skull_of

FEWEST_CUT, NEAR = 10, 0.2
"""With fewer points than this in the middle plane's cut the points within the second, in widths of the head, stand for it. Our choice."""
FACE_DEPTH = 0.3
"""The middle from front to back lies no further behind the face than this, in widths of the head, whatever hangs behind. Our choice."""
JUST_BEHIND = 0.05
"""What is so little behind that middle, in depths of the upper half, is in front. Our choice."""


@dataclass(frozen=True)
class Head:
    """``own`` (n,) what belongs to the head and is not worn; ``skull`` (n,) the piece of it with
    the face; ``piece`` (n,) every point's piece; ``faces`` (t, 3) all that is not worn.

    ``side`` is the middle plane, ``width`` the skull's; ``low`` the lowest point in front of what
    is the head's, ``top`` the skull's highest; ``size`` about the head's height.
    """

    framed: FloatArray
    own: BoolArray
    skull: BoolArray
    piece: IntArray
    faces: IntArray
    side: float
    width: float
    low: float
    top: float

    @property
    def size(self) -> float:
        return self.top - self.low

    def faces_of(self, rows: BoolArray) -> IntArray:
        """(t, 3) the faces all of whose corners are in ``rows``."""
        return self.faces[all_of(rows[self.faces])]

    def samples(self, rows: BoolArray, step: float) -> FloatArray:
        """(m, 3) points all over those faces."""
        faces = self.faces_of(rows)
        if not len(faces):
            return self.framed[rows]
        used, compact = np.unique(faces, return_inverse=True)
        return dense(self.framed[used], compact.reshape(-1, 3), step)


def pieces_of(body: Body, framed: FloatArray) -> IntArray:
    """(n,) the piece of each point, over everything worn and not worn."""
    return label_pieces(framed, body.triangles, WELD * float(extent_of(framed).max()))


def head_of(
    body: Body, framed: FloatArray, piece: IntArray, own: BoolArray, low: float | None = None, barred: BoolArray | None = None
) -> Head:
    """The head made of the points ``own``; ``low`` bounds it from below where it is joined.

    ``barred`` (n,) are points that cannot be the skull's.
    """
    kept = ~body.worn[body.triangles].any(axis=1)
    faces = body.triangles[kept]
    if not own.any():
        return Head(framed, own, own, piece, faces, 0.0, 1.0, 0.0, 0.0)
    skull = skull_of(framed, own if barred is None else own & ~barred, piece, faces)
    bottom = float(framed[skull][:, 2].min()) if low is None else low
    side, width = middle_and_width(framed[skull])
    head = Head(framed, own, skull, piece, faces, side, width, bottom, float(framed[skull][:, 2].max()))
    if low is None:
        front = front_half(head, skull)
        bottom = float(front[:, 2].min()) if len(front) else bottom
    return Head(framed, own, skull, piece, faces, side, width, bottom, head.top)


def front_half(head: Head, rows: BoolArray) -> FloatArray:
    """(m, 3) the outline near the middle, ahead of the head's middle."""
    cut = cuts(head.framed, head.faces_of(rows), head.side, head.width)
    if len(cut) < FEWEST_CUT:
        own = head.framed[rows]
        near = own[np.abs(own[:, 0] - head.side) < NEAR * head.width]
        cut = near if len(near) else own
    if not len(cut):
        return cut
    upper = cut[cut[:, 2] >= np.median(cut[:, 2])]
    centre = float(min((upper[:, 1].max() + upper[:, 1].min()) / 2, upper[:, 1].max() - FACE_DEPTH * head.width))
    return cut[cut[:, 1] >= centre - JUST_BEHIND * np.ptp(upper[:, 1])]
