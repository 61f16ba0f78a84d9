"""Front from back where a figure's sides are known: what feet, chin and small things such as eyes say."""

import numpy as np

from ...figure import FloatArray
from ..ground.standing import foot_parts
from ..parts.painted import Painted
from .by_paint import vote_of_paint
from .front_feet import feet_on_the_ground, feet_over_tails
from .overhang import overhang

HABIT = 0.3
"""A little speaks for -Y where nothing else tells front from back: common practice, no source."""
DETAILS, CHIN = 1.5, 0.7
"""How much small things and a chin count beside feet, which count 1. Of 729 invented figures small things pointed
backward in 4, a chin in 166: hair over a nape stands out as well."""
PAINT = 0.8
"""How much the paint counts beside them: of 199 sculpted figures with hair it spoke clearly for the front in 137, for the
back in 16, most of them with hair that comes through a hat behind."""
FEW = 12
"""Of so many small things most are eyes and the like; of more, hair and buttons. Our choice."""
MIDDLE = 0.025
"""No further than this from the middle, in heights, the outline of chin and nape is looked at, and further out the feet. Our choice."""
SMALL_UP, AROUND, FEWEST_AROUND = 0.4, (0.06, 0.03), 3
"""Small things such as eyes lie over the first share of the height. What is around one, to the side and up by the second shares, tells
whether it lies in front, unless there are but so many points. Our choice."""
SURE = 2
"""Where they lie is counted so many times, of half the depth around: eyes half-way to the front say all they can. Our choice."""
FEWEST = 60
"""Fewer samples than this tell no facing."""


def level_axes(up: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Two level unit directions; the second is -Y where that is level."""
    ahead = np.array([0.0, -1.0, 0.0])
    ahead = ahead - up * (ahead @ up)
    if np.linalg.norm(ahead) < 1e-6:
        ahead = np.array([1.0, 0.0, 0.0])
    ahead = ahead / np.linalg.norm(ahead)
    return np.cross(up, ahead), ahead


def vote_for(
    points: FloatArray, up: FloatArray, forward: FloatArray, small: FloatArray | None, painted: Painted | None = None
) -> float:
    """How much the shape of points (n, 3) speaks for facing ``forward`` (3,), below zero for the opposite.

    ``small`` (k, 3) are the middles of small pieces, such as eyes; ``painted`` is the surface of the figure's upper half.
    """
    size = float(np.ptp(points @ up)) if len(points) >= FEWEST else 0.0
    if size <= 0:
        return 0.0
    axes = np.stack([np.cross(up, forward), forward, up])
    side, deep, height = axes @ points.T
    vote = HABIT * float(forward @ level_axes(up)[1])
    vote += DETAILS * _details(deep, side, height, small @ axes.T) if small is not None and len(small) else 0.0
    vote += PAINT * vote_of_paint(painted, up, forward) if painted is not None else 0.0
    found = foot_parts(np.column_stack([side, deep, height]), float(np.median(side)), size)
    away = side - np.median(side)
    feet = feet_over_tails(found[0], size) if found is not None and found[1] else feet_on_the_ground(deep, away, height, size, MIDDLE * size)
    return vote + feet + CHIN * overhang(deep, height, np.abs(away) < MIDDLE * size, height.min(), size)


def _details(deep: FloatArray, side: FloatArray, height: FloatArray, small: FloatArray) -> float:
    """From -1 to 1: are the small things (k, 3: side, deep, height) in front or behind? Eyes and
    mouths are in front; ears are beside the middle and say nothing."""
    low, size = float(height.min()), float(np.ptp(height))
    votes = []
    for across, place, level in small[small[:, 2] > low + SMALL_UP * size]:
        around = deep[(np.abs(side - across) < AROUND[0] * size) & (np.abs(height - level) < AROUND[1] * size)]
        if len(around) > FEWEST_AROUND and np.ptp(around) > 0:
            votes.append(2 * (place - around.min()) / float(np.ptp(around)) - 1)
    return min(FEW / len(votes), 1.0) * float(np.clip(SURE * np.mean(votes), -1, 1)) if votes else 0.0
