"""What a chin on the outline tells: where its rounding goes on, where its underside falls, where a round head sits on the body."""

import numpy as np

from ...figure import FloatArray
from ...findings import Reading
from .chin_touch import BLUR, ChinFit
from .side_outline import front_line

OUTLINE = "outline of the chin"
MEETS_BODY = "where the head meets the body in front"

HIGHER, LOWER = 0.1, 0.3
"""Where a rounding was followed down under what is really there, the chin is told higher than its end by the first share of
that way, and may lie lower by the second. Our choice."""
TURNED, UP_TO_BEND = 0.2, 0.3
"""Where the chin was touched from further than the first off straight below, in radians, it may be meant higher by the second
share of the way up to where the face turns under. Our choice."""
FALL = 0.35
"""Where an underside falls from the chin to the neck, the chin may be meant lower by this share of the way. Our choice."""

STEEP = np.radians(10.0)
"""An underside that falls towards the body more steeply than this has no chin of its own."""
OVER_NOTCH = 0.02
"""A chin no further over the notch than this, in heads, has no underside to speak of. Our choice."""
LEVELS = 24
"""Levels in which an underside is looked at."""
FROM_NOTCH = 0.004
"""It is looked at from so far over the notch, in heads."""
FEWEST_SEEN = 6
"""Levels that show whether it is hollow."""
HOLLOW = 0.012
"""It is hollow where it lies behind the straight way from notch to chin by this share of the head. Our choice."""
SEATED_HIGHER = 0.7
"""A seated head may be meant to end higher by this share of the way to where it is touched. Our choice."""


def from_outline(fit: ChinFit, size: float) -> Reading:
    """A chin that was touched straight from below is exact; else its rounding was followed down.

    Where an almost level underside is lowest behind its front end, either may be meant: a little under
    the front end is told.
    """
    hidden = max(fit.touched - fit.height, 0.0)
    height = fit.height + (0.0 if fit.ball else HIGHER * hidden)
    low = min(fit.height - LOWER * hidden, fit.touched, fit.height - FALL * (fit.height - fit.notch)) - BLUR * size
    high = max(fit.touched, fit.height) + BLUR * size + (UP_TO_BEND * (fit.bend - fit.touched) if fit.turn > TURNED else 0.0)
    return Reading(OUTLINE, height, low, high)


def is_seated(outline: FloatArray, fit: ChinFit, size: float) -> bool:
    """True when the underside runs down to the body straight or bulging, as a ball's does.

    Under a face that turns to a neck the outline (n, 3) is hollow there.
    """
    if fit.turn < STEEP or fit.touched < fit.notch + OVER_NOTCH * size:
        return False
    heights, front = front_line(outline, fit.notch + FROM_NOTCH * size, fit.touched, LEVELS)
    if len(heights) < FEWEST_SEEN:
        return False
    chord = np.interp(heights, [heights[0], heights[-1]], [front[0], front[-1]])
    return bool((front - chord).min() > -HOLLOW * size)


def seated(fit: ChinFit, size: float) -> Reading:
    """A round head that sits on the body ends where the two meet in front."""
    reach = max(fit.touched - fit.notch, 0.0)
    return Reading(MEETS_BODY, fit.notch, fit.notch - BLUR * size, fit.notch + BLUR * size + SEATED_HIGHER * reach)
