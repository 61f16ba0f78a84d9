"""The edges at some vertices of a mesh, and how long they are."""

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray
from .grid import length, rows
from .records import Mesh


def edges_touching(edges: IntArray, flags: NDArray[np.bool_]) -> IntArray:
    """The (k, 2) edges of which at least one end is flagged in ``flags`` (n,)."""
    if not len(edges):
        return edges.reshape(0, 2)
    return np.compress(flags.take(edges[:, 0]) | flags.take(edges[:, 1]), edges, axis=0)


def shortest_edge(mesh: Mesh, vertices: IntArray) -> FloatArray:
    """(k,) length of the shortest edge of each of the vertices; infinite where it has none."""
    edges, sizes = _edges_at(mesh, vertices)
    shortest = np.full(len(mesh.points), np.inf)
    for end in (0, 1):
        np.minimum.at(shortest, edges[:, end], sizes)
    return shortest[vertices]


def longest_edge(mesh: Mesh, vertices: IntArray) -> FloatArray:
    """(k,) length of the longest edge of each of the vertices; zero where it has none."""
    edges, sizes = _edges_at(mesh, vertices)
    longest = np.zeros(len(mesh.points))
    for end in (0, 1):
        np.maximum.at(longest, edges[:, end], sizes)
    return longest[vertices]


def mean_edge(mesh: Mesh, vertices: IntArray) -> FloatArray:
    """(k,) the mean length of each vertex's edges; infinite where it has none."""
    edges, sizes = _edges_at(mesh, vertices)
    count = np.bincount(edges.ravel(), minlength=len(mesh.points))[vertices]
    total = np.bincount(edges.ravel(), np.repeat(sizes, 2), len(mesh.points))[vertices]
    return np.where(count > 0, total / np.maximum(count, 1), np.inf)


def _edges_at(mesh: Mesh, vertices: IntArray) -> tuple[IntArray, FloatArray]:
    """The (e, 2) edges at the vertices and the (e,) length of each."""
    asked = np.zeros(len(mesh.points), bool)
    asked[vertices] = True
    edges = edges_touching(mesh.edges, asked)
    along = rows(mesh.points, edges[:, 0])
    along -= rows(mesh.points, edges[:, 1])
    return edges, length(along)
