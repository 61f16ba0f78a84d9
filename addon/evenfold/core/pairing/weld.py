"""Comparing by place where a file stores vertices several times at one place."""

import numpy as np
from numpy.typing import NDArray

from ..figure import IntArray
from ..nearest import Finder
from .grid import places
from .pair import pair_points
from .records import Mesh, Pairing, State, Way

_ODD = np.array([0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9], np.uint64)
"""Large odd numbers, one a coordinate."""

WELD_SHARE = 0.1
"""From this share of vertices that share a place on, the mesh is compared by place. Our choice:
exported formats split vertices at every seam and hard edge, a few doubled vertices are a fault."""


def shared_share(mesh: Mesh) -> float:
    """The share of vertices that have another at exactly their place."""
    if not len(mesh.points):
        return 0.0
    bits = (mesh.points + 0.0).view(np.uint64)
    mixed = np.zeros(len(bits), np.uint64)
    for column, odd in enumerate(_ODD):
        # Mixed anew after each coordinate: signs of two of them must not cancel each other.
        mixed = (mixed + bits[:, column]) * odd
        mixed ^= mixed >> np.uint64(32)
    mixed.sort()
    same = mixed[1:] == mixed[:-1]
    shared = np.zeros(len(mixed), bool)
    shared[1:] |= same
    shared[:-1] |= same
    return float(shared.mean())


def pair_places(mesh: Mesh, tolerance: float, finder: Finder) -> Pairing:
    """Like pair_points, with vertices at exactly one place taken as one.

    Every vertex gets its place's state. Members of a place and of its partner are matched in
    stored order as far as both have as many; the rest name the partner place's first member,
    so that only here several vertices may have the same partner. Loose vertices at one place, which
    neither face nor edge tells apart, are ambiguous instead, and so are those they answer.
    """
    first, number = places(mesh.points)
    found = pair_points(_welded(mesh, first, number), tolerance, finder)
    rank = _rank_within(number)
    members = np.argsort(number, kind="stable")
    starts = np.concatenate([[0], np.cumsum(np.bincount(number, minlength=len(first)))])
    other = found.partner[number]
    size = np.diff(starts)[np.maximum(other, 0)]
    at = starts[np.maximum(other, 0)] + np.where(rank < size, rank, 0)
    partner = np.where(other >= 0, members[at], -1)
    own = other == number
    partner[own] = np.flatnonzero(own)
    told = Pairing(
        partner, found.deviation[number], found.state[number], found.way[number],
        found.suspect[number],
    )
    return _never_guessed(told, _loose_crowds(mesh, number) & (found.partner >= 0), number)


def _loose_crowds(mesh: Mesh, number: IntArray) -> NDArray[np.bool_]:
    """(p,) places where several vertices without any face or edge lie."""
    held = np.zeros(len(mesh.points), bool)
    held[mesh.corners] = True
    held[mesh.edges.ravel()] = True
    return np.bincount(number[~held], minlength=int(number.max(initial=-1)) + 1) > 1


def _never_guessed(found: Pairing, crowds: NDArray[np.bool_], number: IntArray) -> Pairing:
    """Without the pairs off the centre that only the stored order would tell."""
    if not crowds.any():
        return found
    own = found.partner == np.arange(len(number))
    unsure = crowds[number] & ~own
    unsure |= (found.partner >= 0) & ~own & crowds[number[found.partner]]
    return Pairing(
        np.where(unsure, -1, found.partner),
        np.where(unsure, np.nan, found.deviation),
        np.where(unsure, np.uint8(State.AMBIGUOUS), found.state),
        np.where(unsure, np.uint8(Way.NONE), found.way),
        found.suspect & ~unsure,
    )


def _rank_within(number: IntArray) -> IntArray:
    order = np.argsort(number, kind="stable")
    ranked = number[order]
    start = np.searchsorted(ranked, ranked)
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order)) - start
    return rank


def _welded(mesh: Mesh, first: IntArray, number: IntArray) -> Mesh:
    edges = np.sort(number[mesh.edges.reshape(-1, 2)], axis=1)
    edges = edges[edges[:, 0] != edges[:, 1]]
    edges = np.unique(edges, axis=0) if len(edges) else edges
    return Mesh(mesh.points[first], edges, number[mesh.corners], mesh.face_starts)
