"""Whose vertices are paired with whose: each object's with its own, one-sided objects' with each other's."""

from dataclasses import dataclass, field

import numpy as np

from ..figure import FloatArray, IntArray, Surface
from ..findings import MirrorPlane
from ..nearest import Finder
from ..pairing import WELD_SHARE, Mesh, Pairing, pair_places, pair_points, shared_share
from ..plane import into_frame
from .half_model import Half, half_of

ONE_SIDED = 0.999
"""From this share of vertices on one side an object counts as one-sided. Our choice."""


@dataclass(frozen=True)
class LaidSurface:
    """A surface laid into the plane's frame: ``points`` (n, 3) in scene units, column 0 off the plane.

    ``half`` is set where a live Mirror modifier completes it.
    """

    surface: Surface
    points: FloatArray
    half: Half | None = None

    @property
    def one_sided(self) -> int:
        """+1 or -1 when all of it lies on that side and nothing touches the plane, else 0."""
        x = self.points[np.isfinite(self.points).all(axis=1), 0]
        if not len(x) or (np.abs(x) == 0).any():
            return 0
        left = float((x > 0).mean())
        return 1 if left >= ONE_SIDED else -1 if left <= 1.0 - ONE_SIDED else 0


@dataclass(frozen=True)
class Paired:
    """Surfaces whose vertices, one after the other, are paired as one set.

    ``notes`` say in sentences how they were compared.
    """

    entries: tuple[LaidSurface, ...]
    found: Pairing
    notes: tuple[str, ...] = ()
    starts: IntArray = field(init=False)

    def __post_init__(self) -> None:
        counts = [len(entry.points) for entry in self.entries]
        object.__setattr__(self, "starts", np.concatenate([[0], np.cumsum(counts)]).astype(np.int64))

    @property
    def owner(self) -> IntArray:
        """(n,) which of the entries each vertex belongs to."""
        return np.repeat(np.arange(len(self.entries)), np.diff(self.starts))

    @property
    def local(self) -> IntArray:
        """(n,) each vertex's number within its object."""
        return np.arange(int(self.starts[-1])) - np.repeat(self.starts[:-1], np.diff(self.starts))


def lay_surfaces(
    surfaces: tuple[Surface, ...], plane: MirrorPlane, tolerance: float
) -> tuple[LaidSurface, ...]:
    """Every surface in the plane's frame; ``tolerance`` in scene units."""
    return tuple(
        LaidSurface(
            surface,
            into_frame(surface.world, plane.point, plane.normal),
            half_of(surface, plane, tolerance),
        )
        for surface in surfaces
    )


def pair_surfaces(
    laid: tuple[LaidSurface, ...], tolerance: float, finder: Finder
) -> tuple[Paired, ...]:
    """The pairing of everything that is no half under a Mirror modifier."""
    return tuple(pair_entries(entries, tolerance, finder) for entries in groups_of(laid))


def groups_of(laid: tuple[LaidSurface, ...]) -> tuple[tuple[LaidSurface, ...], ...]:
    """What is paired as one set: each object alone, one-sided ones together where both sides have some."""
    whole = [entry for entry in laid if entry.half is None]
    loners = tuple(entry for entry in whole if entry.one_sided)
    if not {1, -1} <= {entry.one_sided for entry in loners}:
        loners = ()
    pooled = {id(entry) for entry in loners}
    groups = tuple((entry,) for entry in whole if id(entry) not in pooled)
    return (*groups, loners) if loners else groups


def pair_entries(entries: tuple[LaidSurface, ...], tolerance: float, finder: Finder) -> Paired:
    """The vertices of these surfaces paired as one set."""
    mesh = joined_mesh(entries)
    share = shared_share(mesh)
    split = any(entry.surface.split for entry in entries)
    if share < WELD_SHARE and not (split and share):
        return Paired(entries, pair_points(mesh, tolerance, finder))
    note = (
        f"{max(share, 0.01):.0%} of the vertices have copies at the same place, as exported files store seams "
        "and hard edges: copies were compared as one vertex."
    )
    return Paired(entries, pair_places(mesh, tolerance, finder), (note,))


def joined_mesh(entries: tuple[LaidSurface, ...]) -> Mesh:
    """The surfaces' points and connectivity, one after the other."""
    if len(entries) == 1:
        only = entries[0].surface
        return Mesh(entries[0].points, only.edges, only.corners, only.face_starts)
    counts = [len(entry.points) for entry in entries]
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    corners = np.concatenate([e.surface.corners + s for e, s in zip(entries, starts, strict=False)])
    faces = np.concatenate([[0], *[np.diff(e.surface.face_starts) for e in entries]]).cumsum()
    edges = np.concatenate(
        [e.surface.edges.reshape(-1, 2) + s for e, s in zip(entries, starts, strict=False)]
    )
    points = np.concatenate([entry.points for entry in entries])
    return Mesh(points, edges, corners, faces.astype(np.int64))
