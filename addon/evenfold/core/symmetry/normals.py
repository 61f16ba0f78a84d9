"""Custom normals against the mirror images of their partners."""

from collections.abc import Iterator

import numpy as np

from ..figure import FloatArray, IntArray, Surface
from ..findings import Finding
from ..layers import Float32Array
from .elements import corner_faces
from .matched import BoolArray, Limits, Matched

CODES = ("normal-drifted",)


def check(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """Face corners whose custom normal is turned against the mirror image of their partner's.

    Faces with a drifted vertex are passed over: moving it turns their normals, and it is told itself.
    """
    rows = np.flatnonzero(matched.corners_once & ~_about_drifted(matched))
    angle = turned(matched, limits, rows)
    off = angle > limits.settings.normal_angle
    if off.any():
        partners = matched.corner_partner[rows]
        yield matched.finding(
            "normal-drifted", "corner", rows[off], partners[off], angle[off], "degrees"
        )


def turned(matched: Matched, limits: Limits, rows: IntArray) -> FloatArray:
    """(k,) degrees between the custom normals of these corners and the mirror images of their partners'.

    0 for all where either object has no custom normals.
    """
    here, there = matched.here.layers, matched.there.layers
    if here is None or there is None or here.corner_normals is None or there.corner_normals is None:
        return np.zeros(len(rows))
    mine = _world(matched.here, here.corner_normals[rows])
    other = _world(matched.there, there.corner_normals[matched.corner_partner[rows]])
    normal = limits.plane.normal
    return _degrees(mine, other - 2.0 * (other @ normal)[:, None] * normal)


def _about_drifted(matched: Matched) -> BoolArray:
    """(c,) the corners of all faces that share a vertex with a face that has a drifted one."""
    corners, face = matched.here.corners, corner_faces(matched.here)
    moved = np.zeros(len(matched.here.face_starts) - 1, bool)
    moved[face[matched.off[corners]]] = True
    near = np.zeros(len(matched.off), bool)
    near[corners[moved[face]]] = True
    return np.asarray(near[corners], bool)


def _world(surface: Surface, normals: Float32Array) -> FloatArray:
    """Normals go by the inverse transpose; under a flattening scale as they are."""
    linear = surface.to_world[:3, :3]
    if abs(np.linalg.det(linear)) < 1e-30:
        return normals.astype(np.float64)
    return normals.astype(np.float64) @ np.linalg.inv(linear)


def _degrees(one: FloatArray, other: FloatArray) -> FloatArray:
    """(k,) angles between vectors, by Kahan's formula, exact for small ones; 0 beside a null."""
    lengths = np.linalg.norm(one, axis=1), np.linalg.norm(other, axis=1)
    null = (lengths[0] == 0.0) | (lengths[1] == 0.0)
    a = one / np.where(null, 1.0, lengths[0])[:, None]
    b = other / np.where(null, 1.0, lengths[1])[:, None]
    angle = 2.0 * np.arctan2(np.linalg.norm(a - b, axis=1), np.linalg.norm(a + b, axis=1))
    return np.degrees(np.where(null, 0.0, angle))
