"""Which notch of the outline is the one under the chin: by the end of the head's weight, the head bone, the jaw and the neck.

Folds of a collar or the chest look like it further down, noses and muzzles further up.
"""

import numpy as np

from ...figure import FloatArray
from ...findings import Reading
from ..head.region import Head
from ..parts.body import Body
from .chin_fit import FaceOutline
from .chin_hints import Hints, head_share
from .chin_touch import CLEAR, ChinFit
from .side_outline import front_line

FLOOR_JOINED, FLOOR_APART = 0.3, 0.05
"""No notch is looked for further than this under the lower end of a head, in heads: of one that goes on into a neck, and of
one apart. Our choice."""
FLOOR_BY_RIM = 0.2
"""Nor further than this under the end of the head's weight, in heads. Our choice."""
FLOORS_BY_BONE = (0.5, 0.3)
"""Nor further under the start of the head bone than the first share of what is above it, or than the second where that finds
one too deep. Our choice."""
DEEPEST, HIGHEST = 0.38, 0.1
"""A chin lies no further under the start of the head bone than the first share of what is above it; one looked for nearer to
it lies no further over it than the second. Our choice."""
AT_RIM = (0.1, 0.14)
"""A chin so little under or over the end of the head's weight, in heads, is the head's wherever its bone starts. Our choice."""

THROAT = 0.015
"""An outline's chin further than this under all that follows the jaw bone, in heads, may be the throat. Our choice."""
FLOOR_BY_JAW, AT_JAW = 0.08, 0.03
"""Then another is looked for from the first under what follows the jaw bone, and taken where it is off that by less than the
second, in heads. Our choice."""

ABOUT_NECK, UNDER_FOLD = 0.2, 0.04
"""Within the first of the neck's narrowest place the outline lies furthest back at a fold, and the notch is looked for from
the second under that, in heads. Our choice."""
NECK_LEVELS, NECK_SEEN = 60, 30
"""Levels in which the outline is looked at there; where no more than the second are seen, the lowest stands for the fold."""

COLLAR = 0.1
"""A fold of the outline further than this under the end of the head's weight, in heads, may be the collar's or
the chest's: where hardly anything there follows the head, another is looked for above it. Our choice."""
HARDLY = 0.3
"""What follows the head by less than this share of its weight is none of it. Our choice."""
OVER_COLLAR = 0.02
"""The other is looked for from so far over such a fold, in heads. Our choice."""

UNDER_RIM = 0.05
"""A chin that lies further than this under the end of the head's weight, in heads, and too deep for its bone besides,
may be a fold of the body, whose weights spilled. Our choice."""
NEXT_FOLD = 0.1
"""Then another is looked for from so far over it, in heads. Our choice."""


def choose_chin(body: Body, head: Head, outline: FaceOutline, hints: Hints, size: float) -> ChinFit | None:
    """The chin on the ``outline`` of a head of ``size``; None where it shows none."""
    fit = _choose(outline, hints, size)
    if fit is None or hints.rim is None or not _is_collar(body, head, fit, hints.rim, size):
        return fit
    over = outline.chin_over(fit.height + OVER_COLLAR * size)
    return over if over is not None and abs(over.height - hints.rim) < abs(fit.height - hints.rim) else fit


def nearer_bone(outline: FaceOutline, chin: float, hints: Hints, size: float) -> Reading | None:
    """Another fold of the outline over a ``chin`` far under the start of the head bone and under the end of the head's weight."""
    if hints.bone is None or hints.rim is None:
        return None
    deepest, highest = _about_bone(hints.bone, outline.crown)
    if chin > min(deepest, hints.rim - UNDER_RIM * size):
        return None
    fit = outline.chin_over(chin + NEXT_FOLD * size)
    if fit is None or fit.height > highest:
        return None
    return CLEAR.about("fold of the outline nearer to the start of the head bone", fit.height, size)


def _choose(outline: FaceOutline, hints: Hints, size: float) -> ChinFit | None:
    """The lowest rounding, unless the end of the head's weight, the head bone's start or the jaw say that it is another's."""
    rim, bone, jaw = hints.rim, hints.bone, hints.jaw
    if rim is not None and hints.neck is None:
        lowest = outline.chin_over(_floor(outline, size, rim))
        if lowest is not None and _is_at_rim(lowest.height, rim, jaw, size):
            return lowest
    floors = _floors(outline, hints, size)
    fit = outline.chin_over(floors[0])
    if fit is not None and bone is not None:
        deepest, highest = _about_bone(bone, outline.crown)
        nearer = outline.chin_over(floors[-1]) if fit.height < deepest else None
        fit = nearer if nearer is not None and nearer.height < highest else fit
    if jaw is not None and (fit is None or fit.height < jaw.height - THROAT * size):
        nearer = outline.chin_over(jaw.height - FLOOR_BY_JAW * size)
        fit = nearer if nearer is not None and abs(nearer.height - jaw.height) < AT_JAW * size else fit
    return fit


def _floor(outline: FaceOutline, size: float, rim: float | None = None) -> float:
    """The height from which a notch is looked for upward."""
    floor = outline.anchor - (FLOOR_JOINED if outline.joined else FLOOR_APART) * size
    return floor if rim is None else max(floor, rim - FLOOR_BY_RIM * size)


def _floors(outline: FaceOutline, hints: Hints, size: float) -> list[float]:
    """The same by all that is known; the last is for where the first finds a chin too deep for the head bone."""
    if hints.neck is not None:
        return [max(_floor(outline, size), _fold(outline.points, hints.neck, size) - UNDER_FOLD * size)]
    floor = _floor(outline, size, hints.rim)
    if hints.rim is None or hints.bone is None:
        return [floor]
    return [max(floor, hints.bone - share * (outline.crown - hints.bone)) for share in FLOORS_BY_BONE]


def _fold(points: FloatArray, neck: float, size: float) -> float:
    """The height about the neck at which the outline (n, 3) lies furthest back."""
    low, high = neck - ABOUT_NECK * size, neck + ABOUT_NECK * size
    heights, front = front_line(points, low, high, NECK_LEVELS)
    return float(heights[np.argmin(front)]) if len(heights) > NECK_SEEN else low


def _about_bone(bone: float, crown: float) -> tuple[float, float]:
    """The lowest and the highest place of a chin for a head bone that starts at ``bone``."""
    return bone - DEEPEST * (crown - bone), bone + HIGHEST * (crown - bone)


def _is_at_rim(chin: float, rim: float, jaw: Reading | None, size: float) -> bool:
    """True for a ``chin`` close to the end of the head's weight and not under the jaw."""
    return -AT_RIM[0] * size < chin - rim < AT_RIM[1] * size and (jaw is None or chin >= jaw.height - THROAT * size)


def _is_collar(body: Body, head: Head, fit: ChinFit, rim: float, size: float) -> bool:
    """True where a fold lies far under the end of the head's weight and hardly anything about it follows the head."""
    return fit.height < rim - COLLAR * size and head_share(body, head, fit.height, fit.forward, size) < HARDLY
