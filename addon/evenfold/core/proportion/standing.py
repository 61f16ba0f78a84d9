"""What a figure stands on: its feet told from tails and capes that hang lower, and base plates."""

from dataclasses import dataclass

import numpy as np

from ..figure import FloatArray, IntArray
from .body import BoolArray

CELLS_UP = 66
"""Cells to the figure's height when what hangs near the ground is told apart."""
SLAB = 9
"""So many cells up from the lowest point are looked at first."""
HIGHEST = 30
"""Feet are looked for no further up than this many cells."""
SKIRT = 12
"""Feet under a skirt are looked for up to so many cells. Our choice."""
SHEET, CORD = 0.45, 0.08
"""A sheet is less deep than this share of its width; a cord narrower than this share of the height. Our choice."""
FLAT, THICK = 0.14, 0.3
"""A base is lower than the first, or than the second where it stands out from what is on it."""
THROUGH, ON_IT = 0.15, 0.01
"""What hangs through a base ends no further below it than this share of the height; where something begins so close to
its top, what hangs may also end inside it. Our choice."""
ALIKE = 0.7
"""Of two feet the smaller is as large as this share of the larger, both ways. Our choice."""
MIDDLE = 0.018
"""What lies no further to the side than this is in the middle, as shares of the height here and below."""
ENDS, APART = 0.03, 0.008
"""Of what hangs or stands the lowest of the first is looked at, for a gap of twice the second in the middle. Our choice."""
NARROW, THIN = 0.1, 0.5
"""A tail is narrower than the first; a cape is less deep than the second of its width."""


def find_plate(points: FloatArray, height: FloatArray, piece: IntArray, kept: BoolArray) -> BoolArray:
    """(n,) what belongs to a flat base under the figure; ``height`` (n,) along up.

    A base is one piece at the bottom, flat and broad, and all else begins at its top or hardly below, but for
    a tail or a cape that hangs into or through it.
    """
    none = np.zeros(len(points), bool)
    if not kept.any():
        return none
    size = float(np.ptp(height[kept]))
    count = int(piece.max()) + 1
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, piece[kept], height[kept])
    np.maximum.at(high, piece[kept], height[kept])
    bottom = float(low.min())
    for number in np.flatnonzero((low < bottom + THROUGH * size) & (high - low < THICK * size)):
        mine = kept & (piece == number)
        extent = np.sort(np.ptp(points[mine], axis=0))
        through = (low < low[number] - 0.01 * size) & (high > high[number])
        if (np.abs(low - high[number]) < ON_IT * size).any():
            through |= (low < high[number] - 0.03 * size) & (high > high[number])
        rest = np.delete(low, number)[~np.delete(through, number)]
        rest = rest[np.isfinite(rest)]
        if extent[1] < 0.2 * size or extent[0] > 0.5 * extent[1] or not len(rest):
            continue
        if rest.min() > high[number] - 0.03 * size and (high[number] - low[number] < FLAT * size or _stands_out(points, height, mine, kept, size)):
            return mine
    return none


def _stands_out(points: FloatArray, height: FloatArray, mine: BoolArray, kept: BoolArray, size: float) -> bool:
    """True where a thick base is as broad at its top as anywhere, and broader than what begins there."""
    top = float(height[mine].max())
    lid, over = mine & (height > top - 0.01 * size), kept & ~mine & (height < top + 0.05 * size)
    broad = np.sort(np.ptp(points[mine], axis=0))[1:]
    return bool((np.sort(np.ptp(points[lid], axis=0))[1:] > 0.8 * broad).all() and (np.sort(np.ptp(points[over], axis=0))[1:] < 0.75 * broad).all())


