"""Growing a pairing from settled pairs across the mesh's own faces and edges.

A face with two settled corners names the corners of its mirror face, which has them in the
opposite winding. So the true partner is found however far one side was pulled.
"""

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray
from .edges import edges_touching
from .grid import among, distinct, length
from .half_edges import Faces, HalfEdges
from .records import Mesh

OWN_SHARE = 0.4
"""How much of its own place a vertex's surroundings point keeps. Our choice."""


def accept(partner: IntArray, one: IntArray, other: IntArray) -> IntArray:
    """Take the proposals that no other proposal contradicts; returns the newly settled."""
    count = len(partner)
    free = (partner[one] < 0) & (partner[other] < 0)
    one, other = one[free], other[free]
    packed = distinct(np.minimum(one, other) * count + np.maximum(one, other))
    low, high = packed // count, packed % count
    ends = np.sort(np.concatenate([low, high[low != high]]), kind="stable")
    again = ends[1:][ends[1:] == ends[:-1]]
    contested = np.zeros(count, bool)
    contested[again] = True
    clear = ~(contested[low] | contested[high])
    low, high = low[clear], high[clear]
    partner[low], partner[high] = high, low
    return np.sort(np.concatenate([low, high[low != high]]), kind="stable")


def _face_proposals(
    table: HalfEdges, partner: IntArray, frontier: IntArray
) -> tuple[IntArray, IntArray]:
    source = table.source.take(frontier)
    start, end = partner.take(source), partner.take(table.target.take(frontier))
    known = (start >= 0) & (end >= source)  # the half-edge end -> start would propose the same
    frontier, start, end = frontier[known], start[known], end[known]
    useful = partner.take(table.after.take(frontier)) < 0
    useful |= partner.take(table.before(frontier)) < 0
    useful &= table.usable.take(frontier)
    frontier, start, end = frontier[useful], start[useful], end[useful]
    image = table.find(end, start)
    found = image >= 0
    frontier, image = frontier[found], image[found]
    alike = table.size[frontier] == table.size[image]
    frontier, image = frontier[alike], image[alike]
    one = np.concatenate([table.after.take(frontier), table.before(frontier)])
    other = np.concatenate([table.before(image), table.after.take(image)])
    return one.astype(np.int64), other.astype(np.int64)


def grow_over_faces(table: HalfEdges, partner: IntArray) -> IntArray:
    """Settle all that faces can name; returns the newly settled.

    In ``partner`` (changed in place) each must be its partner's partner.
    """
    settled = partner >= 0
    start = settled.take(table.source)
    ready = start & settled.take(table.target)
    ready &= ~(start.take(table.previous) & settled.take(table.after))
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
    keys = np.sort(_edge_keys(edges, count), kind="stable")
    wanted = _edge_keys(partner.take(edges), count)  # below zero where an end has no partner
    held = _edges_each(edges, among(keys, wanted), count)
    total = _edges_each(edges, every | (wanted >= 0), count)
    share = np.full(count, np.nan)
    rows = asked & (total > 0)
    share[rows] = held[rows] / total[rows]
    return share


def _edges_each(edges: IntArray, which: NDArray[np.bool_], count: int) -> IntArray:
    """(count,) how many of the (e, 2) edges, of those picked by ``which`` (e,), each vertex has."""
    return np.bincount(np.compress(which, edges, axis=0).ravel(), minlength=count)


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
