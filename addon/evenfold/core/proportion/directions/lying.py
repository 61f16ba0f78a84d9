"""Which way is up for a figure without a rig that lies in the scene: by its shape."""

from dataclasses import dataclass

import numpy as np

from ...extents import extent_of
from ...figure import FloatArray, IntArray, Part
from ..ground.legs import LEGS_END, SAMPLES, legs_of
from ..points.sample import FEWEST_POINTS, dense
from .facing import ANGLES, EVEN, FINER, evenly, mirrored_shares

OBLIQUE, ROUNDISH = np.radians(10.0), 1.5
"""What lies further than this off the scene's axes is looked at along its own, unless it spreads the one way less than so
many times as much as the other. Our choice."""
LONGER = 1.3
"""A figure is longer from head to sole than it is deep by at least this; one that stands is no longer than high."""
SLAB, SLABS, CELLS = 1 / 80, 8, 60
"""The end is looked at in so many slices of this share of the length, in so many cells to the length."""
FLAT, FLATTER, LONE = 0.45, 2.0, 0.15
"""Soles are flat: the last slice is this share of the largest near it, and where both ends have two legs or ears,
so many times the other end's; where a pair is seen at one end alone, the third is enough. With this 302 of 484 invented
figures laid down were told, five of them the wrong way. Our choice."""


@dataclass(frozen=True)
class _End:
    """What a figure would stand on: ``legs`` as ``legs_of`` tells them; ``flat`` from 0 to 1, how flat it ends."""

    up: tuple[float, float, float]
    legs: str
    flat: float

    def is_foot_of(self, other: "_End") -> bool:
        """True where legs end flat here, and much flatter than the ``other`` end, or no less flat than it where no pair is there."""
        if self.legs != "two" or other.legs == "four":
            return False
        if other.legs == "two":
            return self.flat > max(FLAT, FLATTER * other.flat)
        return self.flat >= max(LONE, other.flat)


def as_one(parts: tuple[Part, ...]) -> tuple[FloatArray, IntArray]:
    """Points (n, 3) in world space and triangles (t, 3) of all parts together."""
    starts = np.cumsum([0, *(len(part.points) for part in parts)])
    triangles = [part.triangles + start for part, start in zip(parts, starts, strict=False)]
    return np.concatenate([part.points for part in parts]), np.concatenate(triangles)


def lies(points: FloatArray, triangles: IntArray) -> bool:
    """True for a surface that is longer along one level axis of the scene than it is high, and the same to two
    sides of that, as figures that lie are.

    ``points`` (n, 3) in world space, ``triangles`` (t, 3).
    """
    return bool(_ways(points, triangles))


def guess_up_by_shape(points: FloatArray, triangles: IntArray) -> tuple[float, float, float] | None:
    """Unit up direction, along a level axis of the scene or its own, of what ``lies`` and ends in two flat soles.

    ``points`` (n, 3) in world space, ``triangles`` (t, 3). None for what stands, or where it is not clear.
    """
    found: list[tuple[float, float, float]] = []
    turn = _own_axes(points)
    for way, samples in _ways(points, triangles):
        one, other = (_end(samples, way, sign) for sign in (1.0, -1.0))
        found += [end.up for end, rest in ((one, other), (other, one)) if end.is_foot_of(rest)]
    if len(found) != 1:
        return None
    up = np.array(found[0]) @ turn
    return float(up[0]), float(up[1]), float(up[2])


def _ways(points: FloatArray, triangles: IntArray) -> list[tuple[int, FloatArray]]:
    """The level axes of ``_own_axes`` along which the surface may lie, each with samples (n, 3) of it there."""
    if len(points) < FEWEST_POINTS or not np.isfinite(points).all():
        return []
    points = points @ _own_axes(points).T
    extent = extent_of(points)
    found = [(way, dense(points, triangles, float(extent[way]) / SAMPLES)) for way in (0, 1) if extent[way] > LONGER * extent[2] > 0]
    return [(way, samples) for way, samples in found if _is_alike(samples, way)]


def _own_axes(points: FloatArray) -> FloatArray:
    """(3, 3) rows: the level axes along which points (n, 3) spread most and least, and up; the scene's where those are close."""
    if len(points) < FEWEST_POINTS or not np.isfinite(points).all():
        return np.eye(3)
    level = points[:, :2] - points[:, :2].mean(axis=0)
    spread, ways = np.linalg.eigh(level.T @ level)
    angle = float(np.arctan2(ways[1, 1], ways[0, 1]))
    off = (angle + np.pi / 4) % (np.pi / 2) - np.pi / 4
    if abs(off) < OBLIQUE or spread[1] < ROUNDISH * spread[0]:
        return np.eye(3)
    turn = np.eye(3)
    turn[0, :2], turn[1, :2] = (np.cos(off), np.sin(off)), (-np.sin(off), np.cos(off))
    return turn


def _end(samples: FloatArray, way: int, sign: float) -> _End:
    """The end of samples (n, 3) from which the direction ``sign`` along the axis ``way`` is up."""
    up, length = sign * np.eye(3)[way] + 0.0, float(np.ptp(samples[:, way]))
    turned = samples @ np.stack([np.cross([0.0, 0.0, 1.0], up), [0.0, 0.0, 1.0], up]).T
    rise = turned[:, 2] - turned[:, 2].min()
    legs = legs_of(turned[rise < LEGS_END * length], length)
    near = rise < SLABS * SLAB * length
    cell = np.floor(turned[near, :2] / (length / CELLS)).astype(np.int64)
    slab = np.minimum(rise[near] / (SLAB * length), SLABS - 1).astype(np.int64)
    filled = np.unique(np.column_stack([slab, cell]), axis=0)[:, 0]
    count = np.bincount(filled, minlength=SLABS)
    return _End((float(up[0]), float(up[1]), float(up[2])), legs, float(count[0] / count.max()))


def _is_alike(samples: FloatArray, way: int) -> bool:
    """True where the halves match to some side better than along the axis ``way``: head and feet do not."""
    size = float(np.ptp(samples[:, way]))
    few = samples[evenly(samples, size / FINER)]
    along = mirrored_shares(few[:, [1 - way, way]], few[:, 2], np.array([np.pi / 2]), size)[0]
    return bool(along <= EVEN and mirrored_shares(few[:, [1 - way, 2]], few[:, way], ANGLES, size).max() > along)
