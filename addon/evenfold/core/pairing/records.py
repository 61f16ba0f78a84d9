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
