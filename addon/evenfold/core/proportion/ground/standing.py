"""What a figure stands on: its feet told from tails and capes that hang lower."""

from dataclasses import dataclass

import numpy as np

from ...extents import cells_of, extent_of, high_of, low_of
from ...figure import FloatArray, IntArray
from ..parts.body import BoolArray
from .near_ground import CELLS_UP, Parts, lowest_parts

SLAB = 9
"""So many cells up from the lowest point are looked at first."""
HIGHEST = 30
"""Feet are looked for no further up than this many cells."""
SKIRT = 12
"""Feet under a skirt are looked for up to so many cells. Our choice."""
SHEET, CORD = 0.45, 0.08
"""A sheet is less deep than this share of its width; a cord narrower than this share of the height. Our choice."""
ALIKE = 0.7
"""Of two feet the smaller is as large as this share of the larger, both ways. Our choice."""
MIDDLE = 0.018
"""What lies no further to the side than this is in the middle, as shares of the height here and below."""
ENDS, APART = 0.03, 0.008
"""Of what hangs or stands the lowest of the first is looked at, for a gap of twice the second in the middle. Our choice."""
TWIN, LOWER = 0.012, 0.3
"""Boxes of two feet mirror each other within the first share of the height; what begins lower than they do by the second,
in cells, is looked at. Our choice."""
MANY = 40
"""Of more parts than this near the ground none are told to be feet by mirroring each other. Our choice."""
CAPE = 0.2
"""A cape is less deep than this share of its width at most places; two shoes side by side are deeper. Our choice."""
NARROW, THIN = 0.1, 0.5
"""A tail is narrower than the first; a cape is less deep than the second of its width."""


@dataclass(frozen=True)
class Feet:
    """The feet's lowest ``point`` (3,), whether they were ``told`` apart from what hangs, and whether
    they are ``two`` alike beside the middle."""

    point: FloatArray
    told: bool
    two: bool


def feet_of(samples: FloatArray, side: float, size: float | None = None) -> Feet | None:
    """The feet of samples (n, 3) of a figure whose middle is at ``side``.

    ``size`` is the figure's height where the samples do not reach to its top. Where all near the
    lowest point hangs in the middle, the feet are looked for further up.
    """
    size = float(np.ptp(samples[:, 2])) if size is None else size
    found = foot_parts(samples, side, size)
    if found is None:
        return None
    parts, told = found
    low, high = np.array([low_of(own) for own in parts]), np.array([high_of(own) for own in parts])
    two = len(parts) == 2 and {1, -1} == set(_beside(low, high, side, size).tolist())
    extent = (high - low)[:, :2]
    alike = two and bool((extent.min(axis=0) > ALIKE * extent.max(axis=0)).all())
    return Feet(_lowest(parts), told, alike)


def foot_parts(samples: FloatArray, side: float, size: float | None = None) -> tuple[list[FloatArray], bool] | None:
    """The feet with what is over them, a piece (k, 3) each, and whether they were told apart, as in ``feet_of``."""
    low, size = float(samples[:, 2].min()), float(np.ptp(samples[:, 2])) if size is None else size
    if size <= 0:
        return None
    feet = _feet_alone(samples, low, side, size) or _feet_clear(samples, low, side, size)
    if feet:
        return feet, True
    first: tuple[list[FloatArray], bool] | None = None
    lone, waited = False, 0
    for slab in range(SLAB, HIGHEST, 2):
        parts = lowest_parts(samples, low, slab, size)
        if parts is None:
            return first
        may = _may_hang(parts, side, size)
        hanging = _hangs(parts, may, side, size)
        standing = np.flatnonzero(~hanging) if not hanging.all() else np.arange(len(parts))
        beside = _beside(parts.low, parts.high, side, size)[standing]
        told = len(standing) < len(parts)
        if first is None:
            rest = _without_lone(parts, side, size)
            if rest:
                return rest, True
            first = parts.chosen(standing), told
            lone = len(parts) == 1 and float(parts.extent[0, 0]) < NARROW * size
            if (told and beside.any()) or not (lone or may.all()):
                return first
        elif lone and beside.any() and not told:
            rest = _without_lone(parts, side, size)
            if rest:
                return rest, True
            waited += len(parts) > 1
            if waited > 1:
                return first
        elif told and ({1, -1} <= set(beside.tolist()) or not may[standing].all()):
            return parts.chosen(standing), True
    return first


