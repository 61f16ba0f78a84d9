"""The face seen from the side: its outline in the middle."""

import numpy as np

from ...figure import FloatArray, IntArray
from ..points.sample import along, plane_cut

CUTS = np.array([-0.031, 0.0017, 0.033])
"""Where a head is cut near its middle, in widths from it: unevenly, since many a mesh has edges in its mirror plane."""
CUT_POINTS = 150
"""Points to the head's width along a cut."""
BINS = 200
"""Levels in which an outline is looked at where nothing else is asked for."""


def cuts(framed: FloatArray, faces: IntArray, side: float, width: float) -> FloatArray:
    """Points (n, 3) of three cuts near the middle of the head."""
    values = side + width * CUTS
    return np.concatenate([along(plane_cut(framed, faces, 0, value), width / CUT_POINTS) for value in values])


def front_line(points: FloatArray, low: float, high: float, bins: int = BINS) -> tuple[FloatArray, FloatArray]:
    """Heights (k,) and how far forward the outline reaches there (k,)."""
    bins = max(bins, 0)
    inside = points[(points[:, 2] >= low) & (points[:, 2] <= high)][: None if bins else 0]
    index = np.minimum(((inside[:, 2] - low) / max(high - low, 1e-12) * bins).astype(int), bins - 1)
    front = np.full(bins, -np.inf)
    np.maximum.at(front, index, inside[:, 1])
    heights = low + (np.arange(bins) + 0.5) * (high - low) / max(bins, 1)
    seen = np.isfinite(front)
    return heights[seen], front[seen]
