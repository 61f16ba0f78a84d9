"""A face without a scalp: where the skull ends under the hair or hat that lies over the opening."""

from dataclasses import replace

import numpy as np

from ...figure import FloatArray
from ...findings import Reading
from ..head.region import Head
from ..parts.body import Body
from ..points.sample import dense
from .ellipsoid import top_of_ellipsoid

GAP = -0.1
"""What closes an open head comes down past its rim by at least this share of the head; a hat's brim over it
does not."""
SUNK = -0.01
"""What has its inside this much under the rim of an open head, in heads, sinks into it and is no cover. Our choice."""
CLOSED = 26
"""Skin in so many of 36 cells closes the head. Our choice."""
OPEN = 18
"""With skin in fewer of the 36 cells a head is open however high its rim: closed ready models had 23 and more. Our choice."""
MASK = 0.6
"""The sides of a face without a back of the head are this much less deep than those of all that follows the head. Our choice."""
SKIN, FOLLOWS = 0.35, 0.016
"""The skin from the first share of the head under its rim up follows an ellipsoid where it is off it by no more than the
second. Our choice."""
SURE = 0.018
"""How far the top of that ellipsoid may be off, in heads: up to 0.014 on 22 invented heads."""
RING, FALL = (0.36, 0.46), 0.015
"""A flat dome falls by this share of the head so far from its middle, in widths; a lid does not. Our choice."""


def under_cover(body: Body, head: Head, size: float) -> Reading | None:
    """A face without a scalp: the skull ends between its rim and what lies over it."""
    upper = head.samples(head.skull & (head.framed[:, 2] > head.top - 0.6 * size), head.width / 40)
    if not len(upper):
        return None
    centre = _axis(upper, head)
    reach = 0.22 * head.width
    scalp = upper[np.linalg.norm(upper[:, :2] - centre, axis=1) < reach]
    if _closed_by_roots(body, head, centre, reach, size):
        return None
    if len(scalp) and len(_cells(scalp, centre, reach)) >= OPEN and float(np.percentile(scalp[:, 2], 80)) > head.top - 0.2 * size:
        return None
    if _vaulted(scalp, centre, reach, size) or _falls_off(upper, scalp, centre, head.width, size):
        return None
    return _over(body, head, centre, reach, size)


def _closed_by_roots(body: Body, head: Head, centre: FloatArray, reach: float, size: float) -> bool:
    """True where skin of the skull's own piece that follows ears or horns closes the middle together with the rest."""
    if not len(body.beside) or not body.beside.any():
        return False
    roots = body.beside & np.isin(head.piece, np.unique(head.piece[head.skull])) & (head.framed[:, 2] < head.top + 0.2 * size)
    rows = head.skull | roots
    whole = replace(head, faces=body.triangles[rows[body.triangles].all(axis=1)])
    skin = whole.samples(rows & (head.framed[:, 2] > head.top - 0.2 * size), head.width / 40)
    skin = skin[np.linalg.norm(skin[:, :2] - centre, axis=1) < reach]
    return len(skin) > 0 and len(_cells(skin, centre, reach)) >= CLOSED


def _axis(upper: FloatArray, head: Head) -> FloatArray:
    """(2,) the head's upright axis by its two sides, where no muzzle and no quiff moves it.

    The sides of a face alone end far in front of those of what covers it: then these tell.
    """
    flank = upper[np.abs(upper[:, 0] - head.side) > 0.42 * head.width]
    whole = upper if len(flank) < 8 else flank
    every = head.framed[head.own & (head.framed[:, 2] > head.top - 0.6 * head.size)]
    around = every[(np.abs(every[:, 0] - head.side) > 0.42 * head.width) & (np.abs(every[:, 0] - head.side) < 0.65 * head.width)]
    if len(around) >= 8 and np.ptp(whole[:, 1]) < MASK * np.ptp(around[:, 1]):
        whole = around
    return np.array([head.side, (whole[:, 1].max() + whole[:, 1].min()) / 2])


