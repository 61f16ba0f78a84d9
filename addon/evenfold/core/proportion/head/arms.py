"""Arms as the outline shows them: how far the figure spreads beyond its trunk, and whether they are raised."""

import numpy as np

from ...figure import FloatArray
from .outline import ROWS, Outline

BESIDE = 1.3
"""Something is beside the trunk where the figure spreads so many times as wide. Our choice."""
OVER_FEET, FEWEST_ROWS = 0.12, 5
"""Feet and hems reach up to the first share of the height; what is beside the trunk goes on for so many rows. Our choice."""
NEAR = 3
"""So many rows tell how wide something is where it begins and where it ends."""
NARROWS = 1.15
"""Raised arms join a trunk that is wider below them than above by this factor. Our choice."""
AT_TRUNK, LEANS_OUT = 1.5, 1.3
"""Or they begin less wide than so many trunks, and reach so many times as far out higher up. Our choice."""
HIGHER_UP, FARTHEST = 90, 97
"""Percentiles that leave single points out: of where arms that lean out end, and of how far the figure spreads."""


def arms_are_raised(outline: Outline) -> bool:
    """True when the lowest things beside the trunk join it at their lower end."""
    beside = (outline.spread > BESIDE * outline.width) & (outline.width > 0)
    beside[: int(OVER_FEET * ROWS)] = False
    edges = np.flatnonzero(np.diff(np.concatenate([[0], beside.astype(int), [0]])))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        if last - first >= FEWEST_ROWS:
            below = float(outline.width[max(first - NEAR, 0) : first].max(initial=0.0))
            above = float(outline.width[last : last + NEAR].max(initial=0.0))
            return below > NARROWS * above or _lean_out(outline.spread[first:last], below)
    return False


def _lean_out(spread: FloatArray, below: float) -> bool:
    """True for arms that begin at a trunk as wide as ``below`` and reach further out the higher."""
    starts, ends = float(np.median(spread[:NEAR])), float(np.median(spread[-NEAR:]))
    farthest = max(ends, float(np.percentile(spread, HIGHER_UP)))
    return starts < AT_TRUNK * below and farthest > LEANS_OUT * starts and ends > starts


def spread_beyond_trunk(outline: Outline, first: int, last: int) -> float:
    """How far the figure spreads beyond its trunk in these rows, in widths of the trunk."""
    width = outline.width[first:last]
    if not (width > 0).any():
        return 0.0
    trunk = float(np.median(width[width > 0]))
    return float(np.percentile(outline.spread[first:last], FARTHEST)) / trunk - 1
