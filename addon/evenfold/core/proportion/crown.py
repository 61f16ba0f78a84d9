"""The top of the skull: of the piece with the face, under whatever stands or grows on it."""

from dataclasses import replace

import numpy as np

from ..figure import FloatArray
from ..findings import Reading
from .body import Body
from .dome import Dome, bare_line, find_dome
from .fuse import fuse
from .hair import hair_thickness, hollow
from .profile import cuts
from .region import Head
from .sample import along, dense, plane_cut
from .spot import Spot

HAIR_SHARE = 0.03
"""Where nothing is known as hair, so much of the head's size may be hair on the skull."""
THICK = 0.08
"""Hair that stands off the forehead further than this share of the head is a fringe, thinner on top."""
USUAL = 0.06
"""Hair that shows a hairline is about as thick as this on top: drawn hair is fullest there, no source."""
SLACK = 0.004
"""How far a bare top may be off, in heads."""

HAIR = 0.16
"""Hair that is one piece with the skull may be as thick as this share of the head: invented heads."""
UNDER = 0.12
"""Where something stands on the skull in one piece with it, the skull may lie lower by this share."""
HAT = 0.32
"""A hat may rise so far over the skull."""
HOLLOW = 0.0045
"""An outline from the brow to the crown that is as hollow as this has a hairline, in heads."""
BRIM = 0.03
"""One as hollow as this has a brim or a fringe."""
RIDGE = 0.025
"""A middle line that stands over what is beside it by more than this is a ridge, no skull."""


def find_crown(body: Body, head: Head, how: str) -> Spot:
    """The crown of ``head``; what stands on it is looked under, and doubt widens the range."""
    grown = _grown_over(body, head)
    if grown is not None:
        head = grown
    size = min(head.size, 1.6 * head.width)
    rows = head.skull & (head.framed[:, 2] > head.low + 0.35 * head.size)
    samples = head.samples(rows if rows.any() else head.skull, head.width / 60)
    dome = _between_ears(head, find_dome(samples, size), size)
    cover = _cover(body, head, size) if grown is None else None
    hair = None if cover is not None or grown is not None else _under_hair(head, dome, size, 0.0 if how == "weights" else USUAL * size)
    if cover is not None:
        readings = [cover, Reading("top of the face's own piece", head.top, head.top, head.top + 0.3 * size)]
    elif grown is not None:
        readings = [_under_grown(dome, size)]
    elif hair is not None:
        readings = [hair, Reading("top of the hair", dome.top, dome.top - 0.25 * size, dome.top)]
    else:
        readings = [_from_dome(dome, size)]
    leader, low, high = fuse(readings)
    if cover is None and grown is None:
        low = min(low, _lowest_under(body, head, dome, hair is not None, leader.height, size, how))
    point = np.array([head.side, dome.centre[1], leader.height])
    return Spot(leader.height, point, "weights" if how == "weights" else "shape", low, high, leader.method, tuple(readings))


def _lowest_under(body: Body, head: Head, dome: Dome, hair: bool, height: float, size: float, how: str) -> float:
    """How low the skull may end under what may be hair or a hat in one piece with it."""
    gap = hollow(head, dome.top)
    if gap > BRIM:
        return dome.top - HAT * size
    if hair or gap > HOLLOW:
        return dome.top - HAIR * size
    if not dome.bare:
        return height - UNDER * size
    return height if _bared(body, head, size) else height - (HAIR_SHARE if how == "weights" else 2 * HAIR_SHARE) * size


def _grown_over(body: Body, head: Head) -> Head | None:
    """The head with hair of bones of its own that closes the same skin over the middle; None without."""
    mixed = body.worn[body.triangles].any(axis=1) & head.skull[body.triangles].any(axis=1)
    if not mixed.any():
        return None
    grown = body.worn & np.isin(head.piece, np.unique(head.piece[head.skull])) & (head.framed[:, 2] > head.low + 0.4 * head.size)
    middle = grown & (np.abs(head.framed[:, 0] - head.side) < 0.12 * head.width)
    bare = head.skull & (np.abs(head.framed[:, 0] - head.side) < 0.12 * head.width)
    if not middle.any() or not bare.any() or head.framed[middle][:, 2].max() < head.framed[bare][:, 2].max():
        return None
    rows = head.skull | grown
    kept = ~(body.worn & ~grown)[body.triangles].any(axis=1)
    return replace(head, own=head.own | grown, skull=rows, faces=body.triangles[kept], top=float(head.framed[rows][:, 2].max()))


