"""The middle of a figure, or of a head, from side to side."""

import numpy as np

from ...figure import FloatArray

ROWS, HEAD_ROWS = 40, 24
"""Rows in which a figure's two sides are looked at, and a head's."""
BROAD, WIDTH = 40, 85
"""Percentiles of the widths of a head's rows: rows over the first tell its middle, the second is its width, which single
things that stand out do not reach. Our choice."""


def middle_of(framed: FloatArray) -> float:
    """The figure's middle from side to side, by the extents of many rows."""
    low, span = float(framed[:, 2].min()), float(np.ptp(framed[:, 2])) or 1.0
    left, right = _ends(framed, low, span, ROWS)
    seen = left > right
    return float(np.median((left[seen] + right[seen]) / 2)) if seen.any() else float(np.median(framed[:, 0]))


def middle_and_width(points: FloatArray) -> tuple[float, float]:
    """The middle plane and the width of a head, not moved by one-sided things on it."""
    low, high = points[:, 2].min(), points[:, 2].max()
    left, right = _ends(points, low, max(high - low, 1e-12), HEAD_ROWS)
    seen = left > right
    if not seen.any():
        return float(points[:, 0].mean()), float(high - low) or 1.0
    left, right = left[seen], right[seen]
    width = left - right
    broad = width >= np.percentile(width, BROAD)
    return float(np.median(((left + right) / 2)[broad])), float(np.percentile(width, WIDTH))


def _ends(points: FloatArray, low: float, span: float, rows: int) -> tuple[FloatArray, FloatArray]:
    """(rows,) how far points (n, 3) reach to the left and to the right in each row of their height; infinite the wrong way in empty ones."""
    row = np.minimum(((points[:, 2] - low) / span * rows).astype(int), rows - 1)
    left, right = np.full(rows, -np.inf), np.full(rows, np.inf)
    np.maximum.at(left, row, points[:, 0])
    np.minimum.at(right, row, points[:, 0])
    return left, right
