"""Base plates under a figure."""

import numpy as np

from ...extents import extent_of
from ...figure import FloatArray, IntArray
from ..parts.body import BoolArray
from ..points.islands import boxes_of

FLAT, THICK = 0.14, 0.3
"""A base is lower than the first, or than the second where it stands out from what is on it."""
THROUGH, ON_IT = 0.15, 0.01
"""What hangs through a base ends no further below it than this share of the height; where something begins so close to
its top, what hangs may also end inside it. Our choice."""


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
    flat = (extent[:, 1] >= 0.2 * size) & (extent[:, 0] <= 0.5 * extent[:, 1]) & (high - low < THICK * size)
    for number in np.flatnonzero(flat & (low < float(low.min()) + THROUGH * size)):
        through = (low < low[number] - 0.01 * size) & (high > high[number])
        if (np.abs(low - high[number]) < ON_IT * size).any():
            through |= (low < high[number] - 0.03 * size) & (high > high[number])
        rest = np.delete(low, number)[~np.delete(through, number)]
        rest = rest[np.isfinite(rest)]
        if not len(rest) or rest.min() <= high[number] - 0.03 * size:
            continue
        mine = kept & (piece == number)
        if high[number] - low[number] < FLAT * size or _stands_out(points, height, mine, kept, size):
            return mine
    return none


def _stands_out(points: FloatArray, height: FloatArray, mine: BoolArray, kept: BoolArray, size: float) -> bool:
    """True where a thick base is as broad at its top as anywhere, and broader than what begins there."""
    top = float(height[mine].max())
    lid, over = mine & (height > top - 0.01 * size), kept & ~mine & (height < top + 0.05 * size)
    if not over.any():
        return False
    broad = np.sort(extent_of(points[mine]))[1:]
    return bool((np.sort(extent_of(points[lid]))[1:] > 0.8 * broad).all() and (np.sort(extent_of(points[over]))[1:] < 0.75 * broad).all())
