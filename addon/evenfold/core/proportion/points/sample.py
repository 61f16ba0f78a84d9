"""Even samples of triangles, and heights of what they show."""

from functools import reduce

import numpy as np

from ...extents import lengths_of
from ...figure import FloatArray, IntArray

FEWEST_POINTS = 4
"""Fewer points than this have no volume: they are no figure."""
MOST_CUTS, MOST_STEPS = 48, 200
"""An edge is cut into so many parts at most, a segment into so many: the time and the memory are bounded so."""
MOST_SAMPLES = 2e6
"""Samples of one surface: more tell nothing more of a figure, and shapes of noise would ask for them."""


def dense(points: FloatArray, triangles: IntArray, step: float) -> FloatArray:
    """The points and more on their triangles, no further apart than about ``step``, unless that were too many."""
    return dense_near(points, triangles, step)[0]


def dense_near(points: FloatArray, triangles: IntArray, step: float) -> tuple[FloatArray, IntArray]:
    """The same, and for each sample (n,) the row of a point that it is near."""
    rows = np.arange(len(points))
    if not len(triangles):
        return points, rows
    corners = points[triangles]
    longest = reduce(np.maximum, (lengths_of(corners[:, one] - corners[:, one - 1]) for one in range(3)))
    cuts = np.clip(np.ceil(longest / max(step, 1e-12)), 1, MOST_CUTS).astype(int)
    total = float(((cuts + 1.0) * (cuts + 2.0) / 2).sum())
    if total > MOST_SAMPLES:
        cuts = np.maximum((cuts * np.sqrt(MOST_SAMPLES / total)).astype(int), 1)
    made, near = [points], [rows]
    for count in np.unique(cuts[cuts > 1]):
        first, second = np.divmod(np.arange((count + 1) ** 2), count + 1)
        keep = (first + second <= count) & (np.maximum(np.maximum(first, second), count - first - second) < count)
        shares = np.stack([first, second, count - first - second], axis=1)[keep] / count
        own = cuts == count
        made.append(np.matmul(shares, corners[own]).reshape(-1, 3))
        near.append(np.repeat(triangles[own, 0], len(shares)))
    return np.concatenate(made), np.concatenate(near)


def plane_cut(points: FloatArray, triangles: IntArray, axis: int, value: float) -> FloatArray:
    """Segments (s, 2, 3) where triangles cross the plane coordinate ``axis`` = ``value``."""
    corners = points[triangles]
    distance = corners[:, :, axis] - value
    distance = np.where(distance == 0, 1e-12, distance)
    found: list[FloatArray] = []
    ends = np.full((len(triangles), 3, 3), np.nan)
    for side in range(3):
        other = (side + 1) % 3
        a, b = distance[:, side], distance[:, other]
        crossing = a * b < 0
        share = (a[crossing] / (a[crossing] - b[crossing]))[:, None]
        ends[crossing, side] = corners[crossing, side] * (1 - share) + corners[crossing, other] * share
    rows = np.isfinite(ends[:, :, 0])
    whole = rows.sum(axis=1) == 2
    if whole.any():
        found.append(ends[whole][rows[whole]].reshape(-1, 2, 3))
    return found[0] if found else np.zeros((0, 2, 3))


def along(segments: FloatArray, step: float) -> FloatArray:
    """Points (n, 3) along segments, about ``step`` apart."""
    if not len(segments):
        return np.zeros((0, 3))
    length = np.linalg.norm(segments[:, 1] - segments[:, 0], axis=1).max()
    count = int(np.clip(np.ceil(length / max(step, 1e-12)), 1, MOST_STEPS))
    shares: FloatArray = np.linspace(0.0, 1.0, count + 1).reshape(1, -1, 1)
    first, last = segments[:, :1], segments[:, 1:]
    points: FloatArray = first + shares * (last - first)
    return points.reshape(-1, 3)
