"""Arms that hang against a gown to the ground: they tell a whole figure whose legs are hidden from a bust."""

import numpy as np

from ...figure import FloatArray, IntArray

LEVELS = 50
"""Levels to the figure's height."""
HEM = 3
"""The hem is the widest of so many lowest levels: a gown may turn in below it. Our choice."""
LOW, HIGH = 5, 26
"""Hands end between these levels."""
FLARE, STRAIGHT = 1.05, 0.01
"""A gown is wider at its hem than under the hands by the first, and on no level wider than on those below by more than the
second, in heights. Our choice."""
STEP, WIDEST = 0.012, 0.5
"""Each hand stands out over the gown by the first, in heights, and both together by less than the second, in widths of the
gown: a bust's shoulders stand out further over what it stands on. Our choice."""
THIN, CLEAR = 0.6, 0.25
"""What stands out further than the gown by the second share of that step is less deep than the first of all on its level. Our choice."""
LONG = 3
"""Arms go on up for so many levels. Our choice."""


def hides_legs(samples: FloatArray, span: float) -> bool:
    """True where samples (n, 3) of a surface narrow from the ground up to where something thin stands out on both sides.

    ``span`` is the figure's height; the samples need not reach to its top.
    """
    if span <= 0 or not len(samples):
        return False
    level = np.minimum(((samples[:, 2] - samples[:, 2].min()) / span * LEVELS).astype(np.int64), HIGH + LONG)
    low, high = np.full(HIGH + LONG + 1, np.inf), np.full(HIGH + LONG + 1, -np.inf)
    np.minimum.at(low, level, samples[:, 0])
    np.maximum.at(high, level, samples[:, 0])
    if not (np.isfinite(low[:-1]).all() and np.isfinite(high[:-1]).all()):
        return False
    hem = int(np.argmax((high - low)[:HEM]))
    side = float(low[hem] + high[hem]) / 2
    for hand, reach in ((-1, side - low), (1, high - side)):
        end = _end(reach[hem:-1] / span)
        if end is None or not _is_arm(samples, level, (side, hand), hem + end, reach, span):
            return False
    return True


def _end(reach: FloatArray) -> int | None:
    """The last level under a step out of a ``reach`` (k,) to one side, in heights, that only narrows up to there; None without."""
    for level in range(1, len(reach) - 2):
        if reach[level + 1 : level + 3].max() > reach[level] + STEP:
            narrows = bool((np.diff(reach[: level + 1]) <= STRAIGHT).all()) and reach[0] >= FLARE * reach[level]
            return level if narrows and LOW <= level <= HIGH - 2 else None
    return None


def _is_arm(
    samples: FloatArray, level: IntArray, way: tuple[float, int], end: int, reaches: FloatArray, span: float
) -> bool:
    """True where what stands out over the ``end`` level on one side is thin, and goes on up."""
    side, hand = way
    reach = float(reaches[end])
    if not STEP * span < float(reaches[end + 1 : end + 1 + LONG].max()) - reach < WIDEST * reach:
        return False
    for one in range(end + 2, end + 2 + LONG):
        here = samples[level == one]
        apart = here[hand * (here[:, 0] - side) > reach + CLEAR * STEP * span]
        if not len(apart) or np.ptp(apart[:, 1]) > THIN * np.ptp(here[:, 1]):
            return False
    return True
