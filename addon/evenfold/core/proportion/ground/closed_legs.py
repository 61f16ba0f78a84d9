"""Legs held together in one cross-section: the feet under them tell them from a bust's stand. Shares of the figure's height."""

import numpy as np

from ...extents import high_of, low_of
from ...figure import FloatArray

FOOT, SHIN = 0.04, (0.08, 0.14)
"""Feet lie below the first, shins between the others. Our choice."""
SLIM = 0.2
"""Shins together are no wider than this, nor deeper. Our choice."""
LONGER, AHEAD = 1.3, 0.02
"""Feet are longer than the shins are deep by the first, and their middle lies ahead of the shins' by the second. Our choice."""
WIDER, HEEL = 1.6, 0.015
"""Feet are together no wider than the shins by the first, and begin no further ahead of the shins' back than the second. Our choice."""
FEWEST = 4
"""Of fewer points nothing is told."""


def on_closed_legs(samples: FloatArray, span: float) -> bool:
    """True where samples (n, 3) of a surface show slim shins over feet that stick out to one side alone.

    ``span`` is the figure's height; the samples need not reach to its top.
    """
    rise = (samples[:, 2] - samples[:, 2].min()) / span
    foot, shin = (samples[here, :2] / span for here in (rise < FOOT, (rise > SHIN[0]) & (rise < SHIN[1])))
    if min(len(foot), len(shin)) < FEWEST:
        return False
    ends = np.array([[low_of(foot), high_of(foot)], [low_of(shin), high_of(shin)]])
    (foot_size, shin_size), (foot_middle, shin_middle) = np.diff(ends, axis=1)[:, 0], ends.mean(axis=1)
    ahead = foot_middle - shin_middle
    way = int(np.argmax(np.abs(ahead)))
    heel = (ends[0] - ends[1])[0 if ahead[way] > 0 else 1, way] * np.sign(ahead[way])
    return bool(
        shin_size.max() < SLIM and foot_size[way] > LONGER * shin_size[way] and abs(ahead[way]) > AHEAD
        and foot_size[1 - way] < WIDER * shin_size[1 - way] and heel < HEEL
    )
