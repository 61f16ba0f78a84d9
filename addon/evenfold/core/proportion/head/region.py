"""The head as the evidence looks at it: its points, its pieces, and which piece is the skull."""

from dataclasses import dataclass
from functools import reduce

import numpy as np

from ...extents import all_of, extent_of
from ...figure import FloatArray, IntArray
from ..face.side_outline import cuts
from ..parts.body import WELD, Body, BoolArray
from ..points.islands import boxes_of, label_pieces
from ..points.sample import dense

SHOWN, MUZZLE = 0.25, 0.65
"""A head behind a muzzle of its own piece shows by the first share of it, and the muzzle is smaller than the second. Our choice."""
JUTS = 0.2
"""A muzzle's middle lies so far ahead of the head's, in depths of the head; a face under hair does not. Our choice."""
MOST_ROWS = 3000
"""What is far higher than wide is looked at in no more rows than this: it is no head."""
UNDER_HAT, OVER, INTO = 0.35, 0.4, 0.26
"""A face under a hat of its own piece is broader and deeper than the first share of it and lies within its rim; the hat
begins over the second share of the face's height, and the face reaches into it by the third: a neck does not. Our choice."""
NECK = 0.7
"""A neck of its own piece is narrower and less deep than this share of the head that it reaches into. Our choice."""
LOWER_END, BROAD = 0.12, 0.75
"""Within the first share of its height from below a hat is broader than the second share of its breadth. Our choice."""
SHELL = 0.85
"""A head inside a shell is larger than this share of it. Our choice."""


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
    skull = _skull(framed, own if barred is None else own & ~barred, piece, faces)
    bottom = float(framed[skull][:, 2].min()) if low is None else low
    side, width = _middle(framed[skull])
    head = Head(framed, own, skull, piece, faces, side, width, bottom, float(framed[skull][:, 2].max()))
    if low is None:
        front = front_half(head, skull)
        bottom = float(front[:, 2].min()) if len(front) else bottom
    return Head(framed, own, skull, piece, faces, side, width, bottom, head.top)


def front_half(head: Head, rows: BoolArray) -> FloatArray:
    """(m, 3) the outline near the middle, ahead of the head's middle."""
    cut = cuts(head.framed, head.faces_of(rows), head.side, head.width)
    if len(cut) < 10:
        own = head.framed[rows]
        near = own[np.abs(own[:, 0] - head.side) < 0.2 * head.width]
        cut = near if len(near) else own
    if not len(cut):
        return cut
    upper = cut[cut[:, 2] >= np.median(cut[:, 2])]
    centre = float(min((upper[:, 1].max() + upper[:, 1].min()) / 2, upper[:, 1].max() - 0.3 * head.width))
    return cut[cut[:, 1] >= centre - 0.05 * np.ptp(upper[:, 1])]


def _middle(points: FloatArray) -> tuple[float, float]:
    """The middle plane and the width of a head, not moved by one-sided things on it."""
    low, high = points[:, 2].min(), points[:, 2].max()
    row = np.minimum(((points[:, 2] - low) / max(high - low, 1e-12) * 24).astype(int), 23)
    left, right = np.full(24, -np.inf), np.full(24, np.inf)
    np.maximum.at(left, row, points[:, 0])
    np.minimum.at(right, row, points[:, 0])
    seen = left > right
    left, right = np.where(seen, left, 0.0), np.where(seen, right, 0.0)
    if not seen.any():
        return float(points[:, 0].mean()), float(high - low) or 1.0
    width = left[seen] - right[seen]
    broad = width >= np.percentile(width, 40)
    return float(np.median(((left + right) / 2)[seen][broad])), float(np.percentile(width, 85))


def _skull(framed: FloatArray, own: BoolArray, piece: IntArray, faces: IntArray) -> BoolArray:
    """The piece of the head that shows most from the front, low counting more than high."""
    mine = own[faces].all(axis=1)
    if len(np.unique(piece[own])) == 1 or not mine.any():
        return own
    points = framed[own]
    side, width = _middle(points)
    reach = 0.3 * min(width, float(np.ptp(points[:, 2])))
    if not reach > 0:
        return own
    low, high = float(points[:, 2].min()), float(points[:, 2].max())
    middle = framed[faces].mean(axis=1)
    near = (np.abs(middle[:, 0] - side) < 2 * reach) & (middle[:, 2] > low) & (middle[:, 2] < high)
    owner = np.where(mine, piece[faces[:, 0]], -1)[near]
    shown, level = shown_from_front(framed, faces[near], owner, side, reach, (low, high))
    shown, level = shown[shown >= 0], level[shown >= 0]
    if not len(shown):
        return own
    weight = 1.1 - (level - level.min()) / max(float(np.ptp(level)), 1e-12)
    total = np.bincount(shown, weight, minlength=int(piece.max()) + 1)
    joined = np.zeros(len(total), bool)
    some = own[faces].any(axis=1) & ~mine
    joined[piece[faces[some][:, 0]]] = True
    if (joined & (total > 0.4 * total.max())).any():
        total = np.where(joined & (total > 0.4 * total.max()), total, 0.0)
    return own & (piece == _whole_of(points, piece[own], np.asarray(total, float)))


