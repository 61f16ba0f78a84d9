"""What a figure stands on: its feet told from tails and capes that hang lower."""

from dataclasses import dataclass

import numpy as np

from ...extents import high_of, low_of
from ...figure import FloatArray, IntArray
from ..parts.body import BoolArray
from .hanging import ALIKE, NARROW, SHEET, THIN, hangs, is_sheet_or_cord, may_hang, sides_of
from .near_ground import CELLS_UP, Parts, lowest_parts

SLAB, HIGHEST, STEP = 9, 30, 2
"""What hangs together is looked at first in so many cells up from the lowest point, then up to the second, so many more each time."""
UNDER_SKIRT, SKIRT, FINE_STEP = 2.0, 12, 0.5
"""The same for feet under a skirt and beside what hangs lower. Our choice."""
FEWEST_UP = 0.25
"""Feet rise by so much of a cell to be seen under a skirt. Our choice."""
MOST_FEET = 2
"""Where more things than this cannot hang, more than feet is seen. Our choice."""
LONE, WELL_ABOVE = 0.5 * NARROW, 2
"""Beside a lone narrow thing that is lowest, others lie further off than the first, in heights of the figure, and begin so
many cells over it where they are the feet. Our choice."""
TWIN, LOWER = 0.012, 0.3
"""Boxes of two feet mirror each other within the first share of the height; what begins lower than they do by the second,
in cells, is looked at. Our choice."""
MANY = 40
"""Of more parts than this near the ground none are told to be feet by mirroring each other. Our choice."""


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
    two = len(parts) == 2 and {1, -1} == set(sides_of(low, high, side, size).tolist())
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
    for slab in range(SLAB, HIGHEST, STEP):
        parts = lowest_parts(samples, low, slab, size)
        if parts is None:
            return first
        may = may_hang(parts, side, size)
        hanging = hangs(parts, may, side, size)
        standing = np.flatnonzero(~hanging) if not hanging.all() else np.arange(len(parts))
        beside = sides_of(parts.low, parts.high, side, size)[standing]
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
    first = lowest_parts(samples, low, UNDER_SKIRT, size)
    if first is None or not may_hang(first, side, size).any():
        return []
    for slab in np.arange(UNDER_SKIRT, SKIRT, FINE_STEP):
        parts = lowest_parts(samples, low, slab, size)
        if parts is None:
            continue
        may = may_hang(parts, side, size)
        if len(parts) - np.count_nonzero(may) > MOST_FEET:
            continue
        hanging = np.flatnonzero(hangs(parts, may, side, size))
        hanging = np.array([one for one in hanging if is_sheet_or_cord(parts.own(int(one)), size)], np.int64)
        feet = np.setdiff1d(np.arange(len(parts)), hanging)
        if not len(hanging) or not len(feet) or parts.extent[feet, 2].min() < FEWEST_UP * cell:
            continue
        beside = sides_of(parts.low, parts.high, side, size)[feet]
        two = len(feet) == 2 and {1, -1} == set(beside.tolist())
        one = len(feet) == 1 and not beside[0] and not may[feet[0]]
        if one or (two and np.ptp(parts.low[feet, 2]) < cell):
            return parts.chosen(feet)
    return []


def _feet_clear(samples: FloatArray, low: float, side: float, size: float) -> list[FloatArray]:
    """Even feet that all which begins lower lies wholly behind, or ahead of: a tail that sways, the strips of a cape; else none."""
    for slab in np.arange(UNDER_SKIRT, SKIRT, FINE_STEP):
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
    even = np.diag(twin) & ~may_hang(parts, side, size)
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


def _without_lone(parts: Parts, side: float, size: float) -> list[FloatArray]:
    """The others where the lowest part is narrow and they begin well above it on both sides; else none."""
    lowest = int(np.argmin(parts.low[:, 2]))
    if parts.extent[lowest, :2].max() >= NARROW * size:
        return []
    centre = parts.centres()
    others = np.flatnonzero(np.linalg.norm(centre - centre[lowest], axis=1) > LONE * size)
    above = len(others) and parts.low[others, 2].min() - parts.low[lowest, 2] > WELL_ABOVE * size / CELLS_UP
    both = above and {1, -1} <= set(sides_of(parts.low, parts.high, side, size)[others].tolist())
    return parts.chosen(others) if both else []


def _lowest(parts: list[FloatArray]) -> FloatArray:
    return min((own[np.argmin(own[:, 2])] for own in parts), key=lambda point: float(point[2]))
