"""What the paint tells of a head: where the face's colour ends in front, and whether another covers the top.

Hair, a hood or a hat that is one skin with the head, and as smooth, still has a colour of its own.
"""

from dataclasses import dataclass

import numpy as np

from ...colour import apart
from ...figure import FloatArray, IntArray
from ..head.region import Head
from ..parts.body import Body, BoolArray
from ..parts.painted import ALIKE, Painted, main_colour, painted_of, seen_along

ACROSS, UP = 21, 60
"""A head is looked at from the front in so many columns and rows."""
SAMPLES = 60
"""Samples of the paint to the head's width."""
CHEEKS, BESIDE = (0.06, 0.42), 0.3
"""The face's colour is looked for between these shares of the head's height, within the last share of its width from the middle."""
MOSTLY, HARDLY = 0.6, 0.25
"""Of a face or a top so much is one colour, or another. Our choice."""
UPPER = 0.6
"""The top is what lies over this share of the head's height. Our choice."""
DRAWN = 0.97
"""Where more of what is seen in front is one colour, nothing is drawn there, and hair may have the same. Our choice."""
LINE = (0.5, 0.99)
"""A hairline lies between these shares of the head's height; a lower one is the edge of an animal's mask. Our choice."""
ON_TOP, CELLS = 0.3, 6
"""The top is what is seen from above within this share of the head's width, in so many cells to each side."""
OVER, UNDER = 0.06, 0.035
"""A step at the hairline is looked for so far over and under it, in heads. Our choice."""


@dataclass(frozen=True)
class Paint:
    """``covered``: another colour than the face's lies on top; False where it is the same.

    ``share`` is the height at which the face's colour ends over the forehead, from chin (0) to top (1), and ``step`` how
    far what covers it stands out there, in heads. NaN and 0 where nothing covers it.
    """

    covered: bool
    share: float = float("nan")
    step: float = 0.0


def find_paint(body: Body, head: Head, low: float, top: float) -> Paint | None:
    """What the paint of a head from its chin ``low`` to its ``top`` tells; None where it tells nothing."""
    size = top - low
    if not (size > 0 and head.width > 0):
        return None
    painted = painted_of(body, head.framed, head.skull, head.width / SAMPLES)
    if painted is None:
        return None
    front, side, level = _from_front(painted.spots, head, low, size)
    face = main_colour(painted.lab[front[(np.abs(side) < BESIDE) & (level > CHEEKS[0]) & (level < CHEEKS[1])]], MOSTLY)
    above = _from_above(painted, head, low + UPPER * size)
    if face is None or not len(above):
        return None
    alike = float((apart(painted.lab[above], face) < ALIKE).mean())
    is_face = apart(painted.lab[front], face) < ALIKE
    if alike > MOSTLY:
        return Paint(False) if is_face.mean() < DRAWN else None
    share = _hairline(side, level, is_face) if alike < HARDLY else None
    if share is None:
        return None
    return Paint(True, share, _step(side, level, painted.spots[front, 1] / size, is_face))


def _from_front(spots: FloatArray, head: Head, low: float, size: float) -> tuple[IntArray, FloatArray, FloatArray]:
    """What is seen from the front, one spot for each cell: its row, and where the cell lies in widths and shares."""
    side = np.floor(((spots[:, 0] - head.side) / head.width + 0.5) * ACROSS).astype(int)
    level = np.floor((spots[:, 2] - low) / size * UP).astype(int)
    inside = (side >= 0) & (side < ACROSS) & (level >= 0) & (level < UP) & (spots[:, 1] > np.median(spots[:, 1]))
    rows = seen_along(np.where(inside, side * UP + level, -1), spots[:, 1])
    return rows, (side[rows] + 0.5) / ACROSS - 0.5, (level[rows] + 0.5) / UP


def _from_above(painted: Painted, head: Head, floor: float) -> IntArray:
    """Rows of what is seen from above near the middle of the head, over the height ``floor``."""
    spots = painted.spots
    high = spots[:, 2] > floor
    if not high.any():
        return np.zeros(0, np.int64)
    deep = spots[high][:, 1]
    centre = np.array([head.side, (deep.max() + deep.min()) / 2])
    cell = np.floor(((spots[:, :2] - centre) / (ON_TOP * head.width) + 1) * CELLS).astype(int)
    inside = high & (cell >= 0).all(axis=1) & (cell < 2 * CELLS).all(axis=1)
    return seen_along(np.where(inside, cell[:, 0] * 2 * CELLS + cell[:, 1], -1), spots[:, 2])


def _hairline(side: FloatArray, level: FloatArray, is_face: BoolArray) -> float | None:
    """How high the face's colour goes in the middle, as a share of the head; None where that is no hairline."""
    tops = [level[mine].max() for mine in _columns(side, is_face)]
    share = float(np.median(tops)) + 0.5 / UP if tops else 0.0
    return share if LINE[0] < share < LINE[1] else None


def _step(side: FloatArray, level: FloatArray, out: FloatArray, is_face: BoolArray) -> float:
    """How far what begins over the face's colour stands ``out`` (n,), in the middle of the columns; 0 where it lies behind."""
    found = []
    for mine in _columns(side, is_face):
        top = level[mine].max()
        over = out[(side == side[mine][0]) & ~is_face & (level > top) & (level <= top + OVER)]
        under = out[mine & (level > top - UNDER)]
        if len(over):
            found.append(over.max() - np.median(under))
    return max(float(np.median(found)), 0.0) if found else 0.0


def _columns(side: FloatArray, is_face: BoolArray) -> list[BoolArray]:
    """The cells (n,) of the face's colour in each column near the middle that has any."""
    near = is_face & (np.abs(side) < BESIDE)
    return [near & (side == one) for one in np.unique(side[near])]
