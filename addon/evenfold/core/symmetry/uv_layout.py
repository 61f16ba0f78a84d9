"""How the UVs of one half lie against those of the other: the map's way, and each island's.

A map's way is found by vote: mirrored across an upright line (u = c), mirrored across a level one
(v = c), or stacked in the same place (whole tiles apart count as the same). An island that goes
another way may be placed anywhere, turned or flipped, as packing leaves it; it must only keep its
shape. What keeps none of these is free, and nothing is claimed of it.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray
from ..layers import Float32Array
from ..pairing.islands import components
from .elements import mixed

DECIDED = 0.5
"""From this share of an island's corners (or the map's) on, a way is the island's. Our choice."""
SHIFT = 0.05
"""An island laid in a way but up to this far off was pushed, not packed elsewhere. Our choice."""
NEAR = 0.25
"""The same for an island bent or turned, by its typical distance in its own size. Our choice."""
MANY = 16
"""Corners of one island that do not agree on a way by chance. Our choice."""
PACKED = 0.75
"""Like DECIDED, for an island that keeps only its shape. Our choice: a turn and a shift always
fit the corners of a single edge."""
ROUNDS = 12
"""Rounds of reweighting; each leaves about half of what outliers pulled."""


_BACK = {"upright": np.array([-1.0, 1.0]), "level": np.array([1.0, -1.0]), "stacked": np.ones(2)}
"""What a step of the partner is on the corner's own side."""


@dataclass(frozen=True)
class Layout:
    """``way`` is upright, level, stacked or none, ``line`` where a mirroring way's line lies.

    ``off`` (k,) is how far each corner lies off what its island keeps to, NaN where that is
    free; ``free`` and ``islands`` count islands. ``away`` (k, 2) is how far the partner lies
    from the corner's image, ``back`` (k, 2) how far the corner must go to meet its partner.
    """

    way: str
    line: float
    off: FloatArray
    free: int
    islands: int
    away: FloatArray = field(default_factory=lambda: np.zeros((0, 2)))
    back: FloatArray = field(default_factory=lambda: np.zeros((0, 2)))


def uv_islands(corners: IntArray, face: IntArray, places: Float32Array) -> IntArray:
    """(c,) a number from 0 for the UV island of each corner: faces that share a UV at a vertex."""
    if not len(corners):
        return np.zeros(0, np.int64)
    spots = np.ascontiguousarray(np.nan_to_num(places) + np.float32(0.0), np.float32)
    keys = mixed(spots.view(np.int64)[:, 0]) + (mixed(corners) << np.uint64(1))
    order = np.argsort(keys)
    fresh = np.ones(len(order), bool)
    fresh[1:] = np.diff(keys[order]) != 0
    spot = np.empty(len(order), np.int64)
    spot[order] = np.cumsum(fresh) - 1
    inner = np.flatnonzero(face[1:] == face[:-1])
    label = components(int(spot.max()) + 1, np.stack([spot[inner], spot[inner + 1]], axis=1))
    return (np.cumsum(label == np.arange(len(label))) - 1)[label[spot]]


def layout_of(mine: FloatArray, other: FloatArray, island: IntArray, limit: float) -> Layout:
    """The layout of (k, 2) UVs against their partners' (k, 2), in islands (k,) numbered from 0."""
    count = int(island.max()) + 1
    upright, u = _across(mine, other, 0, limit)
    level, v = _across(mine, other, 1, limit)
    gaps = {"upright": upright, "level": level, "stacked": _tiles(other - mine)}
    fits = np.stack([_length(gap) <= limit for gap in gaps.values()])
    whole = fits.mean(axis=1)
    first = int(whole.argmax())
    shares = np.stack([_share(fit, island, count) for fit in fits])
    sizes = np.bincount(island, minlength=count)
    stands = ((shares >= DECIDED) & (shares * sizes >= MANY)).any(axis=1) | (whole >= DECIDED)
    shares[~stands] = 0.0
    shares[first] += 1e-9
    taken = np.where(shares.max(axis=0) >= DECIDED, shares.argmax(axis=0), -1)
    away, back = np.full(mine.shape, np.nan), np.full(mine.shape, np.nan)
    for number, (way, gap) in enumerate(gaps.items()):
        rows = taken[island] == number
        away[rows], back[rows] = gap[rows], gap[rows] * _BACK[way]
    for number in sorted(np.flatnonzero(stands).tolist(), key=lambda one: -whole[one]):
        way = list(gaps)[number]
        rows = _near(gaps[way], mine, island, count, limit, away, stacked=way == "stacked")
        away[rows], back[rows] = gaps[way][rows], gaps[way][rows] * _BACK[way]
    _settle_packed(mine, other, island, count, limit, away, back)
    off = _length(away)
    free = np.unique(island[np.isnan(off)])
    way = list(gaps)[first] if whole[first] >= DECIDED else "none"
    line = {"upright": u, "level": v}.get(way, np.nan)
    return Layout(way, line, off, len(free), count, away, back)


