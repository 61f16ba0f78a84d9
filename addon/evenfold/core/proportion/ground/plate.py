"""Base plates under a figure."""

import numpy as np

from ...extents import extent_of
from ...figure import FloatArray, IntArray
from ..parts.body import BoolArray
from ..points.islands import boxes_of

BROAD, SLAB = 0.2, 0.5
"""A base is broader than the first, in heights of the figure, and no thicker than the second, in its breadths. Our choice."""
FLAT, THICK = 0.14, 0.3
"""A base is lower than the first, or than the second where it stands out from what is on it, in heights of the figure."""
SUNK = 0.03
"""What stands on a base begins no further below its top than this share of the height. Our choice."""
THROUGH, BELOW, ON_IT = 0.15, 0.01, 0.01
"""What hangs through a base ends below it by more than the second share of the height and no more than the first; where
something begins as close to its top as the third, what hangs may also end inside it. Our choice."""
LID, OVER = 0.01, 0.05
"""A base's upper side lies within the first of its top, and what begins there within the second, in heights. Our choice."""
AS_BROAD, NARROWER = 0.8, 0.75
"""A thick base is broader there than the first share of its breadth, and what begins there narrower than the second. Our choice."""


def find_plate(points: FloatArray, height: FloatArray, piece: IntArray, kept: BoolArray) -> BoolArray:
    """(n,) what belongs to a flat base under the figure; ``height`` (n,) along up.

    A base is one piece at the bottom, flat and broad, and all else begins at its top or hardly below, but for
    a tail or a cape that hangs into or through it.
    """
    none = np.zeros(len(points), bool)
    if not kept.any():
        return none
    size = float(np.ptp(height[kept]))
    least, most = boxes_of(np.column_stack([points, height])[kept], piece[kept], int(piece.max()) + 1)
    low, high = least[:, 3], most[:, 3]
    extent = np.sort((most - least)[:, :3], axis=1)
    flat = (extent[:, 1] >= BROAD * size) & (extent[:, 0] <= SLAB * extent[:, 1]) & (high - low < THICK * size)
    for number in np.flatnonzero(flat & (low < float(low.min()) + THROUGH * size)):
        through = (low < low[number] - BELOW * size) & (high > high[number])
        if (np.abs(low - high[number]) < ON_IT * size).any():
            through |= (low < high[number] - SUNK * size) & (high > high[number])
        rest = np.delete(low, number)[~np.delete(through, number)]
        rest = rest[np.isfinite(rest)]
        if not len(rest) or rest.min() <= high[number] - SUNK * size:
            continue
        mine = kept & (piece == number)
        if high[number] - low[number] < FLAT * size or _stands_out(points, height, mine, kept, size):
            return mine
    return none


def _stands_out(points: FloatArray, height: FloatArray, mine: BoolArray, kept: BoolArray, size: float) -> bool:
    """True where a thick base is as broad at its top as anywhere, and broader than what begins there."""
    top = float(height[mine].max())
    lid, over = mine & (height > top - LID * size), kept & ~mine & (height < top + OVER * size)
    if not over.any():
        return False
    broad = np.sort(extent_of(points[mine]))[1:]
    lid_broad, over_broad = (np.sort(extent_of(points[rows]))[1:] for rows in (lid, over))
    return bool((lid_broad > AS_BROAD * broad).all() and (over_broad < NARROWER * broad).all())
