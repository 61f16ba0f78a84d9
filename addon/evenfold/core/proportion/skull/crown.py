"""The top of the skull: of the piece with the face, under whatever stands or grows on it."""

from dataclasses import replace

import numpy as np

from ...figure import FloatArray
from ...findings import Reading
from ..face.hair import hollow
from ..face.side_outline import cuts
from ..fuse import fuse
from ..head.region import Head
from ..parts.body import Body, BoolArray
from ..points.sample import along, plane_cut
from ..spot import Spot
from .cover import under_cover
from .cranium import (
    BESIDE,
    GAPS,
    NONE,
    OVER,
    Seam,
    find_seam,
    under_paint,
    under_seam,
    under_unseen_hair,
)
from .dome import Dome, bare_line, find_dome
from .paint import Paint, find_paint

BARE = ("highest point of the skull", "dome under what stands on it")
HAIR_SHARE = 0.03
"""Where nothing is known as hair, so much of the head's size may be hair on the skull."""
BONE = (0.015, 0.2, 0.3)
"""An end of the head bone that lies so far under the top of the head, in heads, may be the skull's; under hair or a hat
so far as the last. Our choice."""
AGREES, NEAR = 0.045, 0.13
"""The end of the head bone agrees with other evidence of a hidden skull within the first share of the head, and leads within
the second: of 63 invented rigs whose bone ended under hair or a hat in one skin, 55 put the end at the skull's top and six
within 0.02 of it. Our choice."""
FAINT, FAINT_SIDES, FAINT_EVENLY = 0.003, 0.15, 0.08
"""Hair drawn close stands out over the forehead by more than the first, in heads, turns beside the face by at least the
second and all along the forehead by the last; bald heads lack one of these. Our choice, by invented heads whose bone ended
under the top."""
EVENLY = 0.6
"""What another colour covers is hair where its seam runs as evenly as this over the forehead, whatever turns beside the face.
Eyes and lids have gaps. Our choice."""
BONE_END = "end of the head bone"
END = 0.03
"""How far such an end may be off, in heads. Our choice."""
SLACK = 0.004
"""How far a bare top may be off, in heads."""
UNDER = 0.12
"""Where something stands on the skull in one piece with it, the skull may lie lower by this share."""
OVERHANG = 0.16
"""And by this share where the outline in front says that it hangs over the forehead."""
HOLLOW = 0.0045
"""An outline from the brow to the crown that is as hollow as this may have a hairline, in heads."""
BRIM = 0.03
"""One as hollow as this has a brim, a fringe or a quiff."""
SPAN = 0.3
"""What closes over the skull spans the middle from front to back by this share of the head's width; ears do not."""
ROWS, ON_TOP = 12, 0.3
"""What is highest along this share of the way from front to back closes the head. Our choice."""
RIDGE = 0.025
"""A middle line that stands over what is beside it by more than this is a ridge, no skull."""


def find_crown(body: Body, head: Head, how: str, end: float | None = None) -> Spot:
    """The crown of ``head``; what stands on it is looked under, and doubt widens the range.

    ``end`` is the height at which the head bone ends, where one is known.
    """
    grown = _grown_over(body, head)
    if grown is not None:
        head = grown
    size = min(head.size, 1.6 * head.width)
    rows = head.skull & (head.framed[:, 2] > head.low + 0.35 * head.size)
    samples = head.samples(rows if rows.any() else head.skull, head.width / 60)
    dome = _between_ears(head, find_dome(samples, size), size)
    cover = under_cover(body, head, size) if grown is None else None
    seam = NONE if cover is not None else find_seam(head, head.faces_of(head.skull), head.low, dome.top)
    paint = find_paint(body, head, head.low, dome.top) if cover is None else None
    hidden = _is_hidden(seam, paint, dome, end, size, head.low)
    faint = paint is None and not hidden and cover is None and _ends_under_faint_hair(seam, dome, end, size)
    if cover is not None:
        readings = [cover, Reading("top of the face's own piece", head.top, head.top, head.top + 0.3 * size)]
    elif hidden or faint:
        readings = under_seam(seam, dome, size, head.low)
    elif paint is not None and paint.covered:
        readings = under_paint(paint.step, dome, size)
    elif grown is not None and not (seam.is_smooth and _is_painted(body, head)) and not _between_roots(body, head):
        readings = [under_unseen_hair(dome, size)]
    else:
        readings = [_from_dome(dome, size)]
    if cover is None and end is not None:
        readings += _by_bone(readings[0], dome, end, size)
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
    if not abs(chin - head.low) > 0.02 * size or not crown.height - chin > 0.4 * size:
        return crown
    return find_crown(body, replace(head, low=chin), how, end)


