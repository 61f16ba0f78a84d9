"""Connected pieces, and matching whole pieces that have no settled vertex."""

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray
from ..nearest import Finder
from .edges import edges_touching
from .grid import mirrored

ISLAND_REACH = 0.5
"""How far a piece may have been shifted, as a share of its own size. Our choice."""


def components(count: int, edges: NDArray[np.integer]) -> NDArray[np.int32]:
    """(count,) label of each vertex's connected piece: the smallest vertex number in it."""
    label = np.arange(count, dtype=np.int32)
    if not len(edges):
        return label
    one, other = edges.T.astype(np.int32)
    while len(one):
        np.minimum.at(label, np.maximum(one, other), np.minimum(one, other))
        while True:
            jumped = label.take(label)
            if np.array_equal(jumped, label):
                break
            label = jumped
        one, other = label.take(one), label.take(other)
        between = one != other  # edges between pieces not yet known to be one
        one, other = one[between], other[between]
    return label


def _centres(
    points: FloatArray, piece: IntArray, count: int
) -> tuple[FloatArray, FloatArray, IntArray]:
    sizes = np.bincount(piece, minlength=count)
    centre = np.zeros((count, 3))
    for axis in range(3):
        centre[:, axis] = np.bincount(piece, points[:, axis], minlength=count) / sizes
    reach = np.zeros(count)
    np.maximum.at(reach, piece, np.linalg.norm(points - centre[piece], axis=1))
    return centre, 2.0 * reach, sizes


def match_pieces(
    centre: FloatArray, size: FloatArray, count: IntArray, finder: Finder
) -> list[tuple[int, int]]:
    """Pieces that are each other's nearest among those with as many vertices; (one, other)."""
    found: list[tuple[int, int]] = []
    for amount in np.unique(count[count > 1]):
        group = np.flatnonzero(count == amount)
        distance, at = finder(centre[group]).query(mirrored(centre[group]), 2)
        best = at[:, 0]
        clear = distance[:, 0] < 0.999 * distance[:, 1]
        near = distance[:, 0] <= ISLAND_REACH * np.maximum(size[group], size[group][best])
        mutual = best[best] == np.arange(len(group))
        rows = np.flatnonzero(clear & near & mutual & (best >= np.arange(len(group))))
        found += zip(group[rows].tolist(), group[best[rows]].tolist(), strict=True)
    return found


def seeds_between(
    points: FloatArray, one: IntArray, other: IntArray, finder: Finder
) -> tuple[IntArray, IntArray]:
    """Vertices of two pieces that clearly answer each other once the pieces are laid together."""
    image = mirrored(points[one])
    shift = points[other].mean(axis=0) - image.mean(axis=0)
    distance, at = finder(points[other]).query(image + shift, 2)
    _, back = finder(image + shift).query(points[other], 1)
    best = at[:, 0]
    clear = (distance[:, 0] <= 0.25 * distance[:, 1]) & (back[best, 0] == np.arange(len(one)))
    return one[clear], other[best[clear]]


def seed_islands(
    points: FloatArray, edges: IntArray, partner: IntArray, finder: Finder
) -> NDArray[np.int64]:
    """Give whole free pieces their first pairs (in ``partner``); returns the newly settled."""
    free = np.flatnonzero(partner < 0)
    if not len(free) or not len(edges):
        return np.zeros(0, np.int64)
    label = components(len(points), edges_touching(edges, partner < 0))
    attached = np.zeros(len(points), bool)
    attached[label[partner >= 0]] = True
    free = free[~attached[label[free]]]
    names, piece = np.unique(label[free], return_inverse=True)
    if not len(names):
        return np.zeros(0, np.int64)
    centre, size, count = _centres(points[free], piece, len(names))
    order = np.argsort(piece, kind="stable")
    members = np.split(free[order], np.cumsum(count)[:-1])
    news = [np.zeros(0, np.int64)]
    for one, other in match_pieces(centre, size, count, finder):
        left, right = seeds_between(points, members[one], members[other], finder)
        if one == other:
            agreed = np.full(len(points), -1)
            agreed[left] = right
            keep = agreed[agreed[left]] == left
            left, right = left[keep], right[keep]
        partner[left], partner[right] = right, left
        news += [left, right]
    return np.unique(np.concatenate(news))
