"""A face without a scalp: where the skull ends under the hair or hat that lies over the opening."""

from dataclasses import dataclass, replace

import numpy as np

from ...figure import FloatArray, IntArray
from ...findings import Reading
from ..fuse import Bracket
from ..head.region import Head
from ..parts.body import Body
from ..points.sample import dense
from .ellipsoid import top_of_ellipsoid

SAMPLES = 40
"""Samples to the head's width."""
REACH = 0.22
"""The middle is what lies within so much of the head's axis, in widths of the head. Our choice."""
ACROSS = 6
"""The middle is looked at in so many cells to each side, 36 in all."""
CLOSED = 26
"""Skin in so many of them closes the head. Our choice."""
OPEN = 18
"""With skin in fewer of them a head is open however high its rim: closed ready models had 23 and more. Our choice."""
SPANS = 24
"""What lies over so many of them covers the opening. Our choice."""

UPPER = 0.6
"""What lies less far under the rim than this, in heads, tells the head's axis and whether it is open. Our choice."""
NEAR_TOP = 0.2
"""Skin that closes the head lies no further under the rim than this, in heads, or over it where it follows ears or horns. Our choice."""
HIGH = 80
"""That is asked of this percentile of the skin's heights. Our choice."""
FLANKS = (0.42, 0.65)
"""The sides of the head lie further aside than the first, those of what is about it no further than the second, in its widths.
Our choice."""
FEWEST = 8
"""Fewer points are no side of a head."""
MASK = 0.6
"""The sides of a face without a back of the head are this much less deep than those of all that follows the head. Our choice."""


@dataclass(frozen=True)
class Middle:
    """What lies within ``reach`` of the head's upright axis at ``centre`` (2,), seen from above."""

    centre: FloatArray
    reach: float

    def apart(self, spots: FloatArray) -> FloatArray:
        """(n,) how far spots (n, 3) are off the axis."""
        return np.asarray(np.linalg.norm(spots[:, :2] - self.centre, axis=1), float)

    def cell_of(self, spots: FloatArray, across: int = ACROSS) -> IntArray:
        """(n, 2) the cells that spots (n, 3) lie in, of so many to each side."""
        return np.asarray(np.floor((spots[:, :2] - self.centre + self.reach) / (2 * self.reach) * across).astype(int))

    def filled(self, spots: FloatArray) -> int:
        """How many cells hold spots (n, 3)."""
        cell = self.cell_of(spots)
        return len(np.unique(cell[:, 0] * ACROSS + cell[:, 1]))


def under_cover(body: Body, head: Head, size: float) -> Reading | None:
    """A face without a scalp: the skull ends between its rim and what lies over it."""
    upper = head.samples(head.skull & (head.framed[:, 2] > head.top - UPPER * size), head.width / SAMPLES)
    if not len(upper):
        return None
    middle = Middle(_axis(upper, head), REACH * head.width)
    scalp = upper[middle.apart(upper) < middle.reach]
    if _closed_by_roots(body, head, middle, size):
        return None
    if len(scalp) and middle.filled(scalp) >= OPEN and float(np.percentile(scalp[:, 2], HIGH)) > head.top - NEAR_TOP * size:
        return None
    if _vaulted(scalp, middle, size) or _falls_off(upper, scalp, middle, head.width, size):
        return None
    return _over(body, head, middle, size)


def _axis(upper: FloatArray, head: Head) -> FloatArray:
    """(2,) the head's upright axis by its two sides, where no muzzle and no quiff moves it.

    The sides of a face alone end far in front of those of what covers it: then these tell.
    """
    flank = upper[np.abs(upper[:, 0] - head.side) > FLANKS[0] * head.width]
    whole = upper if len(flank) < FEWEST else flank
    every = head.framed[head.own & (head.framed[:, 2] > head.top - UPPER * head.size)]
    aside = np.abs(every[:, 0] - head.side)
    around = every[(aside > FLANKS[0] * head.width) & (aside < FLANKS[1] * head.width)]
    if len(around) >= FEWEST and np.ptp(whole[:, 1]) < MASK * np.ptp(around[:, 1]):
        whole = around
    return np.array([head.side, (whole[:, 1].max() + whole[:, 1].min()) / 2])


