"""What the end of the head bone tells of the skull's top, and of hair on it."""

from ...findings import Reading
from .bare import BARE
from .dome import Dome
from .seam import GAPS, Seam
from .under_hair import under_seam

BONE_END = "end of the head bone"

AT_TOP, DEEPEST_BARE, DEEPEST_HIDDEN = 0.015, 0.2, 0.3
"""An end that lies further under the top of the head than the first, in heads, may be the skull's, down to the second; under
hair or a hat down to the third. Our choice."""
AGREES, NEAR = 0.045, 0.13
"""The end of the head bone agrees with other evidence of a hidden skull within the first share of the head, and leads within
the second: of 63 invented rigs whose bone ended under hair or a hat in one skin, 55 put the end at the skull's top and six
within 0.02 of it. Our choice."""
OFF = 0.03
"""How far such an end may be off, in heads. Our choice."""
LEADS, FOLLOWS = 0.49, 0.6
"""Its range to each side is at most the first share of the other evidence's whole one where it leads, a little under half, and
at least the second where it follows."""
REACHES_TOP = 1.1
"""Under a bare skull its range to each side is so many times the way up to the top, which it holds."""

FAINT_STEP, FAINT_SIDES, FAINT_EVENLY = 0.003, 0.15, 0.08
"""Hair drawn close stands out over the forehead by more than the first, in heads, turns beside the face by at least the
second and all along the forehead by the last; bald heads lack one of these. Our choice, by invented heads whose bone ended
under the top."""


def ends_under_hair(seam: Seam, dome: Dome, end: float | None, size: float, low: float) -> bool:
    """True where the head bone ends as far under the top as hair with this seam would be thick."""
    return end is not None and seam.even >= GAPS and abs(end - under_seam(seam, dome, size, low)[0].height) < AGREES * size


def ends_under_faint_hair(seam: Seam, dome: Dome, end: float | None, size: float) -> bool:
    """True where something stands out a little over the forehead and turns beside the face, too little for hair to be sure of,
    and the head bone ends about as far under the top as hair is thick."""
    turns = seam.sides >= FAINT_SIDES and seam.front * seam.even >= FAINT_EVENLY
    return end is not None and turns and seam.step > FAINT_STEP and AT_TOP * size < dome.top - end < NEAR * size


def by_bone(other: Reading, dome: Dome, end: float, size: float) -> list[Reading]:
    """The end of the head bone: many riggers put it at the skull's top. Common practice, no source.

    It leads only where hair or a hat hides the skull and the other is near; else it adds a doubt. An end at the
    top of all that is there tells nothing of the skull.
    """
    hidden = other.method not in BARE
    if not dome.top - (DEEPEST_HIDDEN if hidden else DEEPEST_BARE) * size < end < dome.top - AT_TOP * size:
        return []
    if hidden and abs(end - other.height) < NEAR * size:
        slack = min(OFF * size, LEADS * (other.high - other.low))
    else:
        slack = max(OFF * size, FOLLOWS * (other.high - other.low)) if hidden else REACHES_TOP * (dome.top - end)
    return [Reading(BONE_END, end, end - slack, end + slack)]
