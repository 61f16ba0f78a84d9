"""The middle of a figure from side to side."""

import numpy as np

from ...figure import FloatArray


def middle_of(framed: FloatArray) -> float:
    """The figure's middle from side to side, by the extents of many rows."""
    low, span = float(framed[:, 2].min()), float(np.ptp(framed[:, 2])) or 1.0
    row = np.minimum(((framed[:, 2] - low) / span * 40).astype(int), 39)
    left, right = np.full(40, -np.inf), np.full(40, np.inf)
    np.maximum.at(left, row, framed[:, 0])
    np.minimum.at(right, row, framed[:, 0])
    seen = left > right
    return float(np.median((left[seen] + right[seen]) / 2)) if seen.any() else float(np.median(framed[:, 0]))