def _closed_by_roots(body: Body, head: Head, middle: Middle, size: float) -> bool:
    """True where skin of the skull's own piece that follows ears or horns closes the middle together with the rest."""
    if not len(body.beside) or not body.beside.any():
        return False
    roots = body.beside & np.isin(head.piece, np.unique(head.piece[head.skull])) & (head.framed[:, 2] < head.top + NEAR_TOP * size)
    rows = head.skull | roots
    whole = replace(head, faces=body.triangles[rows[body.triangles].all(axis=1)])
    skin = whole.samples(rows & (head.framed[:, 2] > head.top - NEAR_TOP * size), head.width / SAMPLES)
    skin = skin[middle.apart(skin) < middle.reach]
    return len(skin) > 0 and middle.filled(skin) >= CLOSED


INNER, OUTER = 0.4, 0.8
"""A dome rises from beyond the second share of the middle's reach to within the first. Our choice."""
LOW, RISES = 30, 0.006
"""Its inner part lies over the first percentile of the outer one's heights by more than the second, in heads. Our choice."""


def _vaulted(scalp: FloatArray, middle: Middle, size: float) -> bool:
    """True where the head's own skin closes over its middle and rises there: a dome under a quiff, no lid."""
    if middle.filled(scalp) < CLOSED:
        return False
    apart = middle.apart(scalp)
    inner, outer = scalp[apart < INNER * middle.reach][:, 2], scalp[apart > OUTER * middle.reach][:, 2]
    return bool(len(inner) and len(outer) and np.median(inner) > np.percentile(outer, LOW) + RISES * size)


RING, FALL = (0.36, 0.46), 0.015
"""A flat dome falls by this share of the head so far from its middle, in widths; a lid does not. Our choice."""
SECTORS, SEEN = 12, 9
"""That ring is looked at in so many sectors, of which at least the second are to be seen. Our choice."""


def _falls_off(upper: FloatArray, scalp: FloatArray, middle: Middle, width: float, size: float) -> bool:
    """True where the skin over the middle lies higher than all around near the sides: a flat dome, no lid in a rim."""
    if middle.filled(scalp) < CLOSED:
        return False
    apart = middle.apart(upper)
    ring = upper[(apart > RING[0] * width) & (apart < RING[1] * width)]
    angle = np.arctan2(ring[:, 1] - middle.centre[1], ring[:, 0] - middle.centre[0])
    sector = ((angle + np.pi) / (2 * np.pi) * SECTORS).astype(int) % SECTORS
    highest = np.full(SECTORS, -np.inf)
    np.maximum.at(highest, sector, ring[:, 2])
    seen = np.isfinite(highest)
    return bool(seen.sum() >= SEEN and np.median(scalp[:, 2]) > np.median(highest[seen]) + FALL * size)


GAP = -0.1
"""What closes an open head comes down past its rim by at least this share of the head; a hat's brim over it
does not."""
SUNK = -0.01
"""What has its inside this much under the rim of an open head, in heads, sinks into it and is no cover. Our choice."""
LOWEST = 0.1
"""What lies further under the rim than this, in heads, is not looked at. Our choice."""
SPOTS = 12
"""Spots of a cover to the middle's reach."""
VAULT = 0.02
"""The highest place of its underside lies no further over the highest of the cells' lowest than this, in heads. Our choice."""
FLAT = 0.012
"""An underside whose cells differ by less than this, in heads, is flat. Our choice."""
THICK = 0.015
"""A cover thicker than this, in heads, shows the skull's top by its underside; a thinner one is a shell as thick as this
over the skull. Our choice."""
UNDERSIDE = Bracket(0.02, 0.05)
"""How far the skull's top may lie off that underside, but no higher than the cover. Our choice."""
UNDER_RIM, UNDER_SHELL = 0.02, 0.1
"""Under a shell it lies no further under the rim than the first, nor under the shell than the second, in heads. Our choice."""


@dataclass(frozen=True, order=True)
class _Cover:
    """What lies over the opening, the likelier the less: it ``gapes`` over the rim, is ``flat``, and from where to where it goes."""

    gapes: bool
    flat: bool
    inner: float
    outer: float