def _over(body: Body, head: Head, centre: FloatArray, reach: float, size: float) -> Reading | None:
    """The skull under the lowest vaulted thing that spans the middle above the rim."""
    found: list[tuple[bool, bool, float, float]] = []
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
        inner = _underside(spots, centre, reach)
        inner = float(np.clip(inner, inside.max(), inside.max() + 0.02 * size))
        if inner < head.top + SUNK * size:
            continue
        flat = bool(np.ptp(inside) < 0.012 * size)
        gapes = float(head.framed[head.piece == number][:, 2].min()) > head.top + GAP * size
        found.append((gapes, flat, inner, float(over.max())))
    if not found:
        return None
    _, _, inner, outer = min(found)
    if outer - inner > 0.015 * size:
        return Reading("underside of what covers the open head", inner, inner - 0.02 * size, min(outer, inner + 0.05 * size))
    dome = _continued(head, outer, size)
    if dome is not None:
        return dome
    low = max(head.top - 0.02 * size, outer - 0.1 * size)
    return Reading("inside of what covers the open head", outer - 0.015 * size, min(low, outer - 0.015 * size), outer)


def _continued(head: Head, outer: float, size: float) -> Reading | None:
    """Where the dome ends that the skin around the opening begins, below ``outer``; None where the skin follows none."""
    skin = head.samples(head.skull & (head.framed[:, 2] > head.top - SKIN * size), head.width / 40)
    dome = top_of_ellipsoid(skin, head.side)
    if dome is None or dome[1] > FOLLOWS or not head.top <= dome[0] <= outer:
        return None
    return Reading("dome that the skin around the opening follows", dome[0], dome[0] - SURE * size, min(dome[0] + SURE * size, outer))


def _falls_off(upper: FloatArray, scalp: FloatArray, centre: FloatArray, width: float, size: float) -> bool:
    """True where the skin over the middle lies higher than all around near the sides: a flat dome, no lid in a rim."""
    if len(_cells(scalp, centre, 0.22 * width)) < CLOSED:
        return False
    apart = np.linalg.norm(upper[:, :2] - centre, axis=1)
    ring = upper[(apart > RING[0] * width) & (apart < RING[1] * width)]
    turn = ((np.arctan2(ring[:, 1] - centre[1], ring[:, 0] - centre[0]) + np.pi) / (2 * np.pi) * 12).astype(int) % 12
    highest = np.full(12, -np.inf)
    np.maximum.at(highest, turn, ring[:, 2])
    return bool(np.isfinite(highest).sum() >= 9 and np.median(scalp[:, 2]) > np.median(highest[np.isfinite(highest)]) + FALL * size)


def _cells(spots: FloatArray, centre: FloatArray, reach: float) -> FloatArray:
    """Which of 36 cells around the middle hold spots (n, 3)."""
    cell = np.floor((spots[:, :2] - centre + reach) / (2 * reach) * 6).astype(int)
    return np.unique(cell[:, 0] * 6 + cell[:, 1])


def _vaulted(scalp: FloatArray, centre: FloatArray, reach: float, size: float) -> bool:
    """True where the head's own skin closes over its middle and rises there: a dome under a quiff, no lid."""
    if len(_cells(scalp, centre, reach)) < CLOSED:
        return False
    apart = np.linalg.norm(scalp[:, :2] - centre, axis=1)
    inner, outer = scalp[apart < 0.4 * reach][:, 2], scalp[apart > 0.8 * reach][:, 2]
    return bool(len(inner) and len(outer) and np.median(inner) > np.percentile(outer, 30) + 0.006 * size)


def _underside(spots: FloatArray, centre: FloatArray, reach: float) -> float:
    """The highest point of the lower of two layers (n, 3), -inf where they cannot be told apart."""
    cells = 14
    column = np.clip(((spots[:, :2] - centre + reach) / (2 * reach) * cells).astype(int), 0, cells - 1)
    index = column[:, 0] * cells + column[:, 1]
    under, over = np.full(cells * cells, np.inf), np.full(cells * cells, -np.inf)
    np.minimum.at(under, index, spots[:, 2])
    np.maximum.at(over, index, spots[:, 2])
    apart = float(np.median((over - under)[np.isfinite(under)]))
    near = np.linalg.norm(spots[:, :2] - centre, axis=1) < 0.6 * reach
    lower = spots[near & (spots[:, 2] < under[index] + 0.3 * apart)]
    return float(lower[:, 2].max(initial=-np.inf))
