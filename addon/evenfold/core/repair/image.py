"""Mirror images between objects' own spaces, exact to the bit where the plane allows it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..errors import EvenfoldError
from ..figure import FloatArray, Surface, transform_points
from ..findings import MirrorPlane

TURN = 1e-6
"""A matrix entry so close to -1, 0 or 1 counts as it: single precision in placed objects."""

SHIFT = 2e-7
"""A share of the object's size that counts as no shift at all, for the same reason."""


@dataclass(frozen=True)
class MirrorMap:
    """``matrix`` (4, 4) takes local places of one object to their mirror images, local in another."""

    matrix: FloatArray

    def places(self, points: NDArray[np.floating]) -> FloatArray:
        """(k, 3) images, rounded as files store them; a negated coordinate is exact."""
        image = transform_points(self.matrix, points).astype(np.float32).astype(np.float64)
        return image + 0.0

    def moves(self, by: NDArray[np.floating]) -> FloatArray:
        """(k, 3) images of displacements."""
        return np.asarray(by, np.float64) @ self.matrix[:3, :3].T + 0.0

    def onto_plane(self, points: NDArray[np.floating]) -> FloatArray:
        """(k, 3) the nearest places on the plane; for a map of an object onto itself."""
        own = np.asarray(points, np.float64)
        middle = 0.5 * (own + transform_points(self.matrix, own))
        return middle.astype(np.float32).astype(np.float64) + 0.0

    def across(self, by: NDArray[np.floating]) -> FloatArray:
        """(k, 3) displacements without the part that leaves the plane."""
        own = np.asarray(by, np.float64)
        return 0.5 * (own + self.moves(own))


def mirror_map(here: Surface, there: Surface, plane: MirrorPlane) -> MirrorMap:
    """From ``here``'s own space into ``there``'s. Raises EvenfoldError for a scale of zero.

    Where both objects stand so that mirroring only exchanges or negates coordinates, the matrix
    holds nothing but 0, 1 and -1, so that images are exact.
    """
    normal = plane.normal / np.linalg.norm(plane.normal)
    reflect = np.eye(4)
    reflect[:3, :3] -= 2.0 * np.outer(normal, normal)
    reflect[:3, 3] = 2.0 * float(plane.point @ normal) * normal
    if abs(float(np.linalg.det(there.to_world[:3, :3]))) < 1e-30:
        raise EvenfoldError(f"{there.name} has a scale of zero: give it a size first.")
    matrix = np.linalg.inv(there.to_world) @ reflect @ here.to_world
    size = max(_size(here), _size(there))
    return MirrorMap(_tidied(matrix, size))


def _size(surface: Surface) -> float:
    return float(np.nanmax(np.abs(surface.positions), initial=0.0))


def _tidied(matrix: FloatArray, size: float) -> FloatArray:
    linear = np.round(matrix[:3, :3])
    plain = (np.abs(linear).sum(axis=0) == 1.0).all() and (np.abs(linear).sum(axis=1) == 1.0).all()
    if not plain or np.abs(linear - matrix[:3, :3]).max() > TURN:
        return np.asarray(matrix, np.float64)
    shift = np.where(np.abs(matrix[:3, 3]) <= SHIFT * size, 0.0, matrix[:3, 3])
    tidy = np.eye(4)
    tidy[:3, :3], tidy[:3, 3] = linear, shift
    return tidy
