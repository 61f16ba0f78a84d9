"""The host's KD-tree behind the core's small interface."""

from collections import deque
from itertools import count, repeat

import numpy as np
from mathutils.kdtree import KDTree

from ..core.figure import FloatArray, IntArray
from ..core.pairing.grid import length, rows


class KDFinder:
    """Stores (n, 3) finite points; see core.nearest for what ``query`` promises.

    The tree works in single precision, so distances are taken anew in double precision.
    """

    def __init__(self, points: FloatArray) -> None:
        self._points = np.asarray(points, np.float64).reshape(-1, 3)
        self._tree = KDTree(len(self._points))
        deque(map(self._tree.insert, self._points.tolist(), count()), maxlen=0)
        self._tree.balance()

    def query(self, points: FloatArray, k: int) -> tuple[FloatArray, IntArray]:
        """Distances (q, k), inf-padded, and indices (q, k), -1-padded, nearest first."""
        asked = np.asarray(points, np.float64).reshape(-1, 3)
        known = min(k, len(self._points))
        indices = np.full((len(asked), k), -1, np.int64)
        distances = np.full((len(asked), k), np.inf)
        if not known or not len(asked):
            return distances, indices
        near = self._nearest(asked.tolist(), known)
        apart = np.empty(near.shape)
        for column, numbers in enumerate(near.T):
            apart[:, column] = length(rows(self._points, numbers) - asked)
        if known > 1:
            order = np.argsort(apart, axis=1, kind="stable")
            apart, near = np.take_along_axis(apart, order, 1), np.take_along_axis(near, order, 1)
        distances[:, :known], indices[:, :known] = apart, near
        return distances, indices

    def _nearest(self, asked: list[list[float]], k: int) -> IntArray:
        """(q, k) numbers of the stored points nearest to each of the asked; k of them exist."""
        if k == 1:
            numbers = (hit[1] for hit in map(self._tree.find, asked))
        else:
            numbers = (hit[1] for hits in map(self._tree.find_n, asked, repeat(k)) for hit in hits)
        return np.fromiter(numbers, np.int64, len(asked) * k).reshape(-1, k)
