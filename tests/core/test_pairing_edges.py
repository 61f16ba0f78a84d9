"""Edges and half-edges of the pairing, against plain loops and scipy's graphs. All meshes are invented."""

import numpy as np
import pytest
from evenfold.core.pairing.edges import edges_touching, longest_edge, mean_edge, shortest_edge
from evenfold.core.pairing.half_edges import Faces, HalfEdges
from evenfold.core.pairing.islands import components
from evenfold.core.pairing.records import Mesh
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

COUNT = 30


def _mesh(seed):
    """Random faces of 3 to 6 corners; the last vertices belong to none."""
    rng = np.random.default_rng(seed)
    faces = [rng.permutation(COUNT - 3)[: rng.integers(3, 7)] for _ in range(20)]
    corners = np.concatenate(faces)
    starts = np.cumsum([0, *map(len, faces)])
    sides = np.concatenate([np.stack([face, np.roll(face, -1)], axis=1) for face in faces])
    edges = np.unique(np.sort(sides, axis=1), axis=0)
    return Mesh(rng.normal(size=(COUNT, 3)), edges, corners, starts), faces


@pytest.mark.parametrize("seed", range(5))
def test_lengths_of_edges(seed):
    mesh, _ = _mesh(seed)
    asked = np.random.default_rng(seed).permutation(COUNT)[:12]
    asked = np.append(asked, COUNT - 1)
    ends = mesh.points[mesh.edges]
    sizes = np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1)
    own = [sizes[(mesh.edges == vertex).any(axis=1)] for vertex in asked]
    assert shortest_edge(mesh, asked) == pytest.approx([min(some, default=np.inf) for some in own])
    assert longest_edge(mesh, asked) == pytest.approx([max(some, default=0.0) for some in own])
    assert mean_edge(mesh, asked) == pytest.approx([some.mean() if len(some) else np.inf for some in own])
    flags = np.isin(np.arange(COUNT), asked)
    assert np.array_equal(edges_touching(mesh.edges, flags), mesh.edges[flags[mesh.edges].any(axis=1)])


@pytest.mark.parametrize("seed", range(5))
def test_half_edges_know_their_faces(seed):
    mesh, faces = _mesh(seed)
    table = HalfEdges.of(Faces.touching(mesh, np.ones(COUNT, bool)), COUNT)
    told = zip(
        table.before(np.arange(len(table.keys))), table.source, table.target, table.after, table.size,
        strict=True,
    )
    turns = [np.stack([np.roll(face, shift) for shift in (1, 0, -1, -2)], axis=1) for face in faces]
    expected = [(*turn, len(turn_of)) for turn_of in turns for turn in turn_of]
    assert sorted(told) == sorted(expected)
    assert np.array_equal(table.target[table.previous], table.source)
    sides = [tuple(turn[1:3]) for turn in expected]
    assert table.usable.tolist() == [
        sides.count(side) == 1 for side in zip(table.source, table.target, strict=True)
    ]


@pytest.mark.parametrize("shape", ["path", "star", "random"])
def test_components_of_shuffled_graphs(shape):
    rng = np.random.default_rng(len(shape))
    number, count = rng.permutation(400), 400
    one = np.arange(1, 300)
    other = {"path": one - 1, "star": 0 * one, "random": rng.integers(0, 400, 299)}[shape]
    edges = np.stack([number[one], number[other]], axis=1)
    graph = coo_matrix((np.ones(299), edges.T), (count, count))
    truth = connected_components(graph, directed=False)[1]
    lowest = [np.flatnonzero(truth == piece)[0] for piece in truth]
    assert np.array_equal(components(count, edges), lowest)