def _components(filled: BoolArray) -> IntArray:
    """Numbers of connected cells, 0 where empty; cells that share a side are connected."""
    label = np.where(filled, np.arange(1, filled.size + 1).reshape(filled.shape), 0)
    while True:
        padded = np.pad(label, 1)
        best = label
        for axis in range(3):
            for shift in (0, 2):
                where = [slice(1, -1)] * 3
                where[axis] = slice(shift, shift + filled.shape[axis])
                best = np.maximum(best, padded[tuple(where)])
        best = np.where(filled, best, 0)
        if (best == label).all():
            return label
        label = best


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
    two = len(parts) == 2 and {1, -1} == {_beside(own, side, size) for own in parts}
    extent = np.array([np.ptp(own[:, :2], axis=0) for own in parts])
    alike = two and bool((extent.min(axis=0) > ALIKE * extent.max(axis=0)).all())
    return Feet(_lowest(parts), told, alike)


def foot_parts(samples: FloatArray, side: float, size: float | None = None) -> tuple[list[FloatArray], bool] | None:
    """The feet with what is over them, a piece (k, 3) each, and whether they were told apart, as in ``feet_of``."""
    low, size = float(samples[:, 2].min()), float(np.ptp(samples[:, 2])) if size is None else size
    if size <= 0:
        return None
    feet = _feet_alone(samples, low, side, size)
    if feet:
        return feet, True
    first: tuple[list[FloatArray], bool] | None = None
    lone, waited = False, 0
    for slab in range(SLAB, HIGHEST, 2):
        parts = _parts(samples, low, slab, size)
        if parts is None:
            return first
        feet = [own for own in parts if not _hangs(own, parts, side, size)] or parts
        beside = [_beside(own, side, size) for own in feet]
        told = len(feet) < len(parts)
        if first is None:
            rest = _without_lone(parts, side, size)
            if rest:
                return rest, True
            first = feet, told
            lone = len(parts) == 1 and float(np.ptp(parts[0][:, 0])) < NARROW * size
            if (told and any(beside)) or not (lone or all(_may_hang(own, side, size) for own in parts)):
                return first
        elif lone and any(beside) and not told:
            rest = _without_lone(parts, side, size)
            if rest:
                return rest, True
            waited += len(parts) > 1
            if waited > 1:
                return first
        elif told and ({1, -1} <= set(beside) or not all(_may_hang(own, side, size) for own in feet)):
            return feet, True
    return first


def _feet_alone(samples: FloatArray, low: float, side: float, size: float) -> list[FloatArray]:
    """The feet beside a sheet or a cord that hangs lower, seen before a skirt over them joins all; else none.

    Two alike beside the middle, or one thing in the middle where they touch.
    """
    cell = size / CELLS_UP
    if not any(_may_hang(own, side, size) for own in _parts(samples, low, 2.0, size) or []):
        return []
    for slab in np.arange(2.0, SKIRT, 0.5):
        parts = _parts(samples, low, slab, size) or []
        hanging = [own for own in parts if _hangs(own, parts, side, size) and _is_sheet_or_cord(own, size)]
        feet = [own for own in parts if not any(own is one for one in hanging)]
        if not hanging or not feet or min(float(np.ptp(own[:, 2])) for own in feet) < 0.25 * cell:
            continue
        two = len(feet) == 2 and {1, -1} == {_beside(own, side, size) for own in feet}
        one = len(feet) == 1 and not _beside(feet[0], side, size) and not _may_hang(feet[0], side, size)
        if one or (two and np.ptp([float(own[:, 2].min()) for own in feet]) < cell):
            return feet
    return []


def _is_sheet_or_cord(own: FloatArray, size: float) -> bool:
    """True for what no foot is: much less deep than wide at every height, or narrow all round."""
    layer = ((own[:, 2] - own[:, 2].min()) / (size / CELLS_UP)).astype(int)
    near, far = np.full(int(layer.max()) + 1, np.inf), np.full(int(layer.max()) + 1, -np.inf)
    np.minimum.at(near, layer, own[:, 1])
    np.maximum.at(far, layer, own[:, 1])
    deep = float((far - near)[np.isfinite(near)].max())
    return bool(deep < SHEET * np.ptp(own[:, 0]) or max(deep, np.ptp(own[:, 0])) < CORD * size)