def _feet_alone(samples: FloatArray, low: float, side: float, size: float) -> list[FloatArray]:
    """The feet beside a sheet or a cord that hangs lower, seen before a skirt over them joins all; else none.

    Two alike beside the middle, or one thing in the middle where they touch.
    """
    cell = size / CELLS_UP
    first = lowest_parts(samples, low, 2.0, size)
    if first is None or not _may_hang(first, side, size).any():
        return []
    for slab in np.arange(2.0, SKIRT, 0.5):
        parts = lowest_parts(samples, low, slab, size)
        if parts is None:
            continue
        may = _may_hang(parts, side, size)
        if len(parts) - np.count_nonzero(may) > 2:
            continue
        hanging = np.flatnonzero(_hangs(parts, may, side, size))
        hanging = np.array([one for one in hanging if _is_sheet_or_cord(parts.own(int(one)), size)], np.int64)
        feet = np.setdiff1d(np.arange(len(parts)), hanging)
        if not len(hanging) or not len(feet) or parts.extent[feet, 2].min() < 0.25 * cell:
            continue
        beside = _beside(parts.low, parts.high, side, size)[feet]
        two = len(feet) == 2 and {1, -1} == set(beside.tolist())
        one = len(feet) == 1 and not beside[0] and not may[feet[0]]
        if one or (two and np.ptp(parts.low[feet, 2]) < cell):
            return parts.chosen(feet)
    return []


def _feet_clear(samples: FloatArray, low: float, side: float, size: float) -> list[FloatArray]:
    """Even feet that all which begins lower lies wholly behind, or ahead of: a tail that sways, the strips of a cape; else none."""
    for slab in np.arange(2.0, SKIRT, 0.5):
        parts = lowest_parts(samples, low, slab, size)
        if parts is None or len(parts) > MANY:
            return []
        feet = _even_feet(parts, side, size)
        lower = parts.low[:, 2] < parts.low[feet, 2].min(initial=np.inf) - LOWER * size / CELLS_UP
        if not len(feet):
            continue
        if not lower.any():
            return []
        clear = (parts.high[:, 1] < parts.low[feet, 1].min()) | (parts.low[:, 1] > parts.high[feet, 1].max())
        thin = parts.extent[:, 1] < SHEET * parts.extent[:, 0]
        if clear[lower].all() and (thin | ~_is_twin(parts, side, size).any(axis=1))[lower].all():
            return parts.chosen(feet)
    return []


def _even_feet(parts: Parts, side: float, size: float) -> IntArray:
    """Two parts that mirror each other and are no sheets, the lowest such; or one even part where none hangs."""
    twin = np.triu(_is_twin(parts, side, size))
    thin = parts.extent[:, 1] < THIN * parts.extent[:, 0]
    twin[thin], twin[:, thin] = False, False
    even = np.diag(twin) & ~_may_hang(parts, side, size)
    np.fill_diagonal(twin, even)
    rows = np.argwhere(twin)
    if not len(rows):
        return np.zeros(0, np.int64)
    return np.unique(rows[np.argmin(parts.low[rows[:, 0], 2])])


def _is_twin(parts: Parts, side: float, size: float) -> BoolArray:
    """(k, k) true for parts whose boxes mirror each other about ``side`` and begin at one height."""
    turned_low, turned_high = parts.low.copy(), parts.high.copy()
    turned_low[:, 0], turned_high[:, 0] = 2 * side - parts.high[:, 0], 2 * side - parts.low[:, 0]
    off = np.abs(parts.low[:, None] - turned_low[None]).max(axis=2)
    off = np.maximum(off, np.abs(parts.high[:, None, :2] - turned_high[None, :, :2]).max(axis=2))
    return np.asarray(off < TWIN * size, bool)


def _is_sheet_or_cord(own: FloatArray, size: float) -> bool:
    """True for what no foot is: much less deep than wide at every height, or narrow all round."""
    if extent_of(own[:, :2]).max() < CORD * size:
        return True
    layer = ((own[:, 2] - own[:, 2].min()) / (size / CELLS_UP)).astype(int)
    near, far = np.full(int(layer.max()) + 1, np.inf), np.full(int(layer.max()) + 1, -np.inf)
    np.minimum.at(near, layer, own[:, 1])
    np.maximum.at(far, layer, own[:, 1])
    deep = float((far - near)[np.isfinite(near)].max())
    return bool(deep < SHEET * np.ptp(own[:, 0]) or max(deep, np.ptp(own[:, 0])) < CORD * size)


