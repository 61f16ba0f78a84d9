"""The ledge on the outline of a face: where the chin first stands forward over the neck, and the notch under it."""

import numpy as np

from ...figure import FloatArray
from ..parts.body import BoolArray
from .side_outline import front_line

STEP = 0.006
"""The outline is looked at in steps of this share of the head."""
WINDOW = 0.05
"""A ledge rises forward within this share of the head's height."""
WINDOW_STEPS = round(WINDOW / STEP)
MOST_STEPS = 5000
"""No outline of a head has so many; heights that far apart are no chin's."""
FEWEST_SEEN = 8
"""An outline seen in fewer steps shows no ledge."""

LEDGE = 0.045
"""A ledge rises forward by at least this share of the head within WINDOW of its height."""
OF_HIGHEST = 0.3
"""The first that rises by this share of the highest one is the ledge. Our choice."""
CLIFF = 0.04
"""Over an outline that has ended below, a ledge rises by this share of the head within two steps. Our choice."""
BROAD, FROM_END = 0.08, 0.6
"""Or by the first share within WINDOW, beginning within the second of the way forward from the end to where it reaches;
else the end itself is the notch. Our choice."""
END_STEPS = 4
"""What reaches forward within so many steps over the end is a stump. Our choice."""

OVER_LEDGE = 0.35
"""So far over the heights asked for a ledge may reach, in heads. Our choice."""
BEHIND_ALL = 0.5
"""Where the outline has ended, it counts as so far behind its middle, in heads, no further back than any point. Our choice."""
GAP = 0.6
"""So many steps under the lowest place seen, the outline has ended."""
LEVEL = 0.35
"""The notch lies where the outline comes forward by less than this share of a step for each step up. Our choice."""
FACE_OVER = 0.2
"""How far the face reaches is looked at within this share of the head over the notch. Our choice."""
CORNER_STEPS, CORNER_LEVELS = 2, 24
"""The corner over a notch is looked for within so many steps, in so many levels."""
LEAVES = 0.15
"""It is where the outline leaves the notch by this share of a step."""


def find_ledge(points: FloatArray, low: float, high: float, size: float) -> tuple[float, float, float] | None:
    """Where the outline first stands forward over what is below it: the chin over the neck.

    Returns the height and forward place of the notch under the ledge, and how far forward the
    outline reaches over it; None where nothing stands out between ``low`` and ``high``. Where
    the points end, there is nothing below.
    """
    step = STEP * size
    span = high + OVER_LEDGE * size - low
    if not WINDOW_STEPS * step < span < MOST_STEPS * step:
        return None
    count = int(np.ceil(span / step))
    heights, seen = front_line(points, low, low + count * step, count)
    if len(seen) < FEWEST_SEEN:
        return None
    levels = low + (np.arange(count) + 0.5) * step
    front = np.interp(levels, heights, seen)
    back = float(np.median(seen)) - BEHIND_ALL * size
    ended = levels < heights[0] - GAP * step
    front = np.where(ended, max(back, float(points[:, 1].min())), front)
    peak = _ledge(front, levels <= high, ended, size)
    if peak is None:
        return None
    notch = _notch(front, peak, step)
    reach = front[notch : notch + round(FACE_OVER / STEP)]
    return float(levels[notch]), float(front[notch]), float(reach.max())


def corner_over(points: FloatArray, notch: float, back: float, size: float) -> float:
    """How high over the ``notch`` of ``find_ledge`` the outline (n, 3) still lies no further forward than ``back``."""
    reach = CORNER_STEPS * STEP * size
    heights, front = front_line(points, notch, notch + reach, CORNER_LEVELS)
    ahead = np.flatnonzero(front > back + LEAVES * STEP * size)
    return notch if not len(ahead) else float(heights[ahead[0]]) - 0.5 * reach / CORNER_LEVELS


def _notch(front: FloatArray, peak: int, step: float) -> int:
    """The step over which the outline (k,) comes forward at once, next to the ledge that begins at ``peak``."""
    notch = peak
    while notch > 0 and (front[notch] - front[notch - 1]) > LEVEL * step:
        notch -= 1
    while notch < peak + WINDOW_STEPS - 1 and front[notch + 1] - front[notch] <= LEVEL * step:
        notch += 1
    return notch


def _ledge(front: FloatArray, allowed: BoolArray, ended: BoolArray, size: float) -> int | None:
    """The step at which the first ledge begins; where the outline ends counts if nothing is steeper."""
    rise = np.where(allowed[:-WINDOW_STEPS], front[WINDOW_STEPS:] - front[:-WINDOW_STEPS], -np.inf)
    real = np.where(ended[: len(rise)], -np.inf, rise)
    end = int(ended.sum())
    real[: end + 1] = -np.inf
    if ended.any() and end < len(rise):
        sudden = front[2 : 2 + len(rise)] - front[: len(rise)]
        stump = front[end : end + END_STEPS].max()
        steep = (sudden >= CLIFF * size) & np.isfinite(real)
        wide = (real >= BROAD * size) & (front[:len(real)] - front[0] < FROM_END * (front[WINDOW_STEPS:] - front[0]))
        if not (steep | wide).any() or stump - front[0] <= 0:
            return max(end - 1, 0)
        real = np.where(steep | wide, real, -np.inf)
    if real.max() < LEDGE * size:
        return None
    first = int(np.argmax(real >= max(LEDGE * size, OF_HIGHEST * real.max())))
    return first + int(np.argmax(real[first : first + WINDOW_STEPS]))
