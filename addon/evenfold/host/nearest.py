"""The host's KD-tree behind the core's small interface."""

import numpy as np
from mathutils.kdtree import KDTree

from ..core.figure import FloatArray, IntArray


class KDFinder:
    """Stores (n, 3) finite points; see core.nearest for what ``query`` promises.

    The tree works in single precision, so distances are taken anew in double precision.
    """

    def __init__(self, points: FloatArray) -> None:
        self._points = np.asarray(points, np.float64).reshape(-1, 3)
        self._tree = KDTree(len(self._points))
        for index, point in enumerate(self._points.tolist()):
            self._tree.insert(point, index)
        self._tree.balance()

    def query(self, points: FloatArray, k: int) -> tuple[FloatArray, IntArray]:
        """Distances (q, k), inf-padded, and indices (q, k), -1-padded, nearest first."""
        asked = np.asarray(points, np.float64).reshape(-1, 3)
        indices = np.full((len(asked), k), -1, np.int64)
        for row, point in enumerate(asked.tolist()):
            found = [hit[1] for hit in self._tree.find_n(point, k)]
            indices[row, : len(found)] = found
        if not len(self._points):
            return np.full(indices.shape, np.inf), indices
        distances = np.linalg.norm(self._points[indices] - asked[:, None], axis=2)
        distances[indices < 0] = np.inf
        order = np.argsort(distances, axis=1, kind="stable")
        return np.take_along_axis(distances, order, 1), np.take_along_axis(indices, order, 1)
