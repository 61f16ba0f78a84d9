"""The open edge of half a model: which of its vertices belong on the mirror plane."""

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray, Surface
from ..pairing.islands import components

REACH = 0.05
"""How far from the plane a vertex may lie and still belong on it, as a share of the half's width.
Our choice, as are those that follow."""

SHORT_REACH = 0.02
"""The same for a stretch that leaves the plane at a slant."""

SLANT = 0.7
"""Edges that climb from the plane by more of their length begin an opening, not a fault."""

ALONG = 0.1
"""Edges that climb by at most this share of their length run along the plane."""

LONG = 20.0
"""So many times longer than it is off the plane, a stretch along it is a centre line."""

BoolArray = NDArray[np.bool_]


def open_edges(surface: Surface) -> IntArray:
    """(k, 2) the edges that exactly one face uses, lower vertex number first."""
    lengths = np.diff(surface.face_starts)
    if not len(surface.corners):
        return np.zeros((0, 2), np.int64)
    corners = surface.corners.astype(np.int64)
    following = np.arange(1, len(corners) + 1)
    following[surface.face_starts[1:][lengths > 0] - 1] = surface.face_starts[:-1][lengths > 0]
    ends = np.sort(np.stack([corners, corners[following]], axis=1), axis=1)
    count = len(surface.positions)
    codes, uses = np.unique(ends[:, 0] * count + ends[:, 1], return_counts=True)
    return np.stack(np.divmod(codes[uses == 1], count), axis=1)


def centre_line(world: FloatArray, away: FloatArray, edges: IntArray, on: BoolArray) -> BoolArray:
    """(n,) which vertices of the open ``edges`` (k, 2) belong on the plane.

    ``away`` (n,) are distances from the plane in the unit of ``world`` (n, 3); ``on`` (n,) tells
    which vertices are on it. Those are taken, and what runs on from them along the plane:
    necklines, sleeves and mouths that begin at the plane are left alone.
    """
    count = len(away)
    away = np.abs(np.nan_to_num(away, nan=np.inf))
    border = np.zeros(count, bool)
    border[edges] = True
    width = float(away[np.isfinite(away)].max(initial=0.0))
    near = away <= REACH * width
    climb = np.abs(away[edges[:, 0]] - away[edges[:, 1]])
    length = np.linalg.norm(world[edges[:, 0]] - world[edges[:, 1]], axis=1)
    rise = np.divide(climb, length, out=np.full(len(edges), np.inf), where=length > 0.0)
    taken = border & on
    closest = REACH if not taken.any() else SHORT_REACH
    taken |= _long_stretch(world, away, edges[rise <= ALONG], closest * width)
    steep = np.where(_small_stretch(count, away, edges, border & ~on, SHORT_REACH * width), SLANT, ALONG)
    walkable = edges[(rise <= steep[edges].min(axis=1)) & near[edges].all(axis=1)]
    label = components(count, walkable)
    taken = border & near & np.isin(label, label[taken])
    return taken | _single(away, edges, border & on, near, world)


def _long_stretch(
    world: FloatArray, away: FloatArray, level: IntArray, reach: float
) -> BoolArray:
    """(n,) vertices of stretches along the plane that are many times longer than they are off it."""
    label = components(len(away), level[(away[level] <= reach).all(axis=1)])
    inside = np.zeros(len(away), bool)
    inside[level] = True
    inside &= away <= reach
    far, low, high = np.zeros(len(away)), np.full((len(away), 3), np.inf), np.full((len(away), 3), -np.inf)
    np.maximum.at(far, label[inside], away[inside])
    np.minimum.at(low, label[inside], world[inside])
    np.maximum.at(high, label[inside], world[inside])
    span = np.zeros(len(away))
    span[inside] = np.linalg.norm((high - low)[label[inside]], axis=1)
    return inside & (span >= LONG * far[label])


def _small_stretch(
    count: int, away: FloatArray, edges: IntArray, loose: BoolArray, reach: float
) -> BoolArray:
    """(n,) False for vertices of stretches off the plane that lead further away than ``reach``."""
    label = components(count, edges[loose[edges].all(axis=1)])
    far = np.zeros(count)
    np.maximum.at(far, label[loose], away[loose])
    return ~loose | (far[label] <= reach)


def _single(
    away: FloatArray, edges: IntArray, on: BoolArray, near: BoolArray, world: FloatArray
) -> BoolArray:
    """(n,) vertices off the plane alone between two on it that lie as far apart as edges are long."""
    both = np.concatenate([edges, edges[:, ::-1]])
    beside = both[on[both[:, 1]] & ~on[both[:, 0]] & near[both[:, 0]]]
    beside = beside[np.argsort(beside[:, 0], kind="stable")]
    vertex, first, uses = np.unique(beside[:, 0], return_index=True, return_counts=True)
    all_uses = np.bincount(edges.ravel(), minlength=len(away))
    whole = (uses == 2) & (all_uses[vertex] == 2)
    one, other = beside[first[whole], 1], beside[first[whole] + 1, 1]
    line = edges[on[edges].all(axis=1)]
    usual = float(np.median(np.linalg.norm(world[line[:, 0]] - world[line[:, 1]], axis=1))) if len(line) else np.inf
    found = np.zeros(len(away), bool)
    found[vertex[whole][np.linalg.norm(world[one] - world[other], axis=1) >= usual]] = True
    return found
