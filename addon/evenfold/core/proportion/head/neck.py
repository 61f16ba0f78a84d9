"""Where the head ends and the body begins when nothing but the shape can say it."""

from dataclasses import dataclass

import numpy as np

from ...figure import FloatArray
from .arms import arms_are_raised
from .neck_score import LOWEST, Place, ledge_over, score_of
from .outline import ROWS, Outline

LOWEST_HEAD = 0.09
"""No head is lower than this share of the figure's height. Our choice."""
NARROW = 0.97
"""A neck is narrower than this share of what is above it and of what is below it."""
BESIDE, AS_NARROW = 4, 1.0001
"""A neck is the narrowest of so many rows up and down, to within this factor: rounding. Our choice."""
LEAST_BELOW = 6
"""What is below is looked at over half as many rows as there are above, and over so many at least. Our choice."""
LEDGE, BROADEST = 0.05, 1.15
"""A chin stands forward over the neck by at least the first share of the head, and such a neck is broader than what is
above or below by no more than the second factor. Our choice."""
TRUNK_LOST = 0.75
"""A trunk that shows no further up than this share of the figure's rows was lost on the way. Our choice."""


@dataclass(frozen=True)
class Neck:
    """``height`` of the narrowest place, how narrow it is, and how much speaks for it (``score``)."""

    height: float
    narrow: float
    top: float
    score: float = 0.0


def find_necks(outline: Outline) -> list[Neck]:
    """Places under which a head may stand, the likeliest neck first.

    Each is narrower than what is above and below it, or lies under a ledge in front; ``neck_score`` tells what
    speaks for each.
    """
    if not (outline.spread > 0).any():
        return []
    breadth = _breadth(outline)
    top = _top_row(outline)
    raised = arms_are_raised(outline)
    found: list[tuple[float, Neck]] = []
    for row in range(int(LOWEST * ROWS), top - int(LOWEST_HEAD * ROWS)):
        place = _neck_at(outline, breadth, row, top)
        if place is not None:
            score = score_of(outline, place, raised=raised)
            found.append((score, Neck(float(outline.levels[row]), place.narrow, float(outline.levels[top]), score)))
    return [neck for _, neck in sorted(found, key=lambda entry: -entry[0])]


def _breadth(outline: Outline) -> FloatArray:
    """(ROWS,) of the trunk, both ways, over three rows each."""
    size = np.sqrt(np.maximum(outline.width, 0) * np.maximum(outline.depth, 0))
    return np.asarray(np.convolve(np.pad(size, 1, mode="edge"), np.ones(3) / 3, "valid"), float)


def _neck_at(outline: Outline, breadth: FloatArray, row: int, top: int) -> Place | None:
    """The row as a place under the head that ends in the row ``top``, where it is narrow or under a ledge; else None."""
    if breadth[row] <= 0:
        return None
    high = top - row
    above = float(breadth[row + 1 : top + 1].max())
    below = float(breadth[max(0, row - max(high // 2, LEAST_BELOW)) : row].max())
    narrow = float(breadth[row] / max(min(above, below), 1e-12))
    lowest = breadth[row] <= breadth[max(row - BESIDE, 0) : row + BESIDE + 1].min() * AS_NARROW
    ledge = ledge_over(outline, row, high)
    if not (lowest and narrow <= NARROW) and (ledge < LEDGE or narrow > BROADEST):
        return None
    return Place(row, top, narrow, above / float(breadth[row]), ledge)


def _top_row(outline: Outline) -> int:
    """The highest row of the trunk; of all where the trunk is lost on the way."""
    highest = int(np.flatnonzero(outline.spread > 0)[-1])
    trunk = np.flatnonzero(outline.width > 0)
    return int(trunk[-1]) if len(trunk) and trunk[-1] > TRUNK_LOST * highest else highest
