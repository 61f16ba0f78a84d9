"""Strips along the middle of a head, where face and skull are looked at."""

import numpy as np

from ..figure import FloatArray
from .head.region import Head
from .parts.body import BoolArray

WITHIN_HALF = 0.25
"""The middle half of the head: so far to each side, in widths of the head. Our choice."""
WITHIN_QUARTER = 0.12
"""Its middle quarter, the same way. Our choice."""


def in_middle(points: FloatArray, head: Head, reach: float) -> BoolArray:
    """(n,) which of points (n, 3) lie no further than ``reach`` from the head's middle plane, in widths of the head."""
    return np.asarray(np.abs(points[:, 0] - head.side) < reach * head.width, bool)
