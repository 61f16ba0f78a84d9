"""Planes about which a figure may mirror: of its armature and objects, of the world, and between its bones."""

import numpy as np

from .figure import Figure, FloatArray
from .plane import Candidate
from .proportion.directions.frame import up_of
from .proportion.directions.named_sides import left_by_names, middle_between_bones


def plane_candidates(figure: Figure) -> list[Candidate]:
    """X = 0 of the armature, of each object (the largest first) and of the world."""
    found: list[Candidate] = []
    if figure.armature is not None:
        found.append(_x_plane("armature", figure.armature.to_world))
    by_size = sorted(figure.surfaces, key=lambda one: -len(one.positions))
    found += [_x_plane("object", surface.to_world) for surface in by_size]
    found.append(_x_plane("world", np.eye(4)))
    unlike: list[Candidate] = []
    for one in found:
        if not any(one.how == other.how and _same(one, other) for other in unlike):
            unlike.append(one)
    return unlike[:8]


def plane_between_bones(figure: Figure) -> Candidate | None:
    """The upright plane in the middle between bones of the left and the right, by their names; None without."""
    way = left_by_names(figure, up_of(figure))
    if way is None:
        return None
    middle = middle_between_bones(figure, way)
    return None if middle is None else Candidate("bones", middle, way)


def plane_along_bones(figure: Figure) -> Candidate | None:
    """Like ``plane_between_bones``, but leaning as the bones do: for a figure that was tilted; None without."""
    way = left_by_names(figure, np.zeros(3))
    middle = None if way is None else middle_between_bones(figure, way)
    return None if way is None or middle is None else Candidate("bones", middle, way)


def planes_across(figure: Figure, candidates: list[Candidate]) -> list[Candidate]:
    """The upright planes at a right angle to others, through the same points: for a figure that faces sideways."""
    up = up_of(figure)
    ways = [(one.point, np.cross(one.normal, up)) for one in candidates]
    return [Candidate("across", point, way / np.linalg.norm(way)) for point, way in ways if np.linalg.norm(way) > 1e-6]


def _same(one: Candidate, other: Candidate) -> bool:
    return (
        abs(abs(float(one.normal @ other.normal)) - 1.0) < 1e-9
        and abs(float((one.point - other.point) @ one.normal)) < 1e-9
    )


def _x_plane(how: str, matrix: FloatArray) -> Candidate:
    """The object's own X = 0 in world space; under a skewed scale the plane of its Y and Z."""
    normal = np.cross(matrix[:3, 1], matrix[:3, 2])
    length = float(np.linalg.norm(normal))
    normal = normal / length if length > 0.0 else np.array([1.0, 0.0, 0.0])
    return Candidate(how, matrix[:3, 3].astype(float), normal)
