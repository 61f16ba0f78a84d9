"""Whole-array matching: points that share a grid cell with exactly one mirrored point."""

from itertools import product

import numpy as np

from ..figure import FloatArray, IntArray

_PRIMES = (73856093, 19349663, 83492791)
_HASH_BITS = 38
_SHIFTS = tuple(product((0.0, 0.5), repeat=3))


def mirrored(points: FloatArray) -> FloatArray:
    """(n, 3) points reflected in the plane of column 0."""
    out = points.copy()
    np.negative(out[:, 0], out=out[:, 0])
    return out


def flipped(points: FloatArray) -> FloatArray:
    """The same, changing the array given."""
    np.negative(points[:, 0], out=points[:, 0])
    return points


def rows(points: FloatArray, numbers: IntArray) -> FloatArray:
    """``points[numbers]``; for (n, 3) points numpy's take is several times quicker."""
    return np.take(points, numbers, axis=0)


def length(vectors: FloatArray) -> FloatArray:
    """(n,) lengths of (n, 3) vectors."""
    return np.sqrt(np.einsum("ij,ij->i", vectors, vectors))


def cell_hash(points: FloatArray, cell: float, shift: tuple[float, ...]) -> IntArray:
    """A number for each point's grid cell; unlike cells may, rarely, share one."""
    total = np.zeros(len(points), np.int64)
    for axis in range(3):
        steps = points[:, axis] * (1.0 / cell)
        steps += shift[axis]
        np.floor(steps, out=steps)
        with np.errstate(invalid="ignore"):  # cells too far out for a number share one
            total ^= steps.astype(np.int64) * _PRIMES[axis]
    total ^= total >> 29
    total *= 0x9E3779B97F4A7C1 >> 8
    return (total ^ (total >> 31)) & ((1 << _HASH_BITS) - 1)


def places(points: FloatArray) -> tuple[IntArray, IntArray]:
    """Vertices with exactly equal coordinates gathered; (first of each place, place of each vertex)."""
    order = np.lexsort((points[:, 2], points[:, 1], points[:, 0]))
    ranked = points[order]
    fresh = np.ones(len(order), bool)
    fresh[1:] = (ranked[1:] != ranked[:-1]).any(axis=1)
    number = np.empty(len(order), np.int64)
    number[order] = np.cumsum(fresh) - 1
    return order[fresh], number


def _sole(
    points: FloatArray, numbers: IntArray, cell: float, shift: tuple[float, ...]
) -> tuple[IntArray, IntArray]:
    """Hashes, ascending, of the cells that hold exactly one point, and that point's number."""
    bits = max(1, len(points).bit_length())
    packed = np.sort((cell_hash(points, cell, shift) << bits) | np.arange(len(points)))
    hashes = packed >> bits
    fresh = np.ones(len(hashes) + 1, bool)
    fresh[1:-1] = hashes[1:] != hashes[:-1]
    alone = fresh[:-1] & fresh[1:]
    return hashes[alone], numbers[packed[alone] & ((1 << bits) - 1)]


def _common(one: IntArray, other: IntArray) -> tuple[IntArray, IntArray]:
    """Positions of equal values in two ascending arrays without repeats."""
    if len(one) == len(other) and np.array_equal(one, other):
        same = np.arange(len(one))
        return same, same
    if not len(other):
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    at = np.minimum(np.searchsorted(other, one), len(other) - 1)
    hit = np.flatnonzero(other[at] == one)
    return hit, at[hit]


def _room(points: FloatArray, cell: float, shift: tuple[float, ...]) -> FloatArray:
    """Distance from each point to the nearest wall of its cell."""
    part = points * (1.0 / cell)
    part += shift
    part -= np.floor(part)
    part -= 0.5
    np.abs(part, out=part)
    return (0.5 - np.maximum(np.maximum(part[:, 0], part[:, 1]), part[:, 2])) * cell


def matches_in_cells(
    keys: FloatArray,
    left: IntArray,
    right: IntArray,
    cell: float,
    shift: tuple[float, ...],
    reach: float,
) -> tuple[IntArray, IntArray]:
    """Pairs that are provably each other's nearest.

    A pair is taken when it alone shares a cell and lies closer together than either to the
    cell's wall, so that nothing nearer can hide next door. ``left`` and ``right`` are vertex
    numbers into ``keys`` (n, 3); ``reach`` is the largest distance accepted.
    """
    left_hashes, left_sole = _sole(flipped(rows(keys, left)), left, cell, shift)
    right_hashes, right_sole = _sole(rows(keys, right), right, cell, shift)
    at_left, at_right = _common(left_hashes, right_hashes)
    one, other = left_sole[at_left], right_sole[at_right]
    image, place = flipped(rows(keys, one)), rows(keys, other)
    apart = length(image - place)
    good = apart <= reach
    tight = good & (apart > 0.0)
    tight &= _room(image, cell, shift) < 2.0 * apart
    off = np.flatnonzero(tight)
    room = np.minimum(_room(image[off], cell, shift), _room(place[off], cell, shift))
    good[off[room < apart[off]]] = False
    return one[good], other[good]


def centre_alone(keys: FloatArray, reach: float) -> IntArray:
    """Vertices within ``reach`` of the plane with no other within twice that of their image."""
    strip = np.flatnonzero(np.abs(keys[:, 0]) <= 4.0 * reach)
    flat = keys[strip].copy()
    flat[:, 0] = 0.0
    cell = 8.0 * reach
    alone = np.zeros(len(strip), bool)
    for shift in product((0.5,), (0.0, 0.5), (0.0, 0.5)):
        todo = np.flatnonzero(~alone)
        if not len(todo):
            break
        _, sole = _sole(flat, np.arange(len(strip)), cell, shift)
        roomy = _room(flat[sole], cell, shift) >= 2.0 * reach
        alone[sole[roomy]] = True
    return strip[alone & (np.abs(keys[strip, 0]) <= reach)]


def crowding(points: FloatArray, numbers: IntArray, cell: float) -> IntArray:
    """Those of the vertices that share a grid cell with another of them."""
    _, sole = _sole(points[numbers], np.arange(len(numbers)), cell, _SHIFTS[0])
    crowd = np.ones(len(numbers), bool)
    crowd[sole] = False
    return numbers[crowd]


def settle(
    points: FloatArray,
    keys: FloatArray,
    partner: IntArray,
    reach: float,
    rounds: tuple[tuple[float, int], ...],
) -> IntArray:
    """Match what is still free in ``partner`` (changed in place); returns the newly settled.

    ``keys`` (n, 3) is what is compared, ``points`` (n, 3) must agree within ``reach`` as well.
    Each of ``rounds`` is a cell size as a multiple of ``reach`` and how many half shifts of the
    grid are tried; with all 8 no place is missed for straddling a wall.
    """
    before = partner < 0
    free = np.flatnonzero(before)
    for size, shift in ((size, shift) for size, tried in rounds for shift in _SHIFTS[:tried]):
        free = free[partner[free] < 0]
        side = keys[free, 0]
        left, right = free[side > 0.0], free[side < 0.0]
        if not len(left) or not len(right):
            break
        one, other = matches_in_cells(keys, left, right, size * reach, shift, reach)
        if keys is not points:
            apart = length(mirrored(points[one]) - points[other])
            one, other = one[apart <= reach], other[apart <= reach]
        partner[one], partner[other] = other, one
    return np.flatnonzero(before & (partner >= 0))