def _is_hidden(seam: Seam, paint: Paint | None, dome: Dome, end: float | None, size: float, low: float) -> bool:
    """True where a seam shows hair or a hat over the skull; under the face's own colour there is none but a brim."""
    if seam.is_brim:
        return True
    hair = seam.is_hair or (seam.may_be_hair and not seam.is_bare and _bone_ends_under_hair(seam, dome, end, size, low))
    if paint is None:
        return hair
    return paint.covered and (hair or (seam.front >= OVER and seam.even >= EVENLY))


def _bone_ends_under_hair(seam: Seam, dome: Dome, end: float | None, size: float, low: float) -> bool:
    """True where the head bone ends as far under the top as hair with this seam would be thick."""
    return end is not None and seam.even >= GAPS and abs(end - under_seam(seam, dome, size, low)[0].height) < AGREES * size


def _ends_under_faint_hair(seam: Seam, dome: Dome, end: float | None, size: float) -> bool:
    """True where something stands out a little over the forehead and turns beside the face, too little for hair to be sure of,
    and the head bone ends about as far under the top as hair is thick."""
    turns = seam.sides >= FAINT_SIDES and seam.front * seam.even >= FAINT_EVENLY
    return end is not None and turns and seam.step > FAINT and BONE[0] * size < dome.top - end < NEAR * size


def _by_bone(other: Reading, dome: Dome, end: float, size: float) -> list[Reading]:
    """The end of the head bone: many riggers put it at the skull's top. Common practice, no source.

    It leads only where hair or a hat hides the skull and the other is near; else it adds a doubt. An end at the
    top of all that is there tells nothing of the skull.
    """
    hidden = other.method not in BARE
    if not dome.top - BONE[2 if hidden else 1] * size < end < dome.top - BONE[0] * size:
        return []
    if hidden and abs(end - other.height) < NEAR * size:
        slack = min(END * size, 0.49 * (other.high - other.low))
    else:
        slack = max(END * size, 0.6 * (other.high - other.low)) if hidden else 1.1 * (dome.top - end)
    return [Reading(BONE_END, end, end - slack, end + slack)]


def _covered_by(body: Body, head: Head, top: float, size: float) -> float:
    """How high what lies on the skull without being the head's reaches: hair that follows another bone, say.

    A face alone under it may end below the skull's top.
    """
    own = head.framed[head.skull]
    back, front = float(own[:, 1].min()) - 0.3 * size, float(own[:, 1].max())
    rest = ~head.own & ~body.worn & (np.abs(head.framed[:, 0] - head.side) < 0.25 * head.width)
    rest &= (head.framed[:, 1] > back) & (head.framed[:, 1] < front) & (head.framed[:, 2] > top)
    over = head.framed[rest, 2]
    return min(float(over.max()), top + OVERHANG * size) if len(over) else top


def _lowest_under(body: Body, head: Head, dome: Dome, seam: Seam, height: float, size: float, how: str) -> float:
    """How low the skull may end where hair or a hat in one piece with it may be there unseen."""
    gap = hollow(head, dome.top)
    if gap > BRIM:
        return dome.top - OVERHANG * size
    if not dome.bare:
        return height - UNDER * size
    if gap > HOLLOW or seam.sides >= BESIDE:
        return dome.top - UNDER * size
    return height if _bared(body, head, size) else height - (HAIR_SHARE if how == "weights" else 2 * HAIR_SHARE) * size


