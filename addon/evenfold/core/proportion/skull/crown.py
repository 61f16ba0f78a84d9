"""The top of the skull: of the piece with the face, under whatever stands or grows on it."""

from dataclasses import replace

import numpy as np

from ..face.chin_hints import MOSTLY
from ..face.hair import hollow
from ..fuse import Bracket, fuse
from ..head.region import Head
from ..middle import WITHIN_HALF, in_middle
from ..parts.body import Body
from ..spot import Spot
from .bare import BARE, between_ears, from_dome
from .bone_end import AGREES, BONE_END, by_bone, ends_under_faint_hair, ends_under_hair
from .cover import under_cover
from .cranium import find_seam
from .dome import Dome, find_dome
from .grown import grown_over, is_between_roots, is_painted
from .paint import Paint, find_paint
from .seam import HAIR_BESIDE, HAIR_OVER, NONE, Seam
from .under_hair import under_paint, under_seam, under_unseen_hair

TALLEST = 1.6
"""What counts as the height of a head is no more than so many of its widths: the rest stands on it. Our choice."""
UPPER, SAMPLES = 0.35, 60
"""The dome is looked for over this share of the head's height, in so many samples to its width. Our choice."""
FACE_TOP = Bracket(0.0, 0.3)
"""How far the skull may reach over a face without a scalp. Our choice."""
ELSEWHERE, SMALLEST = 0.02, 0.4
"""The crown is looked for again where the chin lies elsewhere than it seemed by more than the first and leaves a head of more
than the second of what it seemed. Our choice."""
EVENLY = 0.6
"""What another colour covers is hair where its seam runs as evenly as this over the forehead, whatever turns beside the face.
Eyes and lids have gaps. Our choice."""

BEHIND = 0.3
"""What lies on the skull reaches no further behind it than this, in heads. Our choice."""
TOUCHES = 0.02
"""What lies over the skull begins no further under its top than this, in heads. Our choice."""
OVERHANG = 0.16
"""What hangs over the forehead by the outline in front may be so thick, in heads; so may what lies on the skull."""
STANDS_ON = 0.12
"""Where something stands on the skull in one piece with it, the skull may lie lower by this share of the head."""
HAIRLINE_HOLLOW, BRIM_HOLLOW = 0.0045, 0.03
"""An outline from the brow to the crown that is as hollow as the first may have a hairline, in heads; one as hollow as the
second has a brim, a fringe or a quiff."""
UNKNOWN_HAIR = 0.03
"""Where nothing is known as hair, so much of the head's size may be hair on the skull; twice as much where no weights tell
the head."""


def find_crown(body: Body, head: Head, how: str, end: float | None = None) -> Spot:
    """The crown of ``head``; what stands on it is looked under, and doubt widens the range.

    ``end`` is the height at which the head bone ends, where one is known.
    """
    grown = grown_over(body, head)
    if grown is not None:
        head = grown
    size = min(head.size, TALLEST * head.width)
    rows = head.skull & (head.framed[:, 2] > head.low + UPPER * head.size)
    samples = head.samples(rows if rows.any() else head.skull, head.width / SAMPLES)
    dome = between_ears(head, find_dome(samples, size), size)
    cover = under_cover(body, head, size) if grown is None else None
    seam = NONE if cover is not None else find_seam(head, head.faces_of(head.skull), head.low, dome.top)
    paint = find_paint(body, head, head.low, dome.top) if cover is None else None
    hidden = _is_hidden(seam, paint, dome, end, size, head.low)
    faint = paint is None and not hidden and cover is None and ends_under_faint_hair(seam, dome, end, size)
    if cover is not None:
        readings = [cover, FACE_TOP.about("top of the face's own piece", head.top, size)]
    elif hidden or faint:
        readings = under_seam(seam, dome, size, head.low)
    elif paint is not None and paint.covered:
        readings = under_paint(paint.step, dome, size)
    elif grown is not None and not (seam.is_smooth and is_painted(body, head)) and not is_between_roots(body, head):
        readings = [under_unseen_hair(dome, size)]
    else:
        readings = [from_dome(dome, size)]
    if cover is None and end is not None:
        readings += by_bone(readings[0], dome, end, size)
    leader, low, high = fuse(readings)
    if leader.method == BONE_END and abs(leader.height - readings[0].height) > AGREES * size:
        low, high = min(low, readings[0].low), max(high, readings[0].high)
    if faint:
        high = max(high, dome.top)
    if leader.method in BARE:
        low = min(low, _lowest_under(body, head, dome, seam, leader.height, size, how))
        high = max(high, _covered_by(body, head, dome.top, size))
    point = np.array([head.side, dome.centre[1], leader.height])
    return Spot(leader.height, point, "weights" if how == "weights" else "shape", low, high, leader.method, tuple(readings))


def crown_over(body: Body, head: Head, how: str, crown: Spot, chin: float, end: float | None = None) -> Spot:
    """``crown`` found again where the chin lies elsewhere than the head's lowest point seemed to."""
    size = crown.height - head.low
    if not abs(chin - head.low) > ELSEWHERE * size or not crown.height - chin > SMALLEST * size:
        return crown
    return find_crown(body, replace(head, low=chin), how, end)


def _is_hidden(seam: Seam, paint: Paint | None, dome: Dome, end: float | None, size: float, low: float) -> bool:
    """True where a seam shows hair or a hat over the skull; under the face's own colour there is none but a brim."""
    if seam.is_brim:
        return True
    hair = seam.is_hair or (seam.may_be_hair and not seam.is_bare and ends_under_hair(seam, dome, end, size, low))
    if paint is None:
        return hair
    return paint.covered and (hair or (seam.front >= HAIR_OVER and seam.even >= EVENLY))


def _covered_by(body: Body, head: Head, top: float, size: float) -> float:
    """How high what lies on the skull without being the head's reaches: hair that follows another bone, say.

    A face alone under it may end below the skull's top.
    """
    own = head.framed[head.skull]
    back, front = float(own[:, 1].min()) - BEHIND * size, float(own[:, 1].max())
    rest = ~head.own & ~body.worn & in_middle(head.framed, head, WITHIN_HALF)
    rest &= (head.framed[:, 1] > back) & (head.framed[:, 1] < front) & (head.framed[:, 2] > top)
    over = head.framed[rest, 2]
    return min(float(over.max()), top + OVERHANG * size) if len(over) else top


def _lowest_under(body: Body, head: Head, dome: Dome, seam: Seam, height: float, size: float, how: str) -> float:
    """How low the skull may end where hair or a hat in one piece with it may be there unseen."""
    gap = hollow(head, dome.top)
    if gap > BRIM_HOLLOW:
        return dome.top - OVERHANG * size
    if not dome.bare:
        return height - STANDS_ON * size
    if gap > HAIRLINE_HOLLOW or seam.sides >= HAIR_BESIDE:
        return dome.top - STANDS_ON * size
    return height if _bared(body, head, size) else height - (UNKNOWN_HAIR if how == "weights" else 2 * UNKNOWN_HAIR) * size


def _bared(body: Body, head: Head, size: float) -> bool:
    """True when something lies over the skull, so that the skull below it is no hair."""
    above = ~head.skull & (body.head > MOSTLY) & (head.framed[:, 2] > head.top - TOUCHES * size)
    return bool(above.any())
