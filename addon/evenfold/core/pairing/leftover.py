"""What neither place nor connectivity could settle: distance, crowded places, the moved side."""

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray
from ..nearest import Finder
from .edges import edges_touching, shortest_edge
from .grid import among, cell_hash, flipped, mirrored, rows
from .islands import components
from .records import Mesh, State

LOCAL_REACH = 0.5
"""How far a connected vertex is searched by distance alone, as a share of its shortest edge."""

LOOSE_REACH = 50.0
"""The same for points without edges, as a multiple of the tolerance. Our choice."""

TIE = 0.5
"""A nearest candidate must be closer than this share of the next one's distance."""

CROWD = 16


def spacing(mesh: Mesh, vertices: IntArray, loose: float) -> FloatArray:
    """(k,) length of the shortest edge of each of the vertices, ``loose`` where it has none."""
    shortest = shortest_edge(mesh, vertices)
    return np.where(np.isfinite(shortest), shortest, loose)


def match_by_distance(
    mesh: Mesh, partner: IntArray, tolerance: float, finder: Finder
) -> tuple[IntArray, IntArray]:
    """Pair the free by mutual, clear nearness (in ``partner``); returns (settled, tied)."""
    free = np.flatnonzero(partner < 0)
    if not len(free):
        return free, free
    points = mesh.points[free]
    distance, at = finder(points).query(mirrored(points), 2)
    best, number = at[:, 0], np.arange(len(free))
    loose = 2.0 * LOOSE_REACH * tolerance
    reach = np.maximum(LOCAL_REACH * spacing(mesh, free, loose), tolerance)
    near = distance[:, 0] <= reach
    clear = distance[:, 0] < TIE * distance[:, 1]
    mutual = best[best] == number
    good = near & clear & mutual & near[best] & clear[best]
    tied = near & ~clear
    partner[free[good]] = free[best[good]]
    return free[good], free[tied]


def crowded(
    points: FloatArray, free: IntArray, tolerance: float, finder: Finder
) -> tuple[IntArray, IntArray, list[IntArray]]:
    """For each free vertex: how many share its place, how many its mirror place, and the former."""
    cell = 4.0 * tolerance
    ask = np.concatenate([points[free], mirrored(points[free])])
    steps = np.array([[x, y, z] for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1)]) * cell
    cells = np.unique(cell_hash((ask[:, None] + steps).reshape(-1, 3), cell, (0.0, 0.0, 0.0)))
    near = np.flatnonzero(among(cells, cell_hash(points, cell, (0.0, 0.0, 0.0))))
    search = finder(points[near])
    same = tolerance * 0.01
    distance, at = search.query(points[free], CROWD)
    here = distance <= same
    across, first = search.query(mirrored(points[free]), 1)
    there_points = points[near][np.maximum(first[:, 0], 0)]
    there_distance, _ = search.query(there_points, CROWD)
    there = np.where(across[:, 0] <= tolerance, (there_distance <= same).sum(axis=1), 0)
    return here.sum(axis=1), there, [near[row[mask]] for row, mask in zip(at, here, strict=True)]


def class_of_free(
    points: FloatArray,
    free: IntArray,
    tied: IntArray,
    tolerance: float,
    finder: Finder,
    state: NDArray[np.uint8],
) -> None:
    """Say of each vertex without partner (in ``state``) unpaired, doubled or ambiguous."""
    state[free] = State.UNPAIRED
    state[tied] = State.AMBIGUOUS
    if not len(free):
        return
    here, there, groups = crowded(points, free, tolerance, finder)
    for row in np.flatnonzero((there > 0) & ((here > 1) | (there > 1))):
        members = groups[row]
        if here[row] == there[row]:
            state[free[row]] = State.AMBIGUOUS
        else:
            state[members if here[row] > 1 else free[row]] = State.DOUBLED


def moved_side(mesh: Mesh, partner: IntArray, drifted: IntArray) -> NDArray[np.bool_]:
    """(n,) bool: of each drifted pair the vertex that seems to have been moved.

    Evidence is the evenness of the surface (thin-plate energy: squared Laplacians of a vertex
    and its neighbours): would it gain more if the one took its partner's mirrored place, or the
    other? Where that is not clear, the connected patch votes; without any evidence it is the
    vertex on the far side of the plane.
    """
    suspect = np.zeros(len(mesh.points), bool)
    if not len(drifted):
        return suspect
    x = mesh.points[:, 0]
    other = partner[drifted]
    left = (x[drifted] > x[other]) | ((x[drifted] == x[other]) & (drifted < other))
    one, other = drifted[left], other[left]
    inside = np.zeros(len(mesh.points), bool)
    inside[drifted] = True
    pull = _evening_pull(mesh, inside)
    apart = rows(mesh.points, one) - flipped(rows(mesh.points, other))
    gain = (apart * (rows(pull, one) + flipped(rows(pull, other)))).sum(axis=1)
    clear = np.abs(gain) > 0.5 * np.square(apart).sum(axis=1)
    del pull, apart
    edges = mesh.edges.reshape(-1, 2)
    links = np.compress(inside.take(edges).all(axis=1), edges, axis=0).astype(np.int32)
    links = np.concatenate([links, np.stack([one, other], axis=1, dtype=np.int32)])
    label = components(len(mesh.points), links)
    lean = np.bincount(label[one], gain, minlength=len(mesh.points))[label[one]]
    first = np.where(clear, gain > 0.0, lean > 0.0)
    suspect[np.where(first, one, other)] = True
    return suspect


def _evening_pull(mesh: Mesh, inside: NDArray[np.bool_]) -> FloatArray:
    """(n, 3) gradient of the thin-plate energy at the vertices ``inside`` (n,)."""
    count = len(mesh.points)
    pull = np.zeros((count, 3))
    near = inside.copy()
    near[edges_touching(mesh.edges, inside)] = True
    one, other = edges_touching(mesh.edges, near).T.astype(np.int32)
    degree = np.bincount(one, minlength=count) + np.bincount(other, minlength=count)
    degree = np.maximum(degree, 1)
    for axis in range(3):
        values = mesh.points[:, axis].copy()
        apart = values.take(other)
        apart -= values.take(one)
        bend = np.bincount(one, apart, minlength=count) - np.bincount(other, apart, minlength=count)
        bend = bend / degree
        share = bend / degree
        pull[:, axis] = np.bincount(one, share.take(other), minlength=count)
        pull[:, axis] += np.bincount(other, share.take(one), minlength=count)
        pull[:, axis] -= bend
    return pull
