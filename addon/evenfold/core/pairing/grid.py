"""Whole-array matching: points that share a grid cell with exactly one mirrored point."""

from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np
from numpy.typing import NDArray

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


def deviations(points: FloatArray, one: IntArray, other: IntArray) -> FloatArray:
    """(k,) how far from the mirror image of each of ``one`` its ``other`` lies."""
    apart = flipped(rows(points, one))
    apart -= rows(points, other)
    return length(apart)


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


def ranked(
    keys: IntArray, top: int, kind: Literal["quicksort", "stable"] = "quicksort"
) -> tuple[IntArray, IntArray]:
    """``keys`` (n,), none below zero or above ``top``, ascending, and where each of them stood.

    The array given is used up. Key and place are sorted as one number where they fit into one: numpy
    sorts several times as fast as it finds an order. ``kind`` is numpy's: keys that come in long
    ascending runs are merged ("stable") in a fraction of the time, others take somewhat longer so.
    """
    bits = max(1, len(keys).bit_length())
    if top.bit_length() + bits > 63:
        order = np.argsort(keys, kind="stable")
        return keys[order], order
    keys <<= bits
    keys |= np.arange(len(keys))
    keys.sort(kind=kind)
    order = keys & ((1 << bits) - 1)
    keys >>= bits
    return keys, order


def distinct(values: IntArray) -> IntArray:
    """The values, ascending, without repeats (merging their runs is quicker than numpy's hashing)."""
    values = np.sort(values, kind="stable")
    fresh = np.ones(len(values), bool)
    fresh[1:] = values[1:] != values[:-1]
    return values[fresh]


def among(keys: IntArray, values: IntArray) -> NDArray[np.bool_]:
    """(k,) which of the values are found in the ascending ``keys``."""
    if not len(keys):
        return np.zeros(len(values), bool)
    return keys.take(np.searchsorted(keys[:-1], values)) == values


@dataclass(frozen=True)
class _Cells:
    """Points by their grid cells: ``hashes`` (n,) ascending, and of each point its ``numbers`` (n,)
    and whether it is ``alone`` (n,) in its cell."""

    hashes: IntArray
    numbers: IntArray
    alone: NDArray[np.bool_]

    @staticmethod
    def of(
        points: FloatArray, numbers: IntArray, cell: float, shift: tuple[float, ...]
    ) -> "_Cells":
        hashes, order = ranked(cell_hash(points, cell, shift), (1 << _HASH_BITS) - 1)
        fresh = np.ones(len(hashes) + 1, bool)
        fresh[1:-1] = hashes[1:] != hashes[:-1]
        return _Cells(hashes, numbers.take(order), fresh[:-1] & fresh[1:])

    @property
    def sole(self) -> IntArray:
        """Numbers of the points that are alone in their cell."""
        return self.numbers[self.alone]

    def first_in(self, other: "_Cells") -> tuple[IntArray, NDArray[np.bool_]]:
        """Where each point's cell begins among the other's, and whether it is there at all."""
        if len(self.hashes) == len(other.hashes) and np.array_equal(self.hashes, other.hashes):
            return np.arange(len(self.hashes)), np.ones(len(self.hashes), bool)
        if not len(other.hashes):
            return np.zeros(len(self.hashes), np.int64), np.zeros(len(self.hashes), bool)
        at = np.minimum(np.searchsorted(other.hashes, self.hashes), len(other.hashes) - 1)
        return at, other.hashes[at] == self.hashes


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
) -> tuple[IntArray, IntArray, IntArray]:
    """Pairs that are provably each other's nearest, and points that provably have no partner.

    A pair is taken when it alone shares a cell and lies closer together than either to the
    cell's wall, so that nothing nearer can hide next door. A point has no partner when its cell
    holds nothing of the other side and its walls are further off than ``reach``, the largest
    distance accepted. ``left`` and ``right`` are vertex numbers into ``keys`` (n, 3).
    """
    lefts = _Cells.of(flipped(rows(keys, left)), left, cell, shift)
    rights = _Cells.of(rows(keys, right), right, cell, shift)
    at, met = lefts.first_in(rights)
    both = np.flatnonzero(met & lefts.alone & rights.alone[at]) if len(right) else at[:0]
    one, other = lefts.numbers[both], rights.numbers[at[both]]
    image, place = flipped(rows(keys, one)), rows(keys, other)
    apart = length(image - place)
    good = apart <= reach
    tight = good & (apart > 0.0)
    tight &= _room(image, cell, shift) < 2.0 * apart
    off = np.flatnonzero(tight)
    room = np.minimum(_room(image[off], cell, shift), _room(place[off], cell, shift))
    good[off[room < apart[off]]] = False
    if good.all() and len(one) == len(left) == len(right):
        return one, other, one[:0]
    lost, gone = lefts.numbers[~met], rights.numbers[~rights.first_in(lefts)[1]]
    lost = lost[_room(flipped(rows(keys, lost)), cell, shift) > reach]
    gone = gone[_room(rows(keys, gone), cell, shift) > reach]
    return one[good], other[good], np.concatenate([lost, gone])


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
        sole = _Cells.of(flat, np.arange(len(strip)), cell, shift).sole
        roomy = _room(flat[sole], cell, shift) >= 2.0 * reach
        alone[sole[roomy]] = True
    return strip[alone & (np.abs(keys[strip, 0]) <= reach)]


def crowding(points: FloatArray, numbers: IntArray, cell: float) -> IntArray:
    """Those of the vertices that share a grid cell with another of them."""
    crowd = np.ones(len(numbers), bool)
    crowd[_Cells.of(points[numbers], np.arange(len(numbers)), cell, _SHIFTS[0]).sole] = False
    return numbers[crowd]


def settle(
    points: FloatArray,
    keys: FloatArray,
    partner: IntArray,
    reach: float,
    rounds: tuple[tuple[float, int], ...],
    worth: float = 0.0,
) -> IntArray:
    """Match what is still free in ``partner`` (changed in place); returns the newly settled.

    ``keys`` (n, 3) is what is compared, ``points`` (n, 3) must agree within ``reach`` as well.
    Each of ``rounds`` is a cell size as a multiple of ``reach`` and how many half shifts of the
    grid are tried; with all 8 no place is missed for straddling a wall. A size is given up once a
    shift settles a smaller share than ``worth`` of what was free on a side.
    """
    before = partner < 0
    hopeful = before.copy()
    for size, tried in rounds:
        for shift in _SHIFTS[:tried]:
            free = np.flatnonzero(hopeful)
            side = keys[free, 0]
            left, right = free[side > 0.0], free[side < 0.0]
            if not len(left) or not len(right):
                break
            one, other, lost = matches_in_cells(keys, left, right, size * reach, shift, reach)
            if keys is not points:
                apart = deviations(points, one, other)
                one, other = one[apart <= reach], other[apart <= reach]
            partner[one], partner[other] = other, one
            hopeful[one] = hopeful[other] = hopeful[lost] = False
            if len(one) < worth * len(left):
                break
    return np.flatnonzero(before & (partner >= 0))
