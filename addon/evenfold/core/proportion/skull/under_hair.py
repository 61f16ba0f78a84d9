"""Where the skull ends under hair or a hat that is one skin with it: how thick that is."""

import numpy as np

from ...findings import Reading
from ..fuse import Bracket
from .dome import Dome
from .seam import Seam

THIN, STEEPER, HIGHEST = 0.045, 1.1, 0.13
"""Hair on top in shares of the head: THIN, and STEEPER times the step at which it stands out over the face, which
counts up to HIGHEST. Fitted to 20 invented heads, tried on 60 others; hair drawn close has 0.02 to 0.05 by eye on ready models."""
FLUSH_HAIR, PER_STEP = 0.015, 0.6
"""Painted hair as flush as skin counts the first, in heads, and the second times as much as it stands out where it begins: by
ready models, whose painted hair had 0.00 to 0.05 by eye. Our choice."""
QUIFF = (0.01, 0.25)
"""Hair that stands out at the sides by more than the first, in heads, but by less than the second of how far it stands out
in front, has a quiff there and is as thick as at its sides: by a ready model. Locks that hang show no step at the sides. Our choice."""
UNSEEN = 0.055
"""Hair on top where no seam is seen, in shares of the head. Our choice."""
THICKEST, THICKER = 0.16, 0.05
"""Hair that is one skin with the face may be as thick as the first, or by the second thicker than it seems, in heads:
invented heads."""
THINNER = 0.8
"""It may be thinner by this share of what it seems. Our choice."""
HIDDEN = Bracket(0.25, 0.0)
"""How far under the top of hair the skull may end, whatever its thickness seems. Our choice."""

BRIM_AT = (0.64, 0.75, 0.88)
"""A brim in one skin begins at this share of the head, low, usual and high: common practice, no source."""
HAT = (0.02, 0.32)
"""A hat stands so far over the skull, least and most."""


def under_seam(seam: Seam, dome: Dome, size: float, low: float) -> list[Reading]:
    """Where the skull ends under hair, or under a hat whose brim tells how high the head goes on."""
    slack = _slack(dome)
    if seam.is_brim:
        lowest, usual, highest = (low + (seam.level - low) / share for share in reversed(BRIM_AT))
        cap, floor = dome.top - HAT[0] * size, dome.top - HAT[1] * size
        height = float(np.clip(usual, floor, cap))
        return [
            Reading("skull by where the brim begins", height, min(max(lowest, floor), height), max(min(highest, cap), height)),
            Reading("top of the hat", dome.top, floor, dome.top),
        ]
    is_quiff = QUIFF[0] < seam.bulge < QUIFF[1] * seam.step
    thick = (THIN + STEEPER * min(seam.bulge if is_quiff else seam.step, HIGHEST)) * size
    height = dome.top - thick
    return [
        Reading("dome less hair as thick as its seam says", height, dome.top - max(THICKEST * size, thick + THICKER * size) - slack, height + THINNER * thick + slack),
        HIDDEN.about("top of the hair", dome.top, size),
    ]


def under_paint(step: float, dome: Dome, size: float) -> list[Reading]:
    """Where the skull ends under what only its colour tells apart, which stands out by ``step``, in heads."""
    slack = _slack(dome)
    height = dome.top - (FLUSH_HAIR + PER_STEP * min(step, HIGHEST)) * size
    return [
        Reading("dome less hair or a hat told by its colour", height, dome.top - THICKEST * size - slack, dome.top + slack),
        HIDDEN.about("top of what is told by its colour", dome.top, size),
    ]


def under_unseen_hair(dome: Dome, size: float) -> Reading:
    """Somewhere under the top of hair that leaves no seam and no skull to be seen."""
    slack = _slack(dome)
    height = dome.top - UNSEEN * size
    return Reading("dome less some hair that grows out of the skull", height, dome.top - THICKEST * size - slack, dome.top + slack)


def _slack(dome: Dome) -> float:
    """How unsure the top of what lies on the skull is: not at all where nothing stands on that."""
    return 0.0 if dome.bare else dome.slack
