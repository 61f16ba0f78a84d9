"""Growing a pairing from settled pairs across the mesh's own faces and edges.

A face with two settled corners names the corners of its mirror face, which has them in the
opposite winding. So the true partner is found however far one side was pulled.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray
from .grid import length, ranked
from .records import Mesh, edges_touching

MANY = 0xFFFF
"""Faces of more corners than this count as alike."""
OWN_SHARE = 0.4
"""How much of its own place a vertex's surroundings point keeps. Our choice."""


def _spans(starts: NDArray[np.integer], counts: NDArray[np.integer]) -> IntArray:
    """Concatenate the ranges start .. start + count."""
    total = int(counts.sum())
    ends = np.cumsum(counts)
    return np.arange(total) + np.repeat(starts - (ends - counts), counts)


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
    ``before`` and ``after`` are the corners of its face before its start and after its end,
    ``previous`` is the number of the half-edge that ends in its start.
    """

    keys: IntArray
    first: NDArray[np.integer]
    source: NDArray[np.integer]
    target: NDArray[np.integer]
    before: NDArray[np.integer]
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
        ends = np.cumsum(lengths)
        number = np.arange(len(source), dtype=np.int32)
        following, previous = number + np.int32(1), number - np.int32(1)
        following[ends - 1], previous[ends - lengths] = ends - lengths, ends - 1
        target = source.take(following)
        keys, order = ranked(faces.corners * count + target, count * count)
        order = order.astype(np.int32)
        rank = np.empty_like(order)
        rank[order] = number
        once = np.ones(len(keys), bool)
        once[1:] &= keys[1:] != keys[:-1]
        once[:-1] &= keys[:-1] != keys[1:]
        before = source.take(previous).take(order)
        previous = rank.take(previous).take(order)
        del rank
        after = target.take(following).take(order)
        del following
        first = np.zeros(count + 1, np.int32)
        np.cumsum(np.bincount(source, minlength=count), out=first[1:])
        return HalfEdges(
            keys,
            first,
            source=source.take(order),
            target=target.take(order),
            before=before,
            after=after,
            previous=previous,
            size=np.repeat(np.minimum(lengths, MANY).astype(np.uint16), lengths).take(order),
            usable=once,
            vertex_count=count,
        )

    def find(self, source: IntArray, target: IntArray) -> IntArray:
        """Number of each half-edge source -> target, -1 where there is not exactly one."""
        if not len(self.keys):
            return np.full(len(source), -1)
        wanted = source * self.vertex_count + target
        at = np.minimum(np.searchsorted(self.keys, wanted), len(self.keys) - 1)
        return np.where((self.keys[at] == wanted) & self.usable[at], at, -1)

    def beside(self, vertices: IntArray) -> IntArray:
        """Half-edges that start or end in the vertices."""
        first = self.first[vertices]
        out = _spans(first, self.first[vertices + 1] - first)
        return distinct(np.concatenate([out, self.previous[out]]))


def distinct(values: IntArray) -> IntArray:
    """The values, ascending, without repeats (a plain sort: quicker here than numpy's hashing)."""
    values = np.sort(values)
    fresh = np.ones(len(values), bool)
    fresh[1:] = values[1:] != values[:-1]
    return values[fresh]


def accept(partner: IntArray, one: IntArray, other: IntArray) -> IntArray:
    """Take the proposals that no other proposal contradicts; returns the newly settled."""
    count = len(partner)
    free = (partner[one] < 0) & (partner[other] < 0)
    one, other = one[free], other[free]
    packed = distinct(np.minimum(one, other) * count + np.maximum(one, other))
    low, high = packed // count, packed % count
    ends = np.sort(np.concatenate([low, high[low != high]]))
    again = ends[1:][ends[1:] == ends[:-1]]
    contested = np.zeros(count, bool)
    contested[again] = True
    clear = ~(contested[low] | contested[high])
    low, high = low[clear], high[clear]
    partner[low], partner[high] = high, low
    return np.sort(np.concatenate([low, high[low != high]]))


def _face_proposals(
    table: HalfEdges, partner: IntArray, frontier: IntArray
) -> tuple[IntArray, IntArray]:
    free = partner < 0
    useful = free.take(table.after.take(frontier))
    useful |= free.take(table.before.take(frontier))
    frontier = frontier[useful & table.usable.take(frontier)]
    start = partner.take(table.source.take(frontier))
    end = partner.take(table.target.take(frontier))
    known = (start >= 0) & (end >= 0)
    frontier, start, end = frontier[known], start[known], end[known]
    image = table.find(end, start)
    found = image >= 0
    frontier, image = frontier[found], image[found]
    alike = table.size[frontier] == table.size[image]
    frontier, image = frontier[alike], image[alike]
    one = np.concatenate([table.after.take(frontier), table.before.take(frontier)])
    other = np.concatenate([table.before.take(image), table.after.take(image)])
    return one.astype(np.int64), other.astype(np.int64)


def grow_over_faces(table: HalfEdges, partner: IntArray) -> IntArray:
    """Settle (in ``partner``) all that faces can name; returns the newly settled."""
    settled = partner >= 0
    ready = settled.take(table.source)
    ready &= settled.take(table.target)
    ready &= ~(settled.take(table.before) & settled.take(table.after))
    frontier = np.flatnonzero(ready)
    news = [np.zeros(0, np.int64)]
    while len(frontier):
        fresh = accept(partner, *_face_proposals(table, partner, frontier))
        news.append(fresh)
        frontier = table.beside(fresh) if len(fresh) else fresh
    return np.concatenate(news)


def grow_over_edges(mesh: Mesh, partner: IntArray) -> IntArray:
    """Settle a vertex that is the only free neighbour of a settled one, on both sides alike."""
    if not len(mesh.edges) or not (partner < 0).any():
        return np.zeros(0, np.int64)
    count = len(mesh.points)
    settled = partner >= 0
    ends = settled.take(mesh.edges[:, 0]), settled.take(mesh.edges[:, 1])
    rim = np.take(mesh.edges, np.flatnonzero(ends[0] != ends[1]), axis=0)
    inner, outer = np.where(settled.take(rim[:, :1]), rim, rim[:, ::-1]).T.astype(np.int64)
    free = np.bincount(inner, minlength=count)
    last = np.full(count, -1)
    last[inner] = outer
    at = np.flatnonzero(free == 1)
    image = partner[at]
    good = (free[image] == 1) & ((image == at) | (last[at] != last[image]))
    at, image = at[good], image[good]
    degree = _degrees(mesh, at, image)
    even = degree[at] == degree[image]
    return accept(partner, last[at[even]], last[image[even]])


def _degrees(mesh: Mesh, *vertices: IntArray) -> IntArray:
    """(n,) how many edges each of the vertices has; other vertices may have too few."""
    asked = np.zeros(len(mesh.points), bool)
    for numbers in vertices:
        asked[numbers] = True
    return np.bincount(edges_touching(mesh.edges, asked).ravel(), minlength=len(asked))


def borne_out(
    mesh: Mesh, partner: IntArray, asked: NDArray[np.bool_], *, every: bool = False
) -> FloatArray:
    """(n,) share of an asked vertex's edges between paired vertices that have mirrored edges.

    NaN where there is none, and for vertices not in ``asked`` (n,). With ``every`` the edges to
    vertices without a partner count too, as not borne out.
    """
    count = len(mesh.points)
    reach = asked.copy()
    known = np.flatnonzero(asked & (partner >= 0))
    reach[partner[known]] = True
    edges = edges_touching(mesh.edges, reach)
    keys = np.sort(_edge_keys(edges, count))
    image = partner[edges]
    whole = (image[:, 0] >= 0) & (image[:, 1] >= 0)
    total = np.bincount((edges if every else edges[whole]).ravel(), minlength=count)
    edges, image = edges[whole], image[whole]
    wanted = _edge_keys(image, count)
    at = np.minimum(np.searchsorted(keys, wanted), max(len(keys) - 1, 0))
    good = keys[at] == wanted if len(keys) else np.zeros(0, bool)
    held = np.bincount(edges[good].ravel(), minlength=count)
    share = np.full(count, np.nan)
    rows = asked & (total > 0)
    share[rows] = held[rows] / total[rows]
    return share


def _edge_keys(edges: IntArray, count: int) -> IntArray:
    return np.minimum(edges[:, 0], edges[:, 1]) * count + np.maximum(edges[:, 0], edges[:, 1])


def surroundings(points: FloatArray, faces: Faces, wanted: IntArray) -> FloatArray:
    """A point beside each wanted vertex that tells apart vertices sharing a place; (w, 3).

    Between its own place and the mean of its faces' middles, lifted along their normals: the
    two lips of a closed mouth, the two shells of a double-sided cloth and the corners of faces
    that share no vertices all get unlike points. A vertex without faces gets NaN. ``faces``
    must hold every face of the ``wanted`` (w,) vertices, ascending.
    """
    out = np.full((len(wanted), 3), np.nan)
    lengths, corner = faces.lengths, faces.corners
    if not len(lengths) or not len(wanted):
        return out
    ends = np.cumsum(lengths)
    place = points[corner]
    step = np.arange(len(corner)) + 1
    step[ends - 1] = ends - lengths
    face = np.repeat(np.arange(len(lengths)), lengths)
    middle = np.add.reduceat(place, ends - lengths, axis=0) / lengths[:, None]
    spoke = place - middle[face]
    normal = np.add.reduceat(np.cross(spoke, spoke[step]), ends - lengths, axis=0)
    size = np.sqrt(length(normal))
    lifted = middle + 0.5 * np.divide(
        normal, size[:, None], out=np.zeros_like(normal), where=size[:, None] > 0
    )
    row = np.minimum(np.searchsorted(wanted, corner), len(wanted) - 1)
    mine = np.flatnonzero(wanted[row] == corner)
    uses = np.bincount(row[mine], minlength=len(wanted))
    used = uses > 0
    for axis in range(3):
        total = np.bincount(row[mine], lifted[face[mine], axis], minlength=len(wanted))[used]
        out[used, axis] = (1.0 - OWN_SHARE) * total / uses[used] + OWN_SHARE * points[
            wanted[used], axis
        ]
    return out