def _over(body: Body, head: Head, middle: Middle, size: float) -> Reading | None:
    """The skull under the lowest vaulted thing that spans the middle above the rim."""
    faces = body.triangles[~head.skull[body.triangles].any(axis=1)]
    place = head.framed[faces].mean(axis=1)
    extent = np.ptp(head.framed[faces], axis=1).max(axis=1)
    faces = faces[(middle.apart(place) < middle.reach + extent) & (place[:, 2] + extent > head.top - LOWEST * size)]
    pieces = np.unique(head.piece[faces[:, 0]]) if len(faces) else ()
    covers = [_cover(head, faces, int(number), middle, size) for number in pieces]
    found = [cover for cover in covers if cover is not None]
    if not found:
        return None
    inner, outer = min(found).inner, min(found).outer
    if outer - inner > THICK * size:
        under = UNDERSIDE.about("underside of what covers the open head", inner, size)
        return replace(under, high=min(outer, under.high))
    dome = _continued(head, outer, size)
    if dome is not None:
        return dome
    height = outer - THICK * size
    low = max(head.top - UNDER_RIM * size, outer - UNDER_SHELL * size)
    return Reading("inside of what covers the open head", height, min(low, height), outer)


def _cover(head: Head, faces: IntArray, number: int, middle: Middle, size: float) -> _Cover | None:
    """The piece ``number`` as a cover, of ``faces`` (t, 3) near the middle; None where it spans too little or sinks in."""
    used, compact = np.unique(faces[head.piece[faces[:, 0]] == number], return_inverse=True)
    spots = dense(head.framed[used], compact.reshape(-1, 3), middle.reach / SPOTS)
    spots = spots[(np.abs(spots[:, :2] - middle.centre) < middle.reach).all(axis=1) & (spots[:, 2] > head.top - LOWEST * size)]
    if middle.filled(spots) < SPANS:
        return None
    under, over, _ = _layers(spots, middle, ACROSS)
    lowest = under[np.isfinite(under)]
    inner = float(np.clip(_underside(spots, middle), lowest.max(), lowest.max() + VAULT * size))
    if inner < head.top + SUNK * size:
        return None
    gapes = float(head.framed[head.piece == number][:, 2].min()) > head.top + GAP * size
    return _Cover(gapes, bool(np.ptp(lowest) < FLAT * size), inner, float(over.max()))


FINE = 14
"""Two layers are told apart in so many cells to each side."""
CENTRAL, LOWER = 0.6, 0.3
"""The lower layer is looked at within the first share of the middle's reach; it is what lies over the lowest of its cell by
less than the second share of how far the layers are apart. Our choice."""


def _underside(spots: FloatArray, middle: Middle) -> float:
    """The highest point of the lower of two layers (n, 3), -inf where they cannot be told apart."""
    under, over, index = _layers(spots, middle, FINE)
    apart = float(np.median((over - under)[np.isfinite(under)]))
    near = middle.apart(spots) < CENTRAL * middle.reach
    lower = spots[near & (spots[:, 2] < under[index] + LOWER * apart)]
    return float(lower[:, 2].max(initial=-np.inf))


def _layers(spots: FloatArray, middle: Middle, across: int) -> tuple[FloatArray, FloatArray, IntArray]:
    """The lowest and the highest of the spots (n, 3) in each cell, and the cell of each spot (n,)."""
    cell = np.clip(middle.cell_of(spots, across), 0, across - 1)
    index = cell[:, 0] * across + cell[:, 1]
    under, over = np.full(across * across, np.inf), np.full(across * across, -np.inf)
    np.minimum.at(under, index, spots[:, 2])
    np.maximum.at(over, index, spots[:, 2])
    return under, over, index


SKIN, FOLLOWS = 0.35, 0.016
"""The skin from the first share of the head under its rim up follows an ellipsoid where it is off it by no more than the
second. Our choice."""
SURE = 0.018
"""How far the top of that ellipsoid may be off, in heads: up to 0.014 on 22 invented heads."""


def _continued(head: Head, outer: float, size: float) -> Reading | None:
    """Where the dome ends that the skin around the opening begins, below ``outer``; None where the skin follows none."""
    skin = head.samples(head.skull & (head.framed[:, 2] > head.top - SKIN * size), head.width / SAMPLES)
    dome = top_of_ellipsoid(skin, head.side)
    if dome is None or dome[1] > FOLLOWS or not head.top <= dome[0] <= outer:
        return None
    return Reading("dome that the skin around the opening follows", dome[0], dome[0] - SURE * size, min(dome[0] + SURE * size, outer))