def _across(
    mine: FloatArray, other: FloatArray, axis: int, limit: float
) -> tuple[FloatArray, float]:
    """How far each partner lies off the mirror image across the line that most agree on, and where
    that line lies; infinitely far where none do."""
    along = _tiles(other[:, 1 - axis] - mine[:, 1 - axis])
    total = mine[:, axis] + other[:, axis]
    agreed = np.sort(total[np.abs(along) <= limit])
    gap = np.empty_like(mine)
    gap[:, 1 - axis] = along
    twice = _densest(agreed, limit) if len(agreed) else np.inf
    gap[:, axis] = total - twice
    return gap, twice / 2.0


def _densest(ordered: FloatArray, reach: float) -> float:
    """The middle of the window, twice ``reach`` wide, that holds most of the ascending values."""
    ends = np.searchsorted(ordered, ordered + 2.0 * reach, side="right")
    start = int(np.argmax(ends - np.arange(len(ordered))))
    return float(np.median(ordered[start : ends[start]]))


def _tiles(gap: FloatArray) -> FloatArray:
    return gap - np.round(gap)


def _near(
    gap: FloatArray,
    mine: FloatArray,
    island: IntArray,
    count: int,
    limit: float,
    away: FloatArray,
    *,
    stacked: bool,
) -> IntArray:
    """The corners, not yet settled, of islands that were pushed, bent or turned a little off a way.

    A copy beside its original was packed there; one that still lies over it was pushed.
    """
    open_rows = np.flatnonzero(np.isnan(away[:, 0]) & np.isfinite(gap).all(axis=1))
    if not len(open_rows):
        return open_rows
    own, gap = island[open_rows], gap[open_rows]
    shift = np.stack([_median(column, own, count) for column in gap.T], axis=1)
    pushed = _share(_length(gap - shift[own]) <= limit, own, count) >= DECIDED
    radius = _radius(mine[open_rows], own, count)
    pushed &= _length(shift) <= (np.minimum(SHIFT, radius) if stacked else SHIFT)
    near = pushed | (_median(_length(gap), own, count) <= NEAR * radius)
    return open_rows[near[own]]


def _settle_packed(
    mine: FloatArray, other: FloatArray, island: IntArray, count: int, limit: float,
    away: FloatArray, back: FloatArray,
) -> None:
    """Fit what is open island by island: turned and shifted, flipped or not."""
    rows = np.flatnonzero(np.isnan(away[:, 0]))
    if not len(rows):
        return
    own = island[rows]
    a = mine[rows, 0] + 1j * mine[rows, 1]
    b = other[rows, 0] + 1j * other[rows, 1]
    best = np.zeros(count)
    for source, flipped in ((a, False), (np.conj(a), True)):
        apart, turn = _fit(source, b, own, count, limit)
        share = _share(np.abs(apart) <= limit, own, count)
        share[np.bincount(own, minlength=count) < MANY // 2] = 0.0
        better = (share >= PACKED) & (share > best)
        taken = better[own]
        step = np.conj(turn[own]) * apart
        step = np.conj(step) if flipped else step
        away[rows[taken]] = np.stack([apart.real, apart.imag], axis=1)[taken]
        back[rows[taken]] = np.stack([step.real, step.imag], axis=1)[taken]
        best[better] = share[better]


def _fit(
    a: NDArray[np.complex128], b: NDArray[np.complex128], own: IntArray, count: int, limit: float
) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """(k,) steps to the partner after the best turn and shift of each island, outliers weighing
    little; and each island's turn."""
    weight = np.ones(len(a))
    apart, turn = np.zeros_like(a), np.ones(count, np.complex128)
    for _ in range(ROUNDS):
        total = np.maximum(np.bincount(own, weight, minlength=count), 1e-300)
        from_a = a - (_sums(weight * a, own, count) / total)[own]
        from_b = b - (_sums(weight * b, own, count) / total)[own]
        turn = _sums(weight * from_b * np.conj(from_a), own, count)
        size = np.abs(turn)
        turn = np.where(size > 0.0, turn / np.where(size > 0.0, size, 1.0), 1.0)
        apart = from_b - turn[own] * from_a
        weight = 1.0 / np.maximum(np.abs(apart), 0.01 * limit)
    return apart, turn


def _sums(values: NDArray[np.complex128], own: IntArray, count: int) -> NDArray[np.complex128]:
    real = np.bincount(own, values.real, minlength=count)
    return real + 1j * np.bincount(own, values.imag, minlength=count)


def _share(flags: NDArray[np.bool_], own: IntArray, count: int) -> FloatArray:
    total = np.maximum(np.bincount(own, minlength=count), 1)
    return np.bincount(own, flags, minlength=count) / total


def _radius(places: FloatArray, own: IntArray, count: int) -> FloatArray:
    """(count,) typical distance of an island's corners from its middle."""
    total = np.maximum(np.bincount(own, minlength=count), 1)
    middle = np.stack([np.bincount(own, one, minlength=count) / total for one in places.T], axis=1)
    return np.bincount(own, _length(places - middle[own]), minlength=count) / total


def _median(values: FloatArray, own: IntArray, count: int) -> FloatArray:
    """(count,) the middle value of each island; 0 where an island has none."""
    order = np.lexsort((values, own))
    sizes = np.bincount(own, minlength=count)
    starts = np.cumsum(sizes) - sizes
    middle = np.minimum(starts + sizes // 2, len(values) - 1)
    return np.where(sizes > 0, values[order][middle], 0.0)


def _length(gap: FloatArray) -> FloatArray:
    return np.hypot(gap[:, 0], gap[:, 1])
