"""Which element is whose partner: what every further layer is compared on."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray, Surface
from ..findings import Finding, MirrorPlane
from ..pairing import WELD_SHARE
from ..settings import Settings
from .elements import (
    corner_faces,
    corner_partners,
    edge_partners,
    face_partners,
    place_numbers,
)

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Limits:
    """``tolerance`` in scene units, ``metres`` a scene unit; the plane in world space.

    ``unnamed`` are bones that mirror each other by place while their names tell no pair: groups
    called like them belong to one half each, and nobody can say whose counterpart they are.
    """

    tolerance: float
    metres: float
    plane: MirrorPlane
    settings: Settings
    unnamed: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Matched:
    """One object with itself, or a left object with the right one that is its mirror image.

    ``points`` (n, 3) are ``here``'s vertices in the plane's frame, column 0 positive on the
    left; ``partner`` (n,) numbers in ``there``, -1 where none is known, and on an object
    matched with itself the vertex's own number on the centre. Ambiguous vertices have no partner
    here, of several ``doubled`` ones (n,) at one place only one has. ``off`` (n,) bool marks
    vertices whose partner is known but drifted.

    Partners of edges (e,), faces (f,) and corners (c,) follow from those of the vertices.
    Where a mesh stores vertices several times at one place they are compared by place.
    """

    here: Surface
    there: Surface
    points: FloatArray
    partner: IntArray
    off: BoolArray
    doubled: BoolArray | None = None

    @property
    def itself(self) -> bool:
        """True when both halves are in one object."""
        return self.here is self.there

    @cached_property
    def by_place(self) -> bool:
        """True when vertices at exactly one place count as one, as pairing takes them."""
        split = self.here.split or self.there.split
        return split or _shared(self._places_here) or _shared(self._places_there)

    @cached_property
    def edge_partner(self) -> IntArray:
        """(e,) the partner of each edge, -1 where an end has none or nothing joins them."""
        return edge_partners(self.image, self.here.edges, self.name, self.there.edges)

    @cached_property
    def face_partner(self) -> IntArray:
        """(f,) the partner of each face, -1 where a vertex has none or no face lies over them."""
        return face_partners(self.image, self.here, self.name, self.there)

    @cached_property
    def corner_partner(self) -> IntArray:
        """(c,) the partner of each face corner, -1 where its face has none."""
        return corner_partners(self.image, self.here, self.name, self.there, self.face_partner)

    @cached_property
    def name(self) -> IntArray:
        """(m,) what ``there``'s vertices are called: their number, or the lowest at their place."""
        return self._places_there if self.by_place else np.arange(len(self.there.positions))

    @cached_property
    def image(self) -> IntArray:
        """(n,) the name of each vertex's partner, -1 where none is known."""
        if not len(self.name):
            return self.partner
        return np.where(self.partner >= 0, self.name[self.partner], -1)

    @cached_property
    def face_x(self) -> FloatArray:
        """(f,) how far left each face lies."""
        lengths = np.diff(self.here.face_starts)
        total = np.bincount(
            corner_faces(self.here), self.points[self.here.corners, 0], minlength=len(lengths)
        )
        return total / np.maximum(lengths, 1)

    @cached_property
    def edge_x(self) -> FloatArray:
        """(e,) how far left each edge lies."""
        return self.points[self.here.edges.reshape(-1, 2), 0].mean(axis=1)

    @cached_property
    def corner_x(self) -> FloatArray:
        """(c,) how far left each corner's face lies."""
        return self.face_x[corner_faces(self.here)]

    @cached_property
    def vertices_once(self) -> BoolArray:
        """(n,) one vertex of each pair, the left one, and those on the centre."""
        return self.once(self.partner, self.points[:, 0])

    @cached_property
    def edges_once(self) -> BoolArray:
        """(e,) one edge of each pair, the left one, and those that are their own partner."""
        return self.once(self.edge_partner, self.edge_x)

    @cached_property
    def faces_once(self) -> BoolArray:
        """(f,) one face of each pair, the left one, and those that are their own partner."""
        return self.once(self.face_partner, self.face_x)

    @cached_property
    def corners_once(self) -> BoolArray:
        """(c,) one corner of each pair, that of the left face, and those on the centre."""
        return self.once(self.corner_partner, self.corner_x)

    def once(self, partner: IntArray, x: FloatArray) -> BoolArray:
        """One element of each pair: the one further left, or the first of two equally far."""
        if not self.itself or not len(partner):
            return partner >= 0
        own = np.arange(len(partner))
        other = x[partner]
        return (partner >= 0) & ((x > other) | ((x == other) & (own <= partner)))

    def finding(
        self,
        code: str,
        kind: str,
        elements: IntArray,
        partners: IntArray,
        sizes: FloatArray,
        unit: str,
        subject: str | None = None,
        subjects: tuple[str, ...] = (),
    ) -> Finding:
        """A finding on ``here``'s elements, in their order, with the vertices to select."""
        order = np.argsort(elements, kind="stable")
        elements, partners, sizes = elements[order], partners[order], sizes[order]
        vertices = _vertices(self.here, kind, elements)
        hidden = self.here.hidden
        unseen = 0 if hidden is None else int(hidden[vertices].sum())
        if kind == "vertex" and hidden is not None and self.itself:
            unseen = int((hidden[elements] | ((partners >= 0) & hidden[partners])).sum())
        return Finding(
            code,
            elements,
            partners,
            sizes,
            " / ".join(subjects) or subject,
            None if self.itself else self.there.name,
            hidden=unseen,
            kind=kind,
            unit=unit,
            vertices=vertices,
            subjects=subjects,
        )

    @cached_property
    def kept(self) -> dict[tuple[str, ...], Any]:
        """What a layer has worked out and will need once more."""
        return {}

    @cached_property
    def _places_here(self) -> IntArray:
        return place_numbers(self.here)

    @cached_property
    def _places_there(self) -> IntArray:
        return self._places_here if self.itself else place_numbers(self.there)


def _shared(names: IntArray) -> bool:
    """True when as large a share of the vertices is stored several times as pairing welds from."""
    if not len(names):
        return False
    uses = np.bincount(names)
    return float((uses[names] > 1).mean()) >= WELD_SHARE


def _vertices(surface: Surface, kind: str, elements: IntArray) -> IntArray:
    if kind == "edge":
        return np.unique(surface.edges.reshape(-1, 2)[elements])
    if kind == "corner":
        return np.unique(surface.corners[elements])
    if kind == "face":
        chosen = np.zeros(len(surface.face_starts) - 1, bool)
        chosen[elements] = True
        return np.unique(surface.corners[chosen[corner_faces(surface)]])
    return np.unique(elements)
