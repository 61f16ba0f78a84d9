"""Separate pieces of a mesh: what hangs together after welding by place."""

import numpy as np

from ...extents import count_of, high_of, least_of, lengths_of, low_of
from ...figure import FloatArray, IntArray

GRID = 4096
"""Cells of a level are numbered row by row, so many to a row: more than a figure spreads over."""


def weld(points: FloatArray, step: float) -> IntArray:
    """(n,) one number for all points that share a place to within ``step``."""
    cell = np.round((points - low_of(points)) / max(step, 1e-300)).astype(np.int64)
    spread = high_of(cell) + 1
    key = (cell[:, 0] * spread[1] + cell[:, 1]) * spread[2] + cell[:, 2]
    return np.unique(key, return_inverse=True)[1].reshape(-1).astype(np.int64)


def join(count: int, links: IntArray) -> IntArray:
    """(count,) the lowest number each thing hangs together with by the rows of ``links`` (k, m)."""
    label = np.arange(count)
    while len(links):
        roots = label[links]
        least = least_of(roots)
        moved = roots != least[:, None]
        if not moved.any():
            break
        np.minimum.at(label, roots[moved], np.repeat(least, count_of(moved)))
        while True:
            shorter = label[label]
            if (shorter == label).all():
                break
            label = shorter
    return label


def label_pieces(points: FloatArray, triangles: IntArray, step: float) -> IntArray:
    """(n,) the piece each point belongs to, 0 upward; triangles join what they touch."""
    if not len(points):
        return np.zeros(0, np.int64)
    place = weld(points, step)
    label = join(int(place.max()) + 1, place[triangles])
    return np.unique(label[place], return_inverse=True)[1].reshape(-1).astype(np.int64)


def boxes_of(points: FloatArray, piece: IntArray, count: int) -> tuple[FloatArray, FloatArray]:
    """(count, m) lowest and highest coordinates of each piece's points (n, m); infinite the wrong way where it has none."""
    low, high = np.full((points.shape[1], count), np.inf), np.full((points.shape[1], count), -np.inf)
    for column, values in enumerate(points.T):
        np.minimum.at(low[column], piece, values)
        np.maximum.at(high[column], piece, values)
    return np.ascontiguousarray(low.T), np.ascontiguousarray(high.T)


def areas(points: FloatArray, triangles: IntArray) -> FloatArray:
    """(t,) area of each triangle."""
    corners = points[triangles]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return np.asarray(lengths_of(across) / 2, float)
