"""What a figure stands on: its feet told from tails and capes that hang lower, and base plates."""

import numpy as np

from ..figure import FloatArray, IntArray
from .body import BoolArray

CELLS_UP = 66
"""Cells to the figure's height when what hangs near the ground is told apart."""
SLAB = 9
"""So many cells up from the lowest point are looked at."""


def find_plate(points: FloatArray, height: FloatArray, piece: IntArray, kept: BoolArray) -> BoolArray:
    """(n,) what belongs to a flat base under the figure; ``height`` (n,) along up.

    A base is one piece at the very bottom, flat and broad, and all else begins at its top or
    hardly below.
    """
    none = np.zeros(len(points), bool)
    if not kept.any():
        return none
    size = float(np.ptp(height[kept]))
    count = int(piece.max()) + 1
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, piece[kept], height[kept])
    np.maximum.at(high, piece[kept], height[kept])
    bottom = float(low.min())
    for number in np.flatnonzero((low < bottom + 0.01 * size) & (high - low < 0.14 * size)):
        mine = kept & (piece == number)
        extent = np.sort(np.ptp(points[mine], axis=0))
        others = np.delete(low, number)
        rest = others[np.isfinite(others)]
        if extent[1] < 0.2 * size or extent[0] > 0.5 * extent[1] or not len(rest):
            continue
        if rest.min() > high[number] - 0.03 * size:
            return mine
    return none


def _components(filled: BoolArray) -> IntArray:
    """Numbers of connected cells, 0 where empty; cells that share a side are connected."""
    label = np.where(filled, np.arange(1, filled.size + 1).reshape(filled.shape), 0)
    while True:
        padded = np.pad(label, 1)
        best = label
        for axis in range(3):
            for shift in (0, 2):
                where = [slice(1, -1)] * 3
                where[axis] = slice(shift, shift + filled.shape[axis])
                best = np.maximum(best, padded[tuple(where)])
        best = np.where(filled, best, 0)
        if (best == label).all():
            return label
        label = best


def feet_of(samples: FloatArray, side: float, size: float | None = None) -> tuple[FloatArray, bool] | None:
    """(lowest point of the feet, whether they were told apart from what hangs) of samples (n, 3).

    ``size`` is the figure's height where the samples do not reach to its top.
    """
    low, size = float(samples[:, 2].min()), float(np.ptp(samples[:, 2])) if size is None else size
    if size <= 0:
        return None
    cell = size / CELLS_UP
    slab = samples[samples[:, 2] < low + SLAB * cell]
    start = slab.min(axis=0)
    index = ((slab - start) / cell).astype(int)
    shape = index.max(axis=0) + 1
    if shape[:2].max() > 4 * CELLS_UP:
        return None
    filled = np.zeros(shape, bool)
    filled[tuple(index.T)] = True
    number = _components(filled)[tuple(index.T)]
    parts = [slab[number == one] for one in np.unique(number)]
    feet = [own for own in parts if not _hangs(own, parts, side, size)] or parts
    lowest = min((own[np.argmin(own[:, 2])] for own in feet), key=lambda point: float(point[2]))
    return lowest, len(feet) < len(parts)


def _hangs(own: FloatArray, parts: list[FloatArray], side: float, size: float) -> bool:
    """True for a tail or a cape: in the middle, and narrow, or thin and behind something else."""
    low, high = own.min(axis=0), own.max(axis=0)
    wide, deep = high[0] - low[0], high[1] - low[1]
    if abs((high[0] + low[0]) / 2 - side) > 0.018 * size or len(parts) == 1:
        return False
    if wide < 0.1 * size:
        return True
    front = max(float(part[:, 1].max()) for part in parts)
    return bool(deep < 0.35 * wide and high[1] < front - 0.05 * size)
