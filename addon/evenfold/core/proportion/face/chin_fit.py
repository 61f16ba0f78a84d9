"""The chin over one notch of the outline: its rounding there.

A notch is where the outline lies furthest back under the chin, before a ledge stands forward over it.
"""

from dataclasses import dataclass, replace

import numpy as np

from ...figure import FloatArray
from .ball import end_of_ball
from .chin_touch import BLUR, ChinFit, touch_chin
from .ledge import corner_over, find_ledge
from .side_outline import front_line
from .underside import find_underside

HIGHEST_JOINED, HIGHEST_APART = 0.45, 0.3
"""So far over its lower end the notch under the chin may lie, in heads: of a head that goes on into a neck, and of one apart.
Our choice."""
FACE_OVER = 0.45
"""So much of the face over the notch is looked at, in heads. Our choice."""
UNDER_NOTCH = 0.003
"""And so much under it. Our choice."""
AHEAD_OF = (0.4, 0.25, 0.12)
"""The chin is touched ahead of these shares of the way from the notch to the furthest place of the face. Our choice."""
ONLY_FRONT = np.radians(58.0)
"""What can be touched from no lower than this is no chin."""
LOWER, STRAIGHTER = 0.04, np.radians(20.0)
"""What is touched with more of the face looked at is the chin where it lies lower by the first, in heads, or is touched from
straighter below by the second. Our choice."""
HIDDEN_OF_BALL = 0.15
"""A ball's lowest point lies no further under what is seen of it, in heads. Our choice."""

HIGH_OVER_NOTCH = 0.12
"""A chin further than this above the notch, in heads, may be a muzzle or a nose instead."""
BEHIND_MUZZLE, ROUNDING_OVER = 0.11, 0.14
"""A chin behind a muzzle reaches furthest forward within the first over the notch, in heads, and its rounding is followed
within the second. Our choice."""
LEVELS = 24
"""Levels in which so short an outline is looked at."""
STANDS_OUT = 0.05
"""It stands forward over the notch by this share of the head. Our choice."""
NO_CHIN = np.radians(50.0)
"""What can be touched from no lower than this is no chin behind a muzzle."""


@dataclass(frozen=True)
class FaceOutline:
    """The outline ``points`` (n, 3) of a face seen from the side, of a head from its lower end ``anchor`` to its ``crown``.

    ``joined`` is true where the head goes on into a neck, whose outline is part of it then; its narrowest place
    is the anchor where it is known.
    """

    points: FloatArray
    anchor: float
    crown: float
    joined: bool

    def chin_over(self, floor: float) -> ChinFit | None:
        """The chin's rounding over the first notch above the height ``floor``; None where there is none."""
        size = self.crown - self.anchor
        ledge = find_ledge(self.points, floor, self.anchor + (HIGHEST_JOINED if self.joined else HIGHEST_APART) * size, size)
        if ledge is None:
            return None
        notch, back, face = ledge
        fit = _over_notch(self.points, notch, back, face, size)
        if fit is None:
            return None
        fit = replace(fit, notch=corner_over(self.points, notch, back, size))
        end = end_of_ball(self.points, fit, self.crown, size) if fit.turn > 0 else None
        if end is not None and fit.touched - HIDDEN_OF_BALL * size < end <= fit.touched:
            return replace(fit, height=end, ball=True)
        return fit


def _over_notch(outline: FloatArray, notch: float, back: float, face: float, size: float) -> ChinFit | None:
    """The rounding over a ``notch`` that lies at ``back``, under a ``face`` that reaches so far forward."""
    floor, top = notch - UNDER_NOTCH * size, notch + FACE_OVER * size
    seen = find_underside(outline, floor, top, back, size)
    if seen is not None:
        fall = seen.height - seen.lowest
        return ChinFit(seen.height - min(fall / 2, BLUR * size), seen.lowest, seen.bend, 0.0, seen.forward, notch)
    best: ChinFit | None = None
    for share in AHEAD_OF:
        fit = touch_chin(outline, floor, back + share * (face - back), top, size)
        if fit is None or fit.turn > ONLY_FRONT:
            continue
        if best is None or fit.touched < best.touched - LOWER * size or fit.turn < best.turn - STRAIGHTER:
            best = fit
    if best is None or best.touched > notch + HIGH_OVER_NOTCH * size:
        return _under_muzzle(outline, notch, back, size) or best
    return best


def _under_muzzle(outline: FloatArray, notch: float, back: float, size: float) -> ChinFit | None:
    """A chin close over the notch, behind something that stands further forward above it."""
    heights, line = front_line(outline, notch, notch + BEHIND_MUZZLE * size, LEVELS)
    if not len(heights):
        return None
    face = float(line.max())
    if face - back < STANDS_OUT * size:
        return None
    floor, top = notch - UNDER_NOTCH * size, notch + ROUNDING_OVER * size
    fit = touch_chin(outline, floor, back + AHEAD_OF[0] * (face - back), top, size)
    return fit if fit is not None and fit.turn < NO_CHIN else None
