"""Mask images between the corners: the picture inside each face against that inside its partner.

Faces are taken as four-cornered pieces of the UV map. Points are laid into a piece so densely that no
pixel within it is missed, and the partner's corners say where each point's mirror image lies. A pixel
counts as painted otherwise where it is off the value there by more than the pixels around that place
bend: halves that were packed apart, or lie between pixels, are never alike to the pixel.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

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
ROWS = 256
"""Rows of a picture looked at together."""


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
    """What values to expect at places of a picture, and how much its pixels bend around them."""

    def __init__(self, picture: Picture) -> None:
        self._picture = picture
        self._asked = 0
        self._kept: dict[int, Numbers] = {}

    def beyond(self, values: FloatArray, at: FloatArray, reach: IntArray) -> FloatArray:
        """(k,) how far (k, channels) values lie off those at (k, 2) pixel places, less what the pixels bend there.

        Values that rise evenly are the same wherever the pixels lie; only where they bend, as on the border of
        a stroke, does it matter.
        """
        found = np.zeros(len(values))
        for size in np.unique(reach).tolist():
            rows = reach == size
            bends = self._picture.step * self._bends(at[rows], size)[:, : values.shape[1]].astype(np.float64)
            found[rows] = (np.abs(values[rows] - self._expected(at[rows])) - bends).max(axis=1)
        return found

    def _expected(self, at: FloatArray) -> FloatArray:
        """(k, channels) values between the middles of pixels, by their distance."""
        low = np.floor(at - 0.5)
        part = at - 0.5 - low
        found: FloatArray = np.zeros(())
        for step in ((0, 0), (1, 0), (0, 1), (1, 1)):
            share = np.where(step, part, 1.0 - part).prod(axis=1)[:, None]
            spots = _spots(self._picture, *(low + step).T)
            found = found + share * self._picture.values(self._picture.rows[spots])
        return found

    def _bends(self, at: FloatArray, reach: int) -> Numbers:
        """(k, 1, 2 or 4) the most that pixels bend on both sides of each place and ``reach`` more; for the whole
        picture once many were asked for."""
        x, y = np.floor(at.T - 0.5)
        wide = 2 * reach + 2
        self._asked += len(at) * (wide + 2) ** 2
        if self._asked * FEW > len(self._picture.keys):
            if reach not in self._kept:
                self._kept[reach] = _widened(self._picture, reach)
            kept = self._kept[reach]
            return kept.reshape(-1, kept.shape[2])[_spots(self._picture, x, y)]
        patch = np.stack([
            np.stack([
                self._picture.rows[_spots(self._picture, x + (column - reach - 1), y + (row - reach - 1))]
                for column in range(wide + 2)
            ])
            for row in range(wide + 2)
        ])
        return _bend(patch).max(axis=(0, 1))


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


def outward(corners: NDArray[np.floating]) -> BoolArray:
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
    at = [np.stack([axis.ravel()[unlike] for axis in place], axis=1).astype(np.float64) for place in places]
    off = np.zeros(len(unlike), bool)
    for mine, its in ((0, 1), (1, 0)):
        middle = np.floor(at[mine]) + 0.5
        image = at[its] + _across(corners[mine][piece], corners[its][piece], middle - at[mine])
        beyond = around[its].beyond(values[mine][kept], image, reach[piece, its])
        off |= (beyond > limit) & _inside(corners[mine][piece], middle)
    return piece[off], size[off]


def _across(mine: Float32Array, its: Float32Array, step: FloatArray) -> FloatArray:
    """(k, 2) what steps (k, 2) in pieces (k, 4, 2) are in their partners; by the pieces' diagonals."""
    (a, b), (one, other) = (
        (corners[:, 2].astype(np.float64) - corners[:, 0], corners[:, 3].astype(np.float64) - corners[:, 1])
        for corners in (mine, its)
    )
    area = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    area = np.where(np.abs(area) > 1e-9, area, np.inf)
    first = (step[:, 0] * b[:, 1] - step[:, 1] * b[:, 0]) / area
    second = (a[:, 0] * step[:, 1] - a[:, 1] * step[:, 0]) / area
    moved = first[:, None] * one + second[:, None] * other
    return np.clip(moved, -FURTHEST, FURTHEST)


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


def _bend(pixels: Numbers) -> Numbers:
    """(high - 2, wide - 2, ...) how much each pixel lies off the middle of its neighbours, twice, along either way."""
    signed = pixels.astype(np.int32)
    middle = 2 * signed[1:-1, 1:-1]
    upright = np.abs(middle - signed[:-2, 1:-1] - signed[2:, 1:-1])
    level = np.abs(middle - signed[1:-1, :-2] - signed[1:-1, 2:])
    return np.maximum(upright, level).astype(np.uint16 if pixels.dtype == np.uint8 else np.uint32)


def _widened(picture: Picture, reach: int) -> Numbers:
    """(high, wide, 1, 2 or 4) the most that pixels bend from ``reach`` before each to one more behind it."""
    mode: Literal["wrap", "edge"] = "wrap" if picture.repeat else "edge"
    high = picture.pixels.shape[0]
    wide = np.pad(picture.pixels, [(1, 1), (1, 1), (0, 0)], mode=mode)
    found = np.concatenate([_bend(wide[row : min(row + ROWS, high) + 2]) for row in range(0, high, ROWS)])
    for axis in (0, 1):
        size, more = found.shape[axis], [(0, 0)] * 3
        more[axis] = (reach, reach + 1)
        wide = np.pad(found, more, mode=mode).swapaxes(0, axis)
        most = wide[:size].copy()
        for step in range(1, 2 * reach + 2):
            np.maximum(most, wide[step : step + size], out=most)
        found = most.swapaxes(0, axis)
    return np.ascontiguousarray(found)
