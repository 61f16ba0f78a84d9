"""The table of a mesh's half-edges, and the faces it is made of."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..figure import IntArray
from .grid import distinct, ranked
from .records import Mesh

MANY = 0xFFFF
"""Faces of more corners than this count as alike."""


def _spans(starts: NDArray[np.integer], counts: NDArray[np.integer]) -> IntArray:
    """Concatenate the ranges start .. start + count."""
    total = int(counts.sum())
    ends = np.cumsum(counts)
    return np.arange(total) + np.repeat(starts - (ends - counts), counts)


def _ranks(order: IntArray) -> NDArray[np.int32]:
    """At which place of ``order`` (k,) each number stands."""
    ranks = np.empty(len(order), np.int32)
    ranks[order] = np.arange(len(order), dtype=np.int32)
    return ranks


def _following(values: NDArray[np.int32], firsts: IntArray, lasts: IntArray) -> NDArray[np.int32]:
    """To each corner its face's next; ``firsts`` and ``lasts`` say where faces begin and end."""
    out = np.empty_like(values)
    out[:-1] = values[1:]
    out[lasts] = values.take(firsts)
    return out


def _preceding(values: NDArray[np.int32], firsts: IntArray, lasts: IntArray) -> NDArray[np.int32]:
    """To each corner its face's last before it."""
    out = np.empty_like(values)
    out[1:] = values[:-1]
    out[firsts] = values.take(lasts)
    return out


@dataclass(frozen=True)
class Faces:
    """Some faces of a mesh: ``corners`` (c,) vertex numbers, ``lengths`` (f,) corners of each."""

    corners: IntArray
    lengths: IntArray

    @staticmethod
    def touching(mesh: Mesh, wanted: NDArray[np.bool_]) -> "Faces":
        """Every face that has a ``wanted`` (n,) vertex, and where most do, all."""
        lengths = np.diff(mesh.face_starts).astype(np.int64)
        hit = np.flatnonzero(wanted.take(mesh.corners))
        if 2 * len(hit) > len(mesh.corners):  # most faces: all, since a few more cost less than choosing
            return Faces(mesh.corners.astype(np.int64, copy=False), lengths[lengths > 0])
        touched = distinct(np.searchsorted(mesh.face_starts, hit, side="right") - 1)
        corners = mesh.corners[_spans(mesh.face_starts[touched], lengths[touched])]
        return Faces(corners.astype(np.int64), lengths[touched])

    def around(self, wanted: NDArray[np.bool_]) -> "Faces":
        """Those of the faces that have a ``wanted`` (n,) vertex."""
        if not len(self.lengths):
            return self
        starts = np.cumsum(self.lengths) - self.lengths
        hit = np.logical_or.reduceat(wanted[self.corners], starts)
        return Faces(self.corners[np.repeat(hit, self.lengths)], self.lengths[hit])


@dataclass(frozen=True)
class HalfEdges:
    """Directed face edges, sorted by start and end: ``keys`` = start * n + end, ascending.

    Those that start in vertex v are ``first[v]`` to ``first[v + 1]``; ``first`` has (n + 1,).
    ``after`` is the corner of its face after its end, ``previous`` the number of the half-edge
    that ends in its start.
    """

    keys: IntArray
    first: NDArray[np.integer]
    source: NDArray[np.integer]
    target: NDArray[np.integer]
    after: NDArray[np.integer]
    previous: NDArray[np.integer]
    size: NDArray[np.integer]
    usable: NDArray[np.bool_]
    vertex_count: int

    @staticmethod
    def of(faces: "Faces", count: int) -> "HalfEdges":
        """The half-edges of the faces, in a mesh of ``count`` vertices.

        All but the keys are kept as 32-bit numbers: on a large mesh this table is the largest
        thing there is.
        """
        source, lengths = faces.corners.astype(np.int32), faces.lengths
        lasts = np.cumsum(lengths) - 1
        firsts = lasts - lengths + 1
        target = _following(source, firsts, lasts)
        keys = faces.corners * count
        keys += target
        keys, order = ranked(keys, count * count, "stable")
        once = np.ones(len(keys), bool)
        once[1:] &= keys[1:] != keys[:-1]
        once[:-1] &= keys[:-1] != keys[1:]
        first = np.zeros(count + 1, np.int32)
        np.cumsum(np.bincount(source, minlength=count), out=first[1:])
        previous = _preceding(_ranks(order), firsts, lasts).take(order)
        after = _following(target, firsts, lasts).take(order)
        target = target.take(order)
        source = source.take(order)
        size = np.repeat(np.minimum(lengths, MANY).astype(np.uint16), lengths).take(order)
        return HalfEdges(keys, first, source, target, after, previous, size, once, count)

    def before(self, numbers: IntArray) -> NDArray[np.integer]:
        """The corner of its face before the start of each of the half-edges."""
        return self.source.take(self.previous.take(numbers))

    def find(self, source: IntArray, target: IntArray) -> IntArray:
        """Number of each half-edge source -> target, -1 where there is not exactly one."""
        if not len(self.keys):
            return np.full(len(source), -1)
        wanted = source * self.vertex_count + target
        at = np.minimum(np.searchsorted(self.keys, wanted), len(self.keys) - 1)
        return np.where((self.keys[at] == wanted) & self.usable[at], at, -1)

    def beside(self, vertices: IntArray) -> IntArray:
        """Half-edges that start or end in the vertices; those that do both stand there twice."""
        first = self.first[vertices]
        out = _spans(first, self.first[vertices + 1] - first)
        return np.concatenate([out, self.previous[out]])
