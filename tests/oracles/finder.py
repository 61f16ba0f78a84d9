"""scipy's KD-tree behind the core's small interface."""

import numpy as np
from scipy.spatial import cKDTree


class ScipyFinder:
    def __init__(self, points):
        self.count = len(points)
        self.tree = cKDTree(points) if self.count else None

    def query(self, points, k):
        if self.tree is None:
            return np.full((len(points), k), np.inf), np.full((len(points), k), -1)
        distance, at = self.tree.query(points, k=list(range(1, k + 1)))
        return distance, np.where(at == self.count, -1, at)
