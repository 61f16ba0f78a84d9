"""Places for labels on a screen: none cut off, none over another, each near its line."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .figure import FloatArray


@dataclass(frozen=True)
class Room:
    """The free part of a view in pixels, from its lower left."""

    left: float
    bottom: float
    right: float
    top: float

    @property
    def width(self) -> float:
        return self.right - self.left

    @property
    def height(self) -> float:
        return self.top - self.bottom


def place_labels(
    anchors: FloatArray,
    sizes: FloatArray,
    rightward: NDArray[np.bool_],
    priority: NDArray[np.int64],
    room: Room,
    gap: float,
) -> FloatArray:
    """(n, 2) lower left corners in pixels; NaN for labels that are not to be drawn.

    ``anchors`` (n, 2) the ends of the lines, NaN behind the viewer; ``sizes`` (n, 2);
    ``rightward`` (n,) whether the label stands to the right of its anchor; a higher
    ``priority`` (n,) is kept longer. Labels of lines above or below the room are left out;
    beside it they stand at its edge. Heights are the nearest that keep ``gap`` between them
    (isotonic regression by pooling neighbours). Raises nothing.
    """
    corners = np.full((len(anchors), 2), np.nan)
    if not len(anchors):
        return corners
    seen = np.isfinite(anchors).all(axis=1)
    seen &= (sizes[:, 0] <= room.width) & (sizes[:, 1] <= room.height)
    inside = np.where(seen, anchors[:, 1], -np.inf)
    seen &= (inside >= room.bottom) & (inside <= room.top)
    for side in (True, False):
        column = np.flatnonzero(seen & (rightward == side))
        column = _fitting(column, sizes, priority, room, gap)
        if len(column):
            wanted = anchors[column, 0] + (gap if side else -gap - sizes[column, 0])
            corners[column, 0] = np.clip(wanted, room.left, room.right - sizes[column, 0])
            corners[column, 1] = _apart(anchors[column, 1], sizes[column, 1], room, gap)
    return _without_clashes(corners, sizes, priority)


def _fitting(
    column: NDArray[np.int64], sizes: FloatArray, priority: NDArray[np.int64], room: Room, gap: float
) -> NDArray[np.int64]:
    """As many labels as the room's height takes, the least important dropped first."""
    order = column[np.argsort(-priority[column], kind="stable")]
    used = np.cumsum(sizes[order, 1] + gap) - gap
    return np.sort(order[used <= room.height])


def _apart(middles: FloatArray, heights: FloatArray, room: Room, gap: float) -> FloatArray:
    """(n,) lower edges nearest to what is wanted, in the order of the lines."""
    order = np.argsort(middles, kind="stable")
    steps = heights[order] + gap
    before = np.cumsum(steps) - steps
    blocks: list[tuple[float, int]] = []
    for value in (middles - heights / 2)[order] - before:
        mean, count = float(value), 1
        while blocks and blocks[-1][0] > mean:
            above, many = blocks.pop()
            mean, count = (mean * count + above * many) / (count + many), count + many
        blocks.append((mean, count))
    level = np.concatenate([np.full(count, mean) for mean, count in blocks])
    level = np.clip(level, room.bottom, room.top - (before[-1] + steps[-1] - gap))
    lower = np.empty(len(middles))
    lower[order] = level + before
    return lower


def _without_clashes(
    corners: FloatArray, sizes: FloatArray, priority: NDArray[np.int64]
) -> FloatArray:
    """Drop the less important of two labels that lie over each other across the columns."""
    kept: list[int] = []
    for index in np.argsort(-priority, kind="stable"):
        if np.isnan(corners[index]).any():
            continue
        if kept:
            low, high = corners[kept], corners[kept] + sizes[kept]
            own, end = corners[index], corners[index] + sizes[index]
            over = (low < end - 1e-6) & (own < high - 1e-6)
            if over.all(axis=1).any():
                corners[index] = np.nan
                continue
        kept.append(int(index))
    return corners