def _without_lone(parts: list[FloatArray], side: float, size: float) -> list[FloatArray]:
    """The others where the lowest part is narrow and they begin well above it on both sides; else none."""
    parts = sorted(parts, key=lambda own: float(own[:, 2].min()))
    lowest = parts[0]
    centre = lowest[:, :2].mean(axis=0)
    others = [own for own in parts[1:] if np.linalg.norm(own[:, :2].mean(axis=0) - centre) > 0.5 * NARROW * size]
    narrow = float(np.ptp(lowest[:, :2], axis=0).max()) < NARROW * size
    above = others and float(others[0][:, 2].min() - lowest[:, 2].min()) > 2 * size / CELLS_UP
    return others if narrow and above and {1, -1} <= {_beside(own, side, size) for own in others} else []


def _lowest(parts: list[FloatArray]) -> FloatArray:
    return min((own[np.argmin(own[:, 2])] for own in parts), key=lambda point: float(point[2]))


def _parts(samples: FloatArray, low: float, slab: float, size: float) -> list[FloatArray] | None:
    """What hangs together of the lowest ``slab`` cells; None where it is too broad to tell."""
    cell = size / CELLS_UP
    own = samples[samples[:, 2] < low + slab * cell]
    index = ((own - own.min(axis=0)) / cell).astype(int)
    shape = index.max(axis=0) + 1
    if shape[:2].max() > 4 * CELLS_UP:
        return None
    filled = np.zeros(shape, bool)
    filled[tuple(index.T)] = True
    number = _components(filled)[tuple(index.T)]
    return [own[number == one] for one in np.unique(number)]


def _beside(own: FloatArray, side: float, size: float) -> int:
    """+1 left of the middle, -1 right of it, 0 in the middle."""
    off = float(own[:, 0].max() + own[:, 0].min()) / 2 - side
    return 0 if abs(off) <= MIDDLE * size else int(np.sign(off))


def _may_hang(own: FloatArray, side: float, size: float) -> bool:
    """True for what is shaped like a tail or a cape: in the middle, and narrow or thin."""
    wide, deep = np.ptp(own[:, :2], axis=0)
    return not _beside(own, side, size) and bool(wide < NARROW * size or deep < THIN * wide)


def _hangs(own: FloatArray, parts: list[FloatArray], side: float, size: float) -> bool:
    """True for a tail or a cape: in the middle, and narrow, or thin and before or behind the rest.

    What begins only above its top is no rest that it hangs beside.
    """
    top = float(own[:, 2].max())
    if not _may_hang(own, side, size) or not any(part is not own and float(part[:, 2].min()) < top for part in parts):
        return False
    if np.ptp(own[:, 0]) < NARROW * size:
        return True
    if _parts_below(own, side, size):
        return False
    others = [part for part in parts if part is not own and float(part[:, 2].min()) < top]
    back, front = min(float(part[:, 1].min()) for part in others), max(float(part[:, 1].max()) for part in others)
    low, high = float(own[:, 1].min()), float(own[:, 1].max())
    return not back < (low + high) / 2 < front or high < front - 0.05 * size


def _parts_below(own: FloatArray, side: float, size: float) -> bool:
    """True for what ends in two alike, one on each side of the middle, which no sheet does: legs close together."""
    ends = own[own[:, 2] < own[:, 2].min() + ENDS * size]
    off = ends[:, 0] - side
    if np.abs(off).min() < APART * size or not (off > 0).any() or not (off < 0).any():
        return False
    extent = np.array([np.ptp(ends[off * hand > 0, :2], axis=0) for hand in (1, -1)])
    return bool((extent.min(axis=0) > ALIKE * extent.max(axis=0)).all())