def _grown_over(body: Body, head: Head) -> Head | None:
    """The head with hair of bones of its own that closes the same skin over the middle; None without."""
    mixed = body.worn[body.triangles].any(axis=1) & head.skull[body.triangles].any(axis=1)
    if not mixed.any():
        return None
    grown = body.worn & np.isin(head.piece, np.unique(head.piece[head.skull])) & (head.framed[:, 2] > head.low + 0.4 * head.size)
    middle = grown & (np.abs(head.framed[:, 0] - head.side) < 0.12 * head.width)
    bare = head.skull & (np.abs(head.framed[:, 0] - head.side) < 0.12 * head.width)
    if not middle.any() or not bare.any() or float(np.ptp(head.framed[middle][:, 1])) < SPAN * head.width:
        return None
    if not _is_on_top(head.framed[bare | middle], middle[bare | middle]):
        return None
    rows = head.skull | grown
    kept = ~(body.worn & ~grown)[body.triangles].any(axis=1)
    return replace(head, own=head.own | grown, skull=rows, faces=body.triangles[kept], top=float(head.framed[rows][:, 2].max()))


def _is_on_top(points: FloatArray, mine: BoolArray) -> bool:
    """True where ``mine`` (n,) of points (n, 3) holds the highest places of enough of the way from front to back."""
    row = np.minimum(((points[:, 1] - points[:, 1].min()) / max(float(np.ptp(points[:, 1])), 1e-12) * ROWS).astype(int), ROWS - 1)
    own, rest = np.full(ROWS, -np.inf), np.full(ROWS, -np.inf)
    np.maximum.at(own, row[mine], points[mine, 2])
    np.maximum.at(rest, row[~mine], points[~mine, 2])
    return bool((own > rest).sum() >= ON_TOP * ROWS)


def _between_roots(body: Body, head: Head) -> bool:
    """True where what closes the skin over the middle only follows ears or horns: it is the skull's own."""
    closing = _closing(body, head)
    return bool(len(body.beside) and closing.any() and body.beside[closing].mean() > 0.8)


def _is_painted(body: Body, head: Head) -> bool:
    """True where what closes the skin over the middle is hair by the name of its material and follows none of hair."""
    closing = _closing(body, head)
    return bool(len(body.painted) and closing.any() and body.painted[closing].mean() > 0.8)


def _closing(body: Body, head: Head) -> BoolArray:
    """(n,) what of the skull's own skin over the middle is worn."""
    return head.skull & body.worn & (np.abs(head.framed[:, 0] - head.side) < 0.12 * head.width)


def _between_ears(head: Head, dome: Dome, size: float) -> Dome:
    """The dome's top on the middle line where things stand on both sides of it, none on it."""
    if dome.bare:
        return dome
    line = cuts(head.framed, head.faces_of(head.skull), head.side, head.width)
    line = line[line[:, 2] > head.low + 0.5 * head.size] if len(line) else line
    if len(line) < 30:
        return dome
    top = bare_line(line[:, 1:], size)
    if top is None:
        return dome
    place = float(line[np.argmax(line[:, 2]), 1])
    for off in (-0.1 * min(head.width, size), 0.1 * min(head.width, size)):
        beside = along(plane_cut(head.framed, head.faces_of(head.skull), 0, head.side + off), 0.01 * size)
        near = beside[np.abs(beside[:, 1] - place) < 0.1 * size]
        if not len(near) or near[:, 2].max() < top - RIDGE * size:
            return dome
    return Dome(top, top, True, SLACK * size, np.array([head.side, place]))


def _from_dome(dome: Dome, size: float) -> Reading:
    if dome.bare:
        return Reading(BARE[0], dome.top, dome.top - SLACK * size, dome.top + SLACK * size)
    return Reading(BARE[1], dome.top, dome.top - dome.slack, min(dome.top + dome.slack, dome.highest))


def _bared(body: Body, head: Head, size: float) -> bool:
    """True when something lies over the skull, so that the skull below it is no hair."""
    above = ~head.skull & (body.head > 0.5) & (head.framed[:, 2] > head.top - 0.02 * size)
    return bool(above.any())
