"""Half a model under a live Mirror modifier: what makes it one, and which vertices become one.

Measured in 4.2, 4.5 and 5.2: a vertex and its copy become one where they lie less than the merge
limit apart, in the object's own units, and meet half way, weights included.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..figure import FloatArray, IntArray, MirrorModifier, Surface
from ..findings import MirrorPlane
from .centre_line import BoolArray, centre_line, open_edges

ACROSS = 0.1
"""With at most this share of its vertices on the other side a mesh counts as a half. Our choice."""

NEARLY = 0.9
"""Planes count as meant to be one from this cosine of the angle between them. Our choice."""

BESIDE = 0.1
"""How far off the figure's plane a half's own may lie to be meant as the same, as a share of the
half's width. Our choice."""

FEWEST = 3
"""So many vertices of an open edge on a plane make it the half's centre line. Our choice."""


@dataclass(frozen=True)
class Half:
    """A half with the modifier that completes it; ``given`` is the figure's plane.

    ``stray`` is the plane its open edge lies on where no modifier mirrors about that.
    """

    surface: Surface
    modifier: MirrorModifier
    given: MirrorPlane
    tolerance: float
    stray: "tuple[FloatArray, FloatArray] | None" = None

    @cached_property
    def away(self) -> FloatArray:
        """(n,) distances from the modifier's plane in scene units, where its normal points first."""
        return distances(self.surface, self.modifier.plane_point, self.modifier.plane_normal)

    @cached_property
    def apart(self) -> FloatArray:
        """(n,) how far apart the two copies of each vertex lie, in the object's own units."""
        into = np.linalg.pinv(self.surface.to_world[:3, :3])
        step = -2.0 * self.away[:, None] * self.modifier.plane_normal @ into.T
        return np.asarray(np.linalg.norm(step.astype(np.float32), axis=1), np.float64)

    @cached_property
    def joined(self) -> BoolArray:
        """(n,) whose two copies become one; those on the plane where nothing is merged."""
        limit = self.modifier.merge_limit
        if limit is None:
            return np.abs(self.away) <= self.tolerance
        return self.apart < np.float32(limit)

    @cached_property
    def border(self) -> IntArray:
        """(k, 2) the open edges."""
        return open_edges(self.surface)

    @cached_property
    def meant(self) -> BoolArray:
        """(n,) the vertices of the open edge that belong on the plane."""
        if self.stray is not None:
            away = distances(self.surface, *self.stray)
            return centre_line(self.surface.world, away, self.border, np.abs(away) <= self.tolerance)
        return centre_line(self.surface.world, self.away, self.border, self.joined)

    @property
    def centre(self) -> BoolArray:
        """(n,) the vertices of the finished model's centre."""
        return self.joined & (self.meant | (np.abs(self.away) <= self.tolerance))


def distances(surface: Surface, point: FloatArray, normal: FloatArray) -> FloatArray:
    """(n,) signed distances of the vertices from a plane in world space."""
    return np.asarray((surface.world - point) @ normal, np.float64)


def one_sided(away: FloatArray, tolerance: float) -> bool:
    """True where hardly anything lies on one of the sides."""
    known = away[np.isfinite(away)]
    fewer = min(int((known > tolerance).sum()), int((known < -tolerance).sum()))
    return fewer <= ACROSS * max(1, len(known))


def fits(one: MirrorModifier, plane: MirrorPlane, tolerance: float) -> bool:
    """True where the modifier mirrors about just this plane."""
    return (
        abs(abs(float(one.plane_normal @ plane.normal)) - 1.0) < 1e-6
        and abs(float((one.plane_point - plane.point) @ plane.normal)) <= tolerance
    )


def half_of(surface: Surface, plane: MirrorPlane, tolerance: float) -> Half | None:
    """The half that a live Mirror modifier completes, or None for a mesh that is checked whole."""
    if not surface.mirrors or not len(surface.positions):
        return None
    away = distances(surface, plane.point, plane.normal)
    for one in surface.mirrors:
        if fits(one, plane, tolerance) and one_sided(away, tolerance):
            return Half(surface, one, plane, tolerance)
    for one in surface.mirrors:
        half = Half(surface, one, plane, tolerance)
        if _meant_for(half, away):
            return half
    return astray(surface, plane, tolerance)


def _meant_for(half: Half, away: FloatArray) -> bool:
    """True where the modifier's plane lies slightly beside the figure's, and the half's edge on it."""
    if abs(float(half.modifier.plane_normal @ half.given.normal)) < NEARLY:
        return False
    if not one_sided(half.away, half.tolerance):
        return False
    beside = np.abs(np.abs(away) - np.abs(half.away))
    if float(np.nanmedian(beside)) > BESIDE * float(np.nanmax(np.abs(half.away), initial=0.0)):
        return False
    return _edge_on(half, half.away) >= FEWEST


def astray(surface: Surface, plane: MirrorPlane | None, tolerance: float) -> Half | None:
    """The half whose open edge lies on the figure's or its own plane, while it is mirrored elsewhere.

    Without ``plane`` only its own, X = 0 of the object, is looked at.
    """
    if not surface.mirrors or not len(surface.positions):
        return None
    own = np.cross(surface.to_world[:3, 1], surface.to_world[:3, 2])
    length = float(np.linalg.norm(own))
    planes = [(surface.to_world[:3, 3].astype(float), own / length)] if length > 0.0 else []
    planes = planes if plane is None else [(plane.point, plane.normal), *planes]
    halves = [Half(surface, one, _plane(one), tolerance) for one in surface.mirrors]
    most = max(FEWEST - 1, *(_edge_on(half, half.away) for half in halves))
    for stray in planes:
        away = distances(surface, *stray)
        if one_sided(away, tolerance) and _edge_on(halves[0], away) > most:
            return replace(halves[0], given=plane or halves[0].given, stray=stray)
    return None


def _plane(one: MirrorModifier) -> MirrorPlane:
    return MirrorPlane(one.plane_point, one.plane_normal, "given")


def _edge_on(half: Half, away: FloatArray) -> int:
    """How many vertices of the open edge lie on the plane that ``away`` (n,) is measured from."""
    border = np.unique(half.border)
    return int((np.abs(away[border]) <= half.tolerance).sum())
