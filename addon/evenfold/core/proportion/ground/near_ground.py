"""What hangs together of a figure near the ground, told by cells that share a side."""

from dataclasses import dataclass

import numpy as np

from ...extents import cells_of, high_of
from ...figure import FloatArray, IntArray
from ..points.islands import join

CELLS_UP = 66
"""Cells to the figure's height."""
WIDEST = 4 * CELLS_UP
"""What is broader than so many cells is not told apart: 4 heights, which bounds the memory."""


@dataclass(frozen=True)
class Parts:
    """Parts of samples ``points`` (n, 3), sorted by part; part i begins at ``first[i]`` (k,) and has the box
    ``low[i]``, ``high[i]`` (k, 3)."""

    points: FloatArray
    first: IntArray
    low: FloatArray
    high: FloatArray

    def __len__(self) -> int:
        return len(self.first)

    @property
    def extent(self) -> FloatArray:
        """(k, 3)"""
        return self.high - self.low

    def own(self, one: int) -> FloatArray:
        """(m, 3) the samples of one part."""
        end = self.first[one + 1] if one + 1 < len(self.first) else len(self.points)
        return self.points[self.first[one] : end]

    def chosen(self, rows: IntArray) -> list[FloatArray]:
        """The samples of some parts, (m, 3) each."""
        return [self.own(int(one)) for one in rows]

    def centres(self) -> FloatArray:
        """(k, 2) the middle of each part's samples on the ground."""
        count = np.diff(self.first, append=len(self.points))
        return np.asarray(np.add.reduceat(self.points[:, :2], self.first) / count[:, None], float)


def lowest_parts(samples: FloatArray, low: float, slab: float, size: float) -> Parts | None:
    """What hangs together of samples (n, 3) in the ``slab`` cells above ``low``; None where it is too broad to tell.

    ``size`` is the figure's height; raises ValueError where no sample lies there.
    """
    cell = size / CELLS_UP
    own = samples[samples[:, 2] <= low + slab * cell]
    index = cells_of(own, cell)
    shape = high_of(index) + 1
    if shape[:2].max() > WIDEST:
        return None
    number = _connected(index, shape)
    order = np.argsort(number, kind="stable")
    own, number = own[order], number[order]
    first = np.flatnonzero(np.diff(number, prepend=-1))
    columns = np.ascontiguousarray(own.T)
    lowest, highest = (np.ascontiguousarray(end.reduceat(columns, first, axis=1).T) for end in (np.minimum, np.maximum))
    return Parts(own, first, lowest, highest)


def _connected(index: IntArray, shape: IntArray) -> IntArray:
    """(n,) a number for each cell ``index`` (n, 3), the same for cells that are connected by their sides."""
    grid = np.full(shape, -1, np.int64)
    grid[tuple(index.T)] = 0
    filled = grid == 0
    grid[filled] = np.arange(np.count_nonzero(filled))
    links = []
    for axis in range(3):
        one, other = np.moveaxis(grid, axis, 0)[:-1], np.moveaxis(grid, axis, 0)[1:]
        both = (one >= 0) & (other >= 0)
        links.append(np.stack([one[both], other[both]], axis=1))
    label = join(int(np.count_nonzero(filled)), np.concatenate(links))
    return np.asarray(label[grid[tuple(index.T)]], np.int64)