def _whole_of(points: FloatArray, piece: IntArray, total: FloatArray) -> int:
    """The piece shown most (``total`` by piece), unless it is a muzzle on a head, a neck under one, a hat over one, or a shell around one.

    A muzzle is much smaller, both ways, than another piece that shows, and juts out of it; a neck is narrower than one
    that it reaches into from below and that is no hat; a hat begins over the lower part
    of one that is hardly narrower; a shell holds another that is hardly smaller, and may lie in a shell itself.
    """
    chosen = int(np.argmax(total))
    low, high = boxes_of(points, piece, len(total))
    size = np.where(np.isfinite(high - low), high - low, 0.0)
    behind = (total > SHOWN * total.max()) & (size[:, [0, 2]] * MUZZLE > size[chosen, [0, 2]]).all(axis=1)
    with np.errstate(invalid="ignore"):
        ahead = np.nan_to_num((low[:, 1] + high[:, 1]) / 2)
    behind &= ahead[chosen] > ahead + JUTS * size[:, 1]
    if behind.any():
        return int(np.argmax(np.where(behind, total, -1.0)))
    over = (total > SHOWN * total.max()) & (size[:, :2] * NECK > size[chosen, :2]).all(axis=1)
    over &= (low[:, 2] > low[chosen, 2]) & (low[:, 2] < high[chosen, 2]) & (high[:, 2] > high[chosen, 2])
    over &= [bool(one) and not _is_open_below(points[piece == number]) for number, one in enumerate(over)]
    if over.any():
        return int(np.argmax(np.where(over, total, -1.0)))
    under = (total > SHOWN * total.max()) & (size[:, :2] > UNDER_HAT * size[chosen, :2]).all(axis=1) & (high[:, 2] > low[chosen, 2] + INTO * size[:, 2])
    under &= (low[chosen, 2] > low[:, 2] + OVER * size[:, 2]) & (low[:, :2] > low[chosen, :2]).all(axis=1) & (high[:, :2] < high[chosen, :2]).all(axis=1)
    if under.any() and _is_open_below(points[piece == chosen]):
        chosen = int(np.argmax(np.where(under, total, -1.0)))
    while True:
        inside = (low > low[chosen]).all(axis=1) & (high < high[chosen]).all(axis=1) & (size > SHELL * size[chosen]).all(axis=1)
        if not inside.any():
            return chosen
        chosen = int(np.argmax(inside))


def _is_open_below(points: FloatArray) -> bool:
    """True for points (n, 3) of a hat or hood, which is about as broad near its lower end as anywhere; a head is round below."""
    rise = points[:, 2] - points[:, 2].min()
    near = points[rise <= LOWER_END * rise.max()]
    return bool(np.ptp(near[:, 0]) > BROAD * np.ptp(points[:, 0]))


def shown_from_front(
    framed: FloatArray, faces: IntArray, owner: IntArray, side: float, reach: float, span: tuple[float, float]
) -> tuple[IntArray, FloatArray]:
    """(k,) the owner seen from the front in each cell near the middle, and the cell's height."""
    step = max(2 * reach / 30, (span[1] - span[0]) / MOST_ROWS)
    columns, rows = 31, int(np.ceil((span[1] - span[0]) / step)) + 1
    best = np.full((columns, rows), -np.inf)
    seen = np.full((columns, rows), -1, np.int64)
    beside, level = ([values[corner] for corner in faces.T] for values in (framed[:, 0] - side, framed[:, 2]))
    near = (reduce(np.minimum, beside) < reach) & (reduce(np.maximum, beside) > -reach)
    near &= (reduce(np.maximum, level) > span[0]) & (reduce(np.minimum, level) < span[1])
    faces, owner = faces[near], owner[near]
    for number in np.unique(owner):
        used, compact = np.unique(faces[owner == number], return_inverse=True)
        spots = dense(framed[used], compact.reshape(-1, 3), step / 1.5)
        spots = spots[(np.abs(spots[:, 0] - side) < reach) & (spots[:, 2] > span[0]) & (spots[:, 2] < span[1])]
        place = ((spots[:, 0] - side + reach) / step).astype(int) * rows + ((spots[:, 2] - span[0]) / step).astype(int)
        front = np.full((columns, rows), -np.inf)
        np.maximum.at(front.reshape(-1), place, spots[:, 1])
        ahead = front > best
        best[ahead], seen[ahead] = front[ahead], number
    rise = np.broadcast_to(np.arange(rows) * step, seen.shape)
    known = np.isfinite(best)
    return seen[known], rise[known].astype(float)