def _under_grown(dome: Dome, size: float) -> Reading:
    """Somewhere under the top of hair that leaves no skull to be seen."""
    slack = 0.0 if dome.bare else dome.slack
    height = dome.top - 0.6 * THICK * size
    return Reading("dome less some hair that grows out of the skull", height, dome.top - HAIR * size - slack, dome.top + slack)


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
    for share in (-0.1, 0.1):
        beside = along(plane_cut(head.framed, head.faces_of(head.skull), 0, head.side + share * head.width), 0.01 * size)
        near = beside[np.abs(beside[:, 1] - place) < 0.1 * size]
        if not len(near) or near[:, 2].max() < top - RIDGE * size:
            return dome
    return Dome(top, top, True, SLACK * size, np.array([head.side, place]))


def _under_hair(head: Head, dome: Dome, size: float, least: float) -> Reading | None:
    """The dome less the thickness of hair that is one piece with the face."""
    found = hair_thickness(head, dome.top)
    if found is None:
        return None
    thick, lasting = found
    slack = 0.0 if dome.bare else dome.slack
    if lasting:
        known = max(min(thick, THICK * size - 0.5 * max(thick - THICK * size, 0.0)), least)
        height = dome.top - max(known, 0.3 * thick)
        top = min(max(height + 0.5 * thick, dome.top - 0.5 * thick) + slack, dome.highest)
        return Reading("dome less the hair's thickness", height, min(height, dome.top - 1.35 * thick) - slack, top)
    height = dome.top - max(0.5 * thick, least)
    return Reading("dome less some hair", height, min(height, dome.top - 1.3 * thick) - slack, min(dome.top + slack, dome.highest))


def _from_dome(dome: Dome, size: float) -> Reading:
    if dome.bare:
        return Reading("highest point of the skull", dome.top, dome.top - SLACK * size, dome.top + SLACK * size)
    return Reading("dome under what stands on it", dome.top, dome.top - dome.slack, min(dome.top + dome.slack, dome.highest))


def _bared(body: Body, head: Head, size: float) -> bool:
    """True when something lies over the skull, so that the skull below it is no hair."""
    above = ~head.skull & (body.head > 0.5) & (head.framed[:, 2] > head.top - 0.02 * size)
    return bool(above.any())


def _cover(body: Body, head: Head, size: float) -> Reading | None:
    """A face without a scalp: the skull ends between its rim and what lies over it."""
    upper = head.samples(head.skull & (head.framed[:, 2] > head.top - 0.6 * size), head.width / 40)
    if not len(upper):
        return None
    centre = (upper[:, :2].max(axis=0) + upper[:, :2].min(axis=0)) / 2
    reach = 0.22 * head.width
    scalp = upper[np.linalg.norm(upper[:, :2] - centre, axis=1) < reach]
    if len(scalp) and float(np.percentile(scalp[:, 2], 80)) > head.top - 0.2 * size:
        return None
    return _over(body, head, centre, reach, size)


def _over(body: Body, head: Head, centre: FloatArray, reach: float, size: float) -> Reading | None:
    """The skull under the lowest vaulted thing that spans the middle above the rim."""
    found: list[tuple[bool, float, float]] = []
    faces = body.triangles[~head.skull[body.triangles].any(axis=1)]
    middle = head.framed[faces].mean(axis=1)
    extent = np.ptp(head.framed[faces], axis=1).max(axis=1)
    near = (np.linalg.norm(middle[:, :2] - centre, axis=1) < reach + extent) & (middle[:, 2] + extent > head.top - 0.1 * size)
    faces = faces[near]
    for number in np.unique(head.piece[faces[:, 0]]) if len(faces) else ():
        used, compact = np.unique(faces[head.piece[faces[:, 0]] == number], return_inverse=True)
        spots = dense(head.framed[used], compact.reshape(-1, 3), reach / 12)
        spots = spots[(np.abs(spots[:, :2] - centre) < reach).all(axis=1) & (spots[:, 2] > head.top - 0.1 * size)]
        cell = ((spots[:, :2] - centre + reach) / (2 * reach) * 6).astype(int)
        index = cell[:, 0] * 6 + cell[:, 1]
        if len(np.unique(index)) < 24:
            continue
        under, over = np.full(36, np.inf), np.full(36, -np.inf)
        np.minimum.at(under, index, spots[:, 2])
        np.maximum.at(over, index, spots[:, 2])
        inside = under[np.isfinite(under)]
        flat = bool(np.ptp(inside) < 0.012 * size)
        found.append((flat, float(inside.max()), float(over.max())))
    if not found:
        return None
    _, inner, outer = min(found)
    if outer - inner > 0.015 * size:
        return Reading("underside of what covers the open head", inner, inner - 0.02 * size, min(outer, inner + 0.05 * size))
    low = max(head.top - 0.02 * size, outer - 0.1 * size)
    return Reading("inside of what covers the open head", outer - 0.015 * size, min(low, outer - 0.015 * size), outer)
