"""Front from back by the head: a chin stands out over the neck more, and lower, than the back of the head over the nape."""

import numpy as np

from ...figure import FloatArray
from ..parts.body import BoolArray

ROWS = 150
"""Rows to the figure's height."""
UPPER = 0.35
"""Chin and nape lie over this share of the height. Our choice."""
FEWEST = ROWS // 3
"""With fewer rows than this in an outline nothing is told."""
RISE, TOP = 3, 12
"""An outline stands out by what it comes forward over so many rows; over the topmost, one in so many of all, a head goes
back. Our choice."""
NEAR_MOST = 0.7
"""A chin is where the outline first stands out by this share of the most. Our choice."""
MORE = 0.02
"""What stands out in front by so much more than behind, in heights of the figure, says all it can. Our choice."""
JUTS = 0.004
"""A chin and the back of a head both stand out by this share of the height where they are compared."""
HEAD = 0.18
"""Further apart than this, in heights, what stands out in front and behind is not one head's. Our choice."""
LOWER, COUNTS = 0.02, 1.5
"""A chin that hangs lower than the nape by the first share of the height tells the front; it counts so many times as much as one that
stands out more. Our choice."""


def overhang(deep: FloatArray, height: FloatArray, near: BoolArray, low: float, size: float) -> float:
    """From -1 to 1: does a chin stand out over a neck more, and lower, in front than behind?

    Of points whose place from back to front is ``deep`` and whose ``height`` is (n,), those ``near`` (n,) the middle
    are looked at; ``low`` is the figure's lowest and ``size`` its height.
    """
    near = near & (height > low + UPPER * size)
    row = np.clip(((height[near] - low) / size * ROWS).astype(int), 0, ROWS - 1)
    juts, levels = [], []
    for sign in (1.0, -1.0):
        line = np.full(ROWS, -np.inf)
        np.maximum.at(line, row, sign * deep[near])
        known = np.flatnonzero(np.isfinite(line))
        if len(known) < FEWEST:
            return 0.0
        line = _closed(np.interp(np.arange(known[0], known[-1] + 1), known, line[known]))
        rise = (line[RISE:] - line[:-RISE])[: -ROWS // TOP]
        juts.append(float(rise.max()) / size)
        levels.append(int(np.argmax(rise >= NEAR_MOST * rise.max())))
    found = float(np.clip((juts[0] - juts[1]) / MORE, -1, 1))
    apart = levels[1] - levels[0]
    is_one_head = min(juts) > JUTS and abs(apart) < HEAD * ROWS
    lower = float(np.clip(apart / (LOWER * ROWS), -1, 1)) if is_one_head else 0.0
    return float(np.clip(found + COUNTS * lower, -1, 1))


def _closed(line: FloatArray) -> FloatArray:
    """An outline without the gaps of a few rows in which samples were missing."""
    window = np.lib.stride_tricks.sliding_window_view
    grown = window(np.pad(line, 2, constant_values=-np.inf), 5).max(axis=1)
    return np.asarray(window(np.pad(grown, 2, constant_values=np.inf), 5).min(axis=1), float)
