"""Which half of the figure each vertex, edge, face and bone lies on."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from .figure import Figure, FloatArray, IntArray, Surface
from .findings import MirrorPlane

LEFT, RIGHT = 1, -1


@dataclass(frozen=True)
class Halves:
    """By kind of element, (n,) for each: 1 on the figure's left, -1 on its right, 0 on the middle.

    ``bones`` likewise, by name.
    """

    elements: Mapping[str, IntArray] = field(default_factory=dict)
    bones: Mapping[str, int] = field(default_factory=dict)

    def on(self, side: int, kind: str, numbers: IntArray) -> IntArray:
        """The numbers (k,) of elements that are not on the other side."""
        known = self.elements.get(kind)
        if known is None or not len(numbers):
            return numbers
        inside = numbers[(numbers >= 0) & (numbers < len(known))]
        return inside[known[inside] * side >= 0]


def halves_of(figure: Figure, plane: MirrorPlane, tolerance: float) -> dict[str, Halves]:
    """By object name. ``tolerance`` in scene units is how far off the plane is still the middle."""
    found = {surface.name: _of_surface(surface, plane, tolerance) for surface in figure.surfaces}
    if figure.armature is not None:
        bones = figure.armature.bones
        middles = np.array([(bone.head + bone.tail) / 2.0 for bone in bones]).reshape(-1, 3)
        signs = _signs((middles - plane.point) @ plane.normal, tolerance)
        found[figure.armature.name] = Halves(
            bones={bone.name: int(sign) for bone, sign in zip(bones, signs, strict=True)}
        )
    return found


def _of_surface(surface: Surface, plane: MirrorPlane, tolerance: float) -> Halves:
    away = (surface.world - plane.point) @ plane.normal
    edges = np.asarray(surface.edges, np.int64).reshape(-1, 2)
    return Halves({
        "vertex": _signs(away, tolerance),
        "edge": _signs(away[edges].mean(axis=1) if len(edges) else np.zeros(0), tolerance),
        "face": _signs(_of_faces(surface, away), tolerance),
    })


def _of_faces(surface: Surface, away: FloatArray) -> FloatArray:
    """(f,) the mean of each face's corners."""
    sizes = np.diff(surface.face_starts)
    face = np.repeat(np.arange(len(sizes)), sizes)
    total = np.bincount(face, away[np.asarray(surface.corners, np.int64)], minlength=len(sizes))
    return np.asarray(total / np.maximum(sizes, 1))


def _signs(away: FloatArray, tolerance: float) -> IntArray:
    """A place that is no number counts as the middle."""
    known = np.where(np.isfinite(away), away, 0.0)
    return np.where(np.abs(known) <= tolerance, 0, np.sign(known)).astype(np.int64)
