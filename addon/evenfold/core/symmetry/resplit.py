"""Triangles of formats that have no other faces: one polygon, cut up otherwise on the other side."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..figure import IntArray
from ..pairing.islands import components
from .elements import corner_faces, following, mixed, summed
from .matched import BoolArray, Matched


@dataclass(frozen=True)
class Resplit:
    """``edges`` (e,) and ``faces`` (f,) bool mark what only lies inside such polygons; ``count`` them."""

    edges: BoolArray
    faces: BoolArray
    count: int


def resplit(matched: Matched, edges: IntArray, faces: IntArray) -> Resplit:
    """Among lone ``edges`` (k,) and ``faces`` (m,), those of polygons that are cut up otherwise.

    Lone faces that meet at lone edges make a polygon. Where the same outline is found on the other
    side, made of lone faces too, only the cuts differ, and those came with the export.
    """
    here = matched.here
    marks = np.zeros(len(here.edges.reshape(-1, 2)), bool), np.zeros(len(here.face_starts) - 1, bool)
    if not matched.itself or not len(edges) or not len(faces):
        return Resplit(*marks, 0)
    base = len(matched.name) + 1
    lone = np.unique(_keys(matched.name[here.edges.reshape(-1, 2)[edges]], base))
    owner, ends, inner = _sides(matched, faces, lone, base)
    patch = _patches(len(faces), owner, ends, inner, base)
    mine, image = _outlines(matched, patch, owner, ends, ~inner, base)
    known = np.isin(image, mine) & (image != 0)
    held = known[patch]
    marks[1][faces[held]] = True
    inside = np.unique(_keys(ends[inner & held[owner]], base))
    marks[0][edges] = np.isin(_keys(matched.name[here.edges.reshape(-1, 2)[edges]], base), inside)
    return Resplit(*marks, int(np.count_nonzero(known)))


def _keys(ends: IntArray, base: int) -> IntArray:
    return ends.min(axis=1) * base + ends.max(axis=1)


def _sides(
    matched: Matched, faces: IntArray, lone: IntArray, base: int
) -> tuple[IntArray, IntArray, BoolArray]:
    """Each side of the faces: its face's row (s,), the names of its ends (s, 2), and if it is lone."""
    here = matched.here
    row = np.full(len(here.face_starts) - 1, -1)
    row[faces] = np.arange(len(faces))
    owner = row[corner_faces(here)]
    ends = np.stack([here.corners, here.corners[following(here)]], axis=1)[owner >= 0]
    ends = matched.name[ends]
    return owner[owner >= 0], ends, np.isin(_keys(ends, base), lone)


def _patches(count: int, owner: IntArray, ends: IntArray, inner: BoolArray, base: int) -> IntArray:
    """(count,) the polygon each face belongs to, numbered from 0."""
    keys, rows = _keys(ends[inner], base), owner[inner]
    order = np.argsort(keys, kind="stable")
    keys, rows = keys[order], rows[order]
    meet = np.flatnonzero(keys[1:] == keys[:-1])
    label = components(count, np.stack([rows[meet], rows[meet + 1]], axis=1))
    return np.unique(label, return_inverse=True)[1].reshape(-1)


def _outlines(
    matched: Matched, patch: IntArray, owner: IntArray, ends: IntArray, outer: BoolArray, base: int
) -> tuple[NDArray[np.uint64], NDArray[np.uint64]]:
    """(p,) a number for each polygon's outline as it is, and for its mirror image; 0 if unknown.

    Sides that lie on the middle are left out: a sliver between them is its own mirror image.
    """
    count = int(patch.max()) + 1
    outer = outer & (matched.image[ends] != ends).any(axis=1)
    rows = patch[owner[outer]]
    order = np.argsort(rows, kind="stable")
    rows = rows[order]
    sides = ends[outer][order]
    across = matched.image[sides]
    mine = summed(mixed(_keys(sides, base)), rows, count)
    image = summed(mixed(_keys(np.maximum(across, 0), base)), rows, count)
    lost = np.bincount(rows, (across < 0).any(axis=1), minlength=count) > 0
    return mine, np.where(lost, np.uint64(0), image)
