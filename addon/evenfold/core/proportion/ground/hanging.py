"""What hangs near the ground: tails, cords, capes and sheets, told from feet by where they lie and how deep they are."""

import numpy as np

from ...extents import cells_of, extent_of
from ...figure import FloatArray, IntArray
from ..parts.body import BoolArray
from .near_ground import CELLS_UP, Parts

MIDDLE = 0.018
"""What lies no further to the side than this is in the middle, as shares of the height here and below."""
NARROW, THIN = 0.1, 0.5
"""A tail is narrower than the first; a cape is less deep than the second of its width."""
SHEET, CORD = 0.45, 0.08
"""A sheet is less deep than this share of its width; a cord narrower than this share of the height. Our choice."""
CAPE = 0.2
"""A cape is less deep than this share of its width at most places; two shoes side by side are deeper. Our choice."""
BEFORE_FRONT = 0.05
"""A sheet lies before or behind the rest with its middle, or ends so far behind the rest's front. Our choice."""
ALIKE = 0.7
"""Of two feet the smaller is as large as this share of the larger, both ways. Our choice."""
ENDS, APART = 0.03, 0.008
"""Of what hangs or stands the lowest of the first is looked at, for a gap of twice the second in the middle. Our choice."""


def sides_of(low: FloatArray, high: FloatArray, side: float, size: float) -> IntArray:
    """(k,) +1 for boxes (k, 3) left of the middle, -1 right of it, 0 in the middle."""
    off = (low[:, 0] + high[:, 0]) / 2 - side
    return np.where(np.abs(off) <= MIDDLE * size, 0, np.sign(off)).astype(np.int64)


def may_hang(parts: Parts, side: float, size: float) -> BoolArray:
    """(k,) true for what is shaped like a tail or a cape: in the middle, and narrow or thin."""
    wide, deep = parts.extent[:, 0], parts.extent[:, 1]
    return (sides_of(parts.low, parts.high, side, size) == 0) & ((wide < NARROW * size) | (deep < THIN * wide))


def hangs(parts: Parts, may: BoolArray, side: float, size: float) -> BoolArray:
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
    return not back < (low + high) / 2 < front or high < front - BEFORE_FRONT * size


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


def is_sheet_or_cord(own: FloatArray, size: float) -> bool:
    """True for what no foot is: much less deep than wide at every height, or narrow all round."""
    if extent_of(own[:, :2]).max() < CORD * size:
        return True
    layer = ((own[:, 2] - own[:, 2].min()) / (size / CELLS_UP)).astype(int)
    near, far = np.full(int(layer.max()) + 1, np.inf), np.full(int(layer.max()) + 1, -np.inf)
    np.minimum.at(near, layer, own[:, 1])
    np.maximum.at(far, layer, own[:, 1])
    deep = float((far - near)[np.isfinite(near)].max())
    return bool(deep < SHEET * np.ptp(own[:, 0]) or max(deep, np.ptp(own[:, 0])) < CORD * size)
