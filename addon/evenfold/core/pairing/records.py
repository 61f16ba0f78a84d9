"""What pairing takes and gives."""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray


class State(IntEnum):
    """The one class each vertex ends in."""

    PAIRED = 0
    CENTRE = 1
    DRIFTED = 2
    OFF_CENTRE = 3
    UNPAIRED = 4
    DOUBLED = 5
    AMBIGUOUS = 6


class Way(IntEnum):
    """How a vertex's partner was found."""

    NONE = 0
    PLACE = 1
    SURROUNDINGS = 2
    CONNECTIVITY = 3
    ISLAND = 4
    DISTANCE = 5


@dataclass(frozen=True)
class Mesh:
    """Points in the plane's frame with their connectivity.

    ``points`` (n, 3): column 0 is the signed distance from the mirror plane, so the mirror
    image of a point negates it. ``edges`` (e, 2), ``corners`` (c,), ``face_starts`` (f + 1,).
    """

    points: FloatArray
    edges: IntArray
    corners: IntArray
    face_starts: IntArray


def edges_touching(edges: IntArray, flags: NDArray[np.bool_]) -> IntArray:
    """The (k, 2) edges of which at least one end is flagged in ``flags`` (n,)."""
    if not len(edges):
        return edges.reshape(0, 2)
    hit = np.flatnonzero(flags.take(edges[:, 0]) | flags.take(edges[:, 1]))
    return np.take(edges, hit, axis=0)


def edge_lengths(mesh: Mesh, vertices: IntArray) -> tuple[FloatArray, FloatArray]:
    """(k,) the shortest and the longest edge of each of the vertices.

    Where a vertex has no edge, they are infinite and zero.
    """
    asked = np.zeros(len(mesh.points), bool)
    asked[vertices] = True
    edges = edges_touching(mesh.edges, asked)
    along = mesh.points[edges[:, 0]] - mesh.points[edges[:, 1]]
    sizes = np.sqrt(np.einsum("ij,ij->i", along, along))
    shortest, longest = np.full(len(asked), np.inf), np.zeros(len(asked))
    for end in (0, 1):
        np.minimum.at(shortest, edges[:, end], sizes)
        np.maximum.at(longest, edges[:, end], sizes)
    return shortest[vertices], longest[vertices]


@dataclass(frozen=True)
class Pairing:
    """``partner`` (n,): -1 where none is known, the vertex itself on the centre.

    ``deviation`` (n,): distance between the mirror image and the partner, for centre vertices
    that from the plane, NaN without a partner. ``state`` and ``way`` (n,) hold State and Way.
    ``suspect`` (n,) bool marks of each drifted pair the vertex that seems to have moved.
    """

    partner: IntArray
    deviation: FloatArray
    state: NDArray[np.uint8]
    way: NDArray[np.uint8]
    suspect: NDArray[np.bool_]

    def members(self, state: State) -> IntArray:
        return np.flatnonzero(self.state == state)
