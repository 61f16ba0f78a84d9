"""Mask images between the corners: the picture inside each face against that inside its partner.

Faces are taken as four-cornered pieces of the UV map. Points are laid into a piece so densely that no
pixel within it is missed, and the partner's corners say where each point's mirror image lies. A pixel
counts as painted otherwise where no pixel around that place, one further than its neighbours, is like
it: halves that were packed apart, or lie between pixels, are never alike to the pixel.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray
from ..layers import BoolArray, Float32Array, Picture

Numbers = NDArray[np.unsignedinteger]

MOST = 24_000_000
"""Points laid into all pieces of one image together. Our choice."""
AT_ONCE = 1 << 18
"""Points looked at together, so that memory stays small."""
DENSE = 2.0**0.5
"""Points for each pixel along a side: with so many, every pixel inside a piece has one."""
FEW = 4
"""Asking for more than a picture's share of pixels, one by one, costs more than looking at all at once."""
FURTHEST = 4
"""Pixels around a place up to which the like of a pixel is looked for."""
SLACK = 0.5
"""A value may lie this share of what its surroundings span beyond them: the tip of a thin or round
stroke falls between the pixels. Our choice."""


@dataclass(frozen=True)
class Side:
    """A picture and the UV ``corners`` (p, 4, 2) of pieces in it."""

    picture: Picture
    corners: FloatArray


@dataclass(frozen=True)
class Areas:
    """``apart`` (p,) is the largest difference of values in each piece, 0 where all is alike.

    ``spread`` is how many times too far apart the points lay for every pixel to be looked at.
    """

    apart: FloatArray
    spread: float


class Surroundings:
    """The lowest and highest value around places of a picture; for the whole picture once many were asked for."""

    def __init__(self, picture: Picture) -> None:
        self._picture = picture
        self._asked = 0
        self._kept: dict[int, tuple[Numbers, Numbers]] = {}

    def beyond(self, values: FloatArray, at: FloatArray, reach: IntArray) -> FloatArray:
        """(k,) how far (k, channels) values lie beyond what is found around (k, 2) pixel places."""
        found = np.zeros(len(values))
        for size in np.unique(reach).tolist():
            rows = reach == size
            low, high = (self._picture.values(one) for one in self._around(at[rows], size))
            allowed = SLACK * (high - low)
            found[rows] = np.maximum(low - allowed - values[rows], values[rows] - high - allowed).max(axis=1)
        return found

    def _around(self, at: FloatArray, reach: int) -> tuple[Numbers, Numbers]:
        """The least and the most (k, 1, 2 or 4) of the pixels on both sides of each place and ``reach`` more."""
        x, y = np.floor(at.T - 0.5)
        self._asked += len(at) * (2 * reach + 2) ** 2
        if self._asked * FEW > len(self._picture.keys):
            if reach not in self._kept:
                self._kept[reach] = (
                    _widened(self._picture, reach, np.minimum), _widened(self._picture, reach, np.maximum)
                )
            spots = _spots(self._picture, x, y)
            low, high = (one.reshape(-1, one.shape[2])[spots] for one in self._kept[reach])
            return low, high
        low = high = self._picture.rows[_spots(self._picture, x, y)]
        for step in np.ndindex(2 * reach + 2, 2 * reach + 2):
            pixels = self._picture.rows[_spots(self._picture, x + (step[0] - reach), y + (step[1] - reach))]
            low, high = np.minimum(low, pixels), np.maximum(high, pixels)
        return low, high


def compare(
    here: Side, there: Side, around: tuple[Surroundings, Surroundings], further: IntArray, limit: float
) -> Areas:
    """The pieces in which values differ by more than ``limit``.

    ``further`` (p,) is by how many pixels more each piece may lie off its partner's image.
    """
    one, other = _placed(here), _placed(there)
    sides = np.maximum(_lengths(one), _lengths(other))
    counts, spread = _counts(sides)
    large = [np.maximum(_lengths(side).max(axis=1), 1e-3) for side in (one, other)]
    reach = np.stack([_reach(large[0] / large[1]), _reach(large[1] / large[0])], axis=1) + further[:, None]
    reach = np.minimum(reach, FURTHEST)
    apart = np.zeros(len(one))
    for rows, weights in _batches(counts):
        found, size = _differing(here, there, (one[rows], other[rows]), weights, around, reach[rows], limit)
        np.maximum.at(apart, rows[found], size)
    return Areas(apart, spread)


def outward(corners: FloatArray) -> BoolArray:
    """(q,) whether four-cornered pieces (q, 4, 2) turn one way at every corner."""
    step = np.roll(corners, -1, axis=1) - corners
    after = np.roll(step, -1, axis=1)
    turn = step[:, :, 0] * after[:, :, 1] - step[:, :, 1] * after[:, :, 0]
    return np.asarray((turn >= 0.0).all(axis=1) | (turn <= 0.0).all(axis=1))


def _reach(ratio: FloatArray) -> IntArray:
    """(p,) how many pixels of one side a pixel of the other spans, at least one."""
    return np.ceil(np.clip(ratio - 0.1, 1.0, FURTHEST)).astype(np.int64)


def _placed(side: Side) -> Float32Array:
    """(p, 4, 2) corners in pixels; of a repeated picture moved by whole tiles towards the first."""
    high, wide = side.picture.pixels.shape[:2]
    corners = side.corners
    if side.picture.repeat and len(corners):
        corners = corners - np.floor(corners.min(axis=1, keepdims=True))
    return (corners * (wide, high)).astype(np.float32)