def _without_lone(parts: Parts, side: float, size: float) -> list[FloatArray]:
    """The others where the lowest part is narrow and they begin well above it on both sides; else none."""
    lowest = int(np.argmin(parts.low[:, 2]))
    if parts.extent[lowest, :2].max() >= NARROW * size:
        return []
    centre = parts.centres()
    others = np.flatnonzero(np.linalg.norm(centre - centre[lowest], axis=1) > 0.5 * NARROW * size)
    above = len(others) and parts.low[others, 2].min() - parts.low[lowest, 2] > 2 * size / CELLS_UP
    both = above and {1, -1} <= set(_beside(parts.low, parts.high, side, size)[others].tolist())
    return parts.chosen(others) if both else []


def _lowest(parts: list[FloatArray]) -> FloatArray:
    return min((own[np.argmin(own[:, 2])] for own in parts), key=lambda point: float(point[2]))


def _beside(low: FloatArray, high: FloatArray, side: float, size: float) -> IntArray:
    """(k,) +1 for boxes (k, 3) left of the middle, -1 right of it, 0 in the middle."""
    off = (low[:, 0] + high[:, 0]) / 2 - side
    return np.where(np.abs(off) <= MIDDLE * size, 0, np.sign(off)).astype(np.int64)


def _may_hang(parts: Parts, side: float, size: float) -> BoolArray:
    """(k,) true for what is shaped like a tail or a cape: in the middle, and narrow or thin."""
    wide, deep = parts.extent[:, 0], parts.extent[:, 1]
    return (_beside(parts.low, parts.high, side, size) == 0) & ((wide < NARROW * size) | (deep < THIN * wide))


def _hangs(parts: Parts, may: BoolArray, side: float, size: float) -> BoolArray:
    """(k,) true for tails and capes: of those that ``may`` hang the narrow ones, and those before or behind the rest.

    What begins only above its top is no rest that a part hangs beside.
    """
    begin, top = np.sort(parts.low[:, 2]), parts.high[:, 2]
    others = np.searchsorted(begin, top) - (parts.low[:, 2] < top)
    candidates = may & (others > 0)
    hanging = candidates & (parts.extent[:, 0] < NARROW * size)
    for one in np.flatnonzero(candidates & ~hanging):
        hanging[one] = _hangs_as_sheet(parts, int(one), side, size)
    return hanging


def _hangs_as_sheet(parts: Parts, one: int, side: float, size: float) -> bool:
    """True for a sheet before or behind the rest; feet close together are no sheet, whatever hangs beside or over them."""
    own = parts.own(one)
    if _parts_below(own, side, size) or not _is_thin(own, size) or not _is_thin(own[own[:, 2] < own[:, 2].min() + ENDS * size], size):
        return False
    others = parts.low[:, 2] < parts.high[one, 2]
    others[one] = False
    back, front = float(parts.low[others, 1].min()), float(parts.high[others, 1].max())
    low, high = float(parts.low[one, 1]), float(parts.high[one, 1])
    return not back < (low + high) / 2 < front or high < front - 0.05 * size


def _is_thin(own: FloatArray, size: float) -> bool:
    """True for samples (n, 3) that are hardly deep at most places from side to side, curved as they may be: a cape, no feet."""
    place = cells_of(own, size / CELLS_UP)
    column = place[:, 0] * (int(place[:, 2].max()) + 1) + place[:, 2]
    order = np.argsort(column, kind="stable")
    first = np.flatnonzero(np.diff(column[order], prepend=-1))
    deep = np.maximum.reduceat(own[order, 1], first) - np.minimum.reduceat(own[order, 1], first)
    return bool(np.median(deep) < CAPE * np.ptp(own[:, 0]))


def _parts_below(own: FloatArray, side: float, size: float) -> bool:
    """True for what ends in two alike, one on each side of the middle, which no sheet does: legs close together."""
    ends = own[own[:, 2] < own[:, 2].min() + ENDS * size]
    off = ends[:, 0] - side
    if np.abs(off).min() < APART * size or not (off > 0).any() or not (off < 0).any():
        return False
    extent = np.array([np.ptp(ends[off * hand > 0, :2], axis=0) for hand in (1, -1)])
    return bool((extent.min(axis=0) > ALIKE * extent.max(axis=0)).all())
