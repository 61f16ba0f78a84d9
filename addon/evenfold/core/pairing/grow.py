"""Growing a pairing from settled pairs across the mesh's own faces and edges.

A face with two settled corners names the corners of its mirror face, which has them in the
opposite winding. So the true partner is found however far one side was pulled.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray
from .grid import length
from .records import Mesh, edges_touching

OWN_SHARE = 0.4
"""How much of its own place a vertex's surroundings point keeps. Our choice."""


def _spans(starts: IntArray, counts: IntArray) -> IntArray:
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
        """Every face that has a ``wanted`` (n,) vertex."""
        lengths = np.diff(mesh.face_starts)
        hit = np.flatnonzero(wanted[mesh.corners])
        touched = distinct(np.searchsorted(mesh.face_starts, hit, side="right") - 1)
        corners = mesh.corners[_spans(mesh.face_starts[touched], lengths[touched])]
        return Faces(corners.astype(np.int64), lengths[touched].astype(np.int64))

    def around(self, wanted: NDArray[np.bool_]) -> "Faces":
        """Those of the faces that have a ``wanted`` (n,) vertex."""
        if not len(self.lengths):
            return self
        starts = np.cumsum(self.lengths) - self.lengths
        hit = np.logical_or.reduceat(wanted[self.corners], starts)
        return Faces(self.corners[np.repeat(hit, self.lengths)], self.lengths[hit])


@dataclass(frozen=True)
class HalfEdges:
    """Directed face edges, sorted by start and end: ``keys`` = start * n + end, ascending."""

    keys: IntArray
    source: NDArray[np.integer]
    target: NDArray[np.integer]
    following: NDArray[np.integer]
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
        source, lengths = faces.corners, faces.lengths
        ends = np.cumsum(lengths)
        number = np.arange(len(source), dtype=np.int32)
        following, previous = number + np.int32(1), number - np.int32(1)
        following[ends - 1], previous[ends - lengths] = ends - lengths, ends - 1
        keys = source * count + source.take(following)
        order = np.argsort(keys).astype(np.int32)
        rank = np.empty_like(order)
        rank[order] = number
        keys = keys.take(order)
        once = np.ones(len(keys), bool)
        once[1:] &= keys[1:] != keys[:-1]
        once[:-1] &= keys[:-1] != keys[1:]
        following = rank.take(following.take(order))
        previous = rank.take(previous.take(order))
        size = np.repeat(lengths.astype(np.int32), lengths).take(order)
        start = source.astype(np.int32).take(order)
        return HalfEdges(keys, start, start.take(following), following, previous, size, once, count)

    def find(self, source: IntArray, target: IntArray) -> IntArray:
        """Number of each half-edge source -> target, -1 where there is not exactly one."""
        if not len(self.keys):
            return np.full(len(source), -1)
        wanted = source * self.vertex_count + target
        at = np.minimum(np.searchsorted(self.keys, wanted), len(self.keys) - 1)
        return np.where((self.keys[at] == wanted) & self.usable[at], at, -1)

    def beside(self, vertices: IntArray) -> IntArray:
        """Half-edges that start or end in the vertices."""
        first = np.searchsorted(self.keys, vertices * self.vertex_count)
        last = np.searchsorted(self.keys, (vertices + 1) * self.vertex_count)
        out = _spans(first, last - first)
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
    next_corner = table.target.take(table.following.take(frontier))
    last_corner = table.source.take(table.previous.take(frontier))
    useful = (partner.take(next_corner) < 0) | (partner.take(last_corner) < 0)
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
    after, before = table.following[frontier], table.previous[frontier]
    one = np.concatenate([table.target[after], table.source[before]])
    other = np.concatenate(
        [table.source[table.previous[image]], table.target[table.following[image]]]
    )
    return one.astype(np.int64), other.astype(np.int64)


def grow_over_faces(table: HalfEdges, partner: IntArray) -> IntArray:
    """Settle (in ``partner``) all that faces can name; returns the newly settled."""
    frontier = np.flatnonzero((partner[table.source] >= 0) & (partner[table.target] >= 0))
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
    both = np.concatenate([mesh.edges, mesh.edges[:, ::-1]]).astype(np.int64)
    degree = np.bincount(both[:, 0], minlength=count)
    open_edges = both[(partner[both[:, 0]] >= 0) & (partner[both[:, 1]] < 0)]
    free = np.bincount(open_edges[:, 0], minlength=count)
    last = np.full(count, -1)
    last[open_edges[:, 0]] = open_edges[:, 1]
    at = np.flatnonzero(free == 1)
    image = partner[at]
    good = (free[image] == 1) & (degree[at] == degree[image])
    good &= (image == at) | (last[at] != last[image])
    return accept(partner, last[at[good]], last[image[good]])


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