def _lengths(corners: Float32Array) -> Float32Array:
    """(p, 2) the longer of each two opposite sides, in pixels."""
    steps = np.roll(corners, -1, axis=1) - corners
    long = np.hypot(steps[:, :, 0], steps[:, :, 1])
    return np.maximum(long[:, :2], long[:, 2:])


def _counts(sides: Float32Array) -> tuple[IntArray, float]:
    """(p, 2) points along the sides, in few different numbers; and how many times fewer than wanted."""
    wanted = np.maximum(DENSE * sides.astype(np.float64), 1.0)
    spread = max(1.0, float(np.sqrt(wanted.prod(axis=1).sum() / MOST)))
    counts = np.ceil(np.maximum(wanted / spread, 1.0))
    step = np.maximum(2.0 ** (np.floor(np.log2(counts)) - 2.0), 1.0)
    return (np.ceil(counts / step) * step).astype(np.int64), spread


def _batches(counts: IntArray) -> Iterator[tuple[IntArray, Float32Array]]:
    """Pieces with as many points, and the weights (4, k) of their corners in each point."""
    keys = (counts[:, 0] << 32) + counts[:, 1]
    order = np.argsort(keys, kind="stable")
    for group in np.split(order, np.flatnonzero(np.diff(keys[order])) + 1):
        if not len(group):
            continue
        first, second = counts[group[0]].tolist()
        for part in _parts(_weights(first, second), AT_ONCE):
            size = max(1, AT_ONCE // part.shape[1])
            for start in range(0, len(group), size):
                yield group[start : start + size], part


def _parts(weights: Float32Array, size: int) -> Iterator[Float32Array]:
    for start in range(0, weights.shape[1], size):
        yield weights[:, start : start + size]


def _weights(first: int, second: int) -> Float32Array:
    """(4, first * second) shares of the corners in points spread evenly over a piece."""
    along, up = np.meshgrid((np.arange(first) + 0.5) / first, (np.arange(second) + 0.5) / second)
    a, b = along.ravel(), up.ravel()
    return np.stack([(1 - a) * (1 - b), a * (1 - b), a * b, (1 - a) * b]).astype(np.float32)


def _differing(
    here: Side,
    there: Side,
    corners: tuple[Float32Array, Float32Array],
    weights: Float32Array,
    around: tuple[Surroundings, Surroundings],
    reach: IntArray,
    limit: float,
) -> tuple[IntArray, FloatArray]:
    """Rows of pieces, one for each point that differs, and by how much."""
    places = [(one[:, :, 0] @ weights, one[:, :, 1] @ weights) for one in corners]
    pictures = here.picture, there.picture
    spots = [_spots(picture, *place) for picture, place in zip(pictures, places, strict=True)]
    unlike = np.flatnonzero(here.picture.keys[spots[0]] != there.picture.keys[spots[1]])
    values = [
        picture.values(picture.rows[spot.ravel()[unlike]]) for picture, spot in zip(pictures, spots, strict=True)
    ]
    size = np.abs(values[0] - values[1]).max(axis=1)
    kept = size > limit
    unlike, size = unlike[kept], size[kept]
    piece = unlike // weights.shape[1]
    off = np.zeros(len(unlike), bool)
    for mine, its in ((0, 1), (1, 0)):
        own, its_place = (np.stack([axis.ravel()[unlike] for axis in places[side]], axis=1) for side in (mine, its))
        beyond = around[its].beyond(values[mine][kept], its_place, reach[piece, its])
        off |= (beyond > limit) & _inside(corners[mine][piece], np.floor(own) + 0.5)
    return piece[off], size[off]


def _spots(picture: Picture, x: Float32Array, y: Float32Array) -> IntArray:
    """The number of the pixel at each place, in the shape of ``x``."""
    high, wide = picture.pixels.shape[:2]
    column, row = (_within(one, size, picture.repeat) for one, size in ((x, wide), (y, high)))
    return row * wide + column


def _within(place: Float32Array, size: int, repeat: bool) -> IntArray:
    if not place.size:
        return np.zeros(place.shape, np.int64)
    if place.min() >= 0.0 and place.max() < size:
        return place.astype(np.int64)
    number = np.floor(place).astype(np.int64)
    return number % size if repeat else np.clip(number, 0, size - 1)


def _inside(corners: Float32Array, at: FloatArray) -> BoolArray:
    """(k,) whether each place (k, 2) lies in its piece (k, 4, 2); a pixel whose middle lies outside belongs to
    another piece, or to what was left between the islands."""
    start, step = corners.astype(np.float64), np.roll(corners, -1, axis=1).astype(np.float64) - corners
    away = at[:, None] - start
    turn = step[:, :, 0] * away[:, :, 1] - step[:, :, 1] * away[:, :, 0]
    edge = 1e-3 * np.hypot(step[:, :, 0], step[:, :, 1])
    return np.asarray((turn >= -edge).all(axis=1) | (turn <= edge).all(axis=1))


def _widened(
    picture: Picture, reach: int, take: Callable[..., Numbers]
) -> Numbers:
    found = picture.pixels
    for axis in (0, 1):
        size, more = found.shape[axis], [(0, 0)] * 3
        more[axis] = (reach, reach + 1)
        wide = np.pad(found, more, mode="wrap" if picture.repeat else "edge").swapaxes(0, axis)
        least = wide[:size].copy()
        for step in range(1, 2 * reach + 2):
            take(least, wide[step : step + size], out=least)
        found = least.swapaxes(0, axis)
    return np.ascontiguousarray(found)
