"""What is seen of several things by someone who stands in front of the figure."""

from functools import reduce

import numpy as np

from ...figure import FloatArray, IntArray
from ..points.sample import dense

COLUMNS = 31
"""Columns of cells from side to side, the middle one on the middle plane."""
MOST_ROWS = 3000
"""What is far higher than wide is looked at in no more rows than this: it is no head."""
FINER = 1.5
"""So many samples to a cell's side, so that none is missed."""


def shown_from_front(
    framed: FloatArray, faces: IntArray, owner: IntArray, side: float, reach: float, span: tuple[float, float]
) -> tuple[IntArray, FloatArray, FloatArray]:
    """(k,) the owner seen from the front in each cell near the middle, the cell's height, and how far forward it is."""
    step = max(2 * reach / (COLUMNS - 1), (span[1] - span[0]) / MOST_ROWS)
    rows = int(np.ceil((span[1] - span[0]) / step)) + 1
    best = np.full((COLUMNS, rows), -np.inf)
    seen = np.full((COLUMNS, rows), -1, np.int64)
    beside, level = ([values[corner] for corner in faces.T] for values in (framed[:, 0] - side, framed[:, 2]))
    near = (reduce(np.minimum, beside) < reach) & (reduce(np.maximum, beside) > -reach)
    near &= (reduce(np.maximum, level) > span[0]) & (reduce(np.minimum, level) < span[1])
    faces, owner = faces[near], owner[near]
    for number in np.unique(owner):
        used, compact = np.unique(faces[owner == number], return_inverse=True)
        spots = dense(framed[used], compact.reshape(-1, 3), step / FINER)
        spots = spots[(np.abs(spots[:, 0] - side) < reach) & (spots[:, 2] > span[0]) & (spots[:, 2] < span[1])]
        place = ((spots[:, 0] - side + reach) / step).astype(int) * rows + ((spots[:, 2] - span[0]) / step).astype(int)
        front = np.full((COLUMNS, rows), -np.inf)
        np.maximum.at(front.reshape(-1), place, spots[:, 1])
        ahead = front > best
        best[ahead], seen[ahead] = front[ahead], number
    rise = np.broadcast_to(np.arange(rows) * step, seen.shape)
    known = np.isfinite(best)
    return seen[known], rise[known].astype(float), best[known]
