"""Triangulated meshes: two triangles whose mirror images share the other diagonal."""

from dataclasses import dataclass

import numpy as np

from ..figure import FloatArray, IntArray
from .elements import mixed
from .matched import BoolArray, Matched


@dataclass(frozen=True)
class Turned:
    """``edges`` (e,) and ``faces`` (f,) bool mark what only lies along the other diagonal.

    ``first`` and ``second`` (k,) are the two triangles of each, ``gaps`` (k,) how far apart the
    two diagonals run, in scene units: 0 where the four points are flat.
    """

    edges: BoolArray
    faces: BoolArray
    first: IntArray
    second: IntArray
    gaps: FloatArray


def turned_diagonals(matched: Matched, edges: IntArray, faces: IntArray) -> Turned:
    """Among lone ``edges`` (k,) and ``faces`` (m,), those of quads split the other way."""
    here = matched.here
    marks = np.zeros(len(here.edges), bool), np.zeros(len(here.face_starts) - 1, bool)
    none = np.zeros(0, np.int64)
    triangles = faces[np.diff(here.face_starts)[faces] == 3]
    if not len(edges) or len(triangles) < 2:
        return Turned(*marks, none, none, np.zeros(0))
    base = len(matched.name) + 1
    corners = here.corners[here.face_starts[triangles][:, None] + np.arange(3)]
    ends = np.stack([corners, np.roll(corners, -1, axis=1)], axis=2).reshape(-1, 2)
    tips = np.roll(corners, 1, axis=1).reshape(-1)
    owners = np.repeat(triangles, 3)
    keys = _edge_keys(matched.image[ends], base)
    lone = _edge_keys(matched.image[here.edges.reshape(-1, 2)[edges]], base)
    order = np.argsort(keys, kind="stable")
    found, start, uses = np.unique(keys[order], return_index=True, return_counts=True)
    twice = (uses == 2) & np.isin(found, lone)
    one, other = order[start[twice]], order[start[twice] + 1]
    held = _held(matched, ends[one], tips[one], tips[other], base)
    one, other = one[held], other[held]
    marks[0][edges[np.isin(lone, keys[one])]] = True
    marks[1][owners[one]] = marks[1][owners[other]] = True
    gaps = _gaps(matched.points, ends[one], tips[one], tips[other])
    return Turned(*marks, owners[one], owners[other], gaps)


def _edge_keys(ends: IntArray, base: int) -> IntArray:
    return ends.min(axis=1) * base + ends.max(axis=1)


def _held(
    matched: Matched, ends: IntArray, one: IntArray, other: IntArray, base: int
) -> BoolArray:
    """True where the other side joins the images of the two tips, with a triangle on each end."""
    image, there = matched.image, matched.there
    known = (image[one] >= 0) & (image[other] >= 0)
    across = np.stack([image[one], image[other]], axis=1)
    joined = _edge_keys(matched.name[there.edges.reshape(-1, 2)], base)
    held = known & np.isin(_edge_keys(across, base), joined)
    lengths = np.diff(there.face_starts)
    named = matched.name[there.corners[there.face_starts[:-1][lengths == 3][:, None] + np.arange(3)]]
    sets = mixed(named).sum(axis=1, dtype=np.uint64)
    for column in range(2):
        wanted = mixed(np.column_stack([across, image[ends[:, column]]]))
        held &= np.isin(wanted.sum(axis=1, dtype=np.uint64), sets)
    return held


def _gaps(points: FloatArray, ends: IntArray, one: IntArray, other: IntArray) -> FloatArray:
    """(k,) the distance between the two diagonals of each quad."""
    a, b, c, d = points[ends[:, 0]], points[ends[:, 1]], points[one], points[other]
    normal = np.cross(b - a, d - c)
    size = np.linalg.norm(normal, axis=1)
    apart = np.abs(np.einsum("ij,ij->i", c + d - a - b, normal)) / 2.0
    return apart / np.where(size > 0.0, size, 1.0)
