"""Several kinds of fault at once, over many seeds: every one back and nothing else. Invented."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from evenfold.core.pairing import State, pair_places, pair_points
from figures.shapes import joined, lumpy_ball, mesh_of, split_at_faces
from oracles.finder import ScipyFinder

TOLERANCE = 1e-3


def apart(rng, mesh, candidates, count):
    """Some candidates of which no two are neighbours or near each other's mirror image."""
    chosen = []
    for vertex in rng.permutation(candidates):
        place = mesh.points[vertex] * [np.sign(mesh.points[vertex, 0]) or 1.0, 1, 1]
        others = mesh.points[chosen] * np.where(mesh.points[chosen, :1] < 0, [[-1, 1, 1]], 1.0)
        if not chosen or np.linalg.norm(others - place, axis=1).min() > 0.5:
            chosen.append(int(vertex))
        if len(chosen) == count:
            return chosen
    return chosen


@pytest.mark.parametrize("seed", range(40))
def test_mixed_faults_come_back_each_in_its_class(seed):
    mesh, truth = lumpy_ball(20, 28, seed=seed)
    rng = np.random.default_rng(seed)
    number = np.arange(len(truth))
    sided = number[truth != number]
    picked = apart(rng, mesh, sided, 4)
    far, slight, doubled, beside = picked
    centre = int(rng.choice(number[truth == number]))
    points = mesh.points.copy()
    points[far] += rng.normal(size=3) * 2.0
    points[slight, 2] += 1.01 * TOLERANCE
    points[centre, 0] += rng.choice([-1, 1]) * rng.uniform(1.01, 100.0) * TOLERANCE
    extra = points[beside] + [0.02, 0.013, 0.007]
    points = np.concatenate([points, points[[doubled]], [extra]])
    found = pair_points(replace(mesh, points=points), TOLERANCE, ScipyFinder)
    assert set(found.members(State.DRIFTED)) == {far, slight, truth[far], truth[slight]}
    assert found.partner[far] == truth[far]
    assert found.members(State.OFF_CENTRE).tolist() == [centre]
    assert set(found.members(State.DOUBLED)) == {doubled, len(truth)}
    assert found.members(State.UNPAIRED).tolist() == [len(truth) + 1]
    assert not len(found.members(State.AMBIGUOUS))


@pytest.mark.parametrize("seed", range(10))
def test_a_patch_pulled_as_a_whole_keeps_its_partners_and_is_named_as_the_moved_side(seed):
    mesh, truth = lumpy_ball(30, 40, seed=seed)
    rng = np.random.default_rng(seed)
    heart = mesh.points[rng.choice(np.flatnonzero(np.abs(mesh.points[:, 0]) > 0.7))]
    patch = np.flatnonzero(np.linalg.norm(mesh.points - heart, axis=1) < 0.25)
    points = mesh.points.copy()
    points[patch] *= 1.3
    found = pair_points(replace(mesh, points=points), TOLERANCE, ScipyFinder)
    assert np.array_equal(found.partner, truth)
    assert set(found.members(State.DRIFTED)) == set(patch) | set(truth[patch])
    assert set(np.flatnonzero(found.suspect)) == set(patch)


def test_moved_vertices_of_a_large_mesh_come_back():
    """Large enough that a product of two vertex numbers needs more than 32 bits."""
    mesh, truth = lumpy_ball(260, 200, seed=3)
    assert len(truth) ** 2 > 2**31
    rng = np.random.default_rng(3)
    left = np.flatnonzero(mesh.points[:, 0] > 0.05)
    moved = rng.choice(left, 600, replace=False)
    points = mesh.points.copy()
    points[moved] += rng.normal(scale=0.5, size=(len(moved), 3))
    found = pair_points(replace(mesh, points=points), 1e-5, ScipyFinder)
    assert np.array_equal(found.partner, truth)
    assert set(found.members(State.DRIFTED)) == set(moved) | set(truth[moved])


@pytest.mark.parametrize("seed", range(5))
def test_a_split_mesh_gives_the_same_places_as_the_joined_one(seed):
    """As exported formats store it: every face with vertices of its own."""
    mesh, truth = lumpy_ball(seed=seed)
    moved = int(np.flatnonzero(truth != np.arange(len(truth)))[seed])
    points = mesh.points.copy()
    points[moved] += [0.0, 0.0, 0.05]
    split = split_at_faces(replace(mesh, points=points))
    found = pair_places(split, TOLERANCE, ScipyFinder)
    drifted = found.members(State.DRIFTED)
    assert set(mesh.corners[drifted]) == {moved, truth[moved]}
    assert set(mesh.corners[np.flatnonzero(found.suspect)]) == {moved}
    assert not len(found.members(State.UNPAIRED)) and not len(found.members(State.AMBIGUOUS))


def test_a_dissolved_loop_leaves_only_its_own_region_open():
    """One side has a ring of vertices more: these are unpaired, nothing far away is paired astray."""
    mesh, truth = lumpy_ball(16, 24, seed=4)
    strand, _ = lumpy_ball(6, 8, seed=1)
    left = replace(strand, points=strand.points * 0.2 + [1.5, 0, 0])
    thinner, _ = lumpy_ball(5, 8, seed=1)
    right = replace(thinner, points=thinner.points * 0.2 + [-1.5, 0, 0])
    found = pair_points(joined(mesh, left, right), TOLERANCE, ScipyFinder)
    assert np.array_equal(found.partner[: len(truth)], truth)
    known = np.flatnonzero(found.partner >= 0)
    assert found.deviation[known].max() < 0.2


def rebuilt_on_one_side(seed):
    """A ball cut into triangles by chance, with a patch of the left merged and pulled about."""
    mesh, truth = lumpy_ball(20, 28, seed=seed)
    rng = np.random.default_rng(seed)
    points, merged = mesh.points.copy(), np.arange(len(truth))
    heart = points[rng.choice(np.flatnonzero(points[:, 0] > 0.8))]
    patch = np.flatnonzero(np.linalg.norm(points - heart, axis=1) < 0.45)
    points[patch] += rng.normal(size=(len(patch), 3)) * 0.15
    gone = rng.choice(patch, len(patch) // 2, replace=False)
    kept = np.setdiff1d(patch, gone)
    merged[gone] = rng.choice(kept, len(gone))
    faces = []
    for low, high in zip(mesh.face_starts[:-1], mesh.face_starts[1:], strict=True):
        ring = list(dict.fromkeys(merged[mesh.corners[low:high]].tolist()))
        turn = int(rng.integers(len(ring))) if ring else 0
        ring = ring[turn:] + ring[:turn]
        faces += [[ring[0], b, c] for b, c in pairwise(ring[1:])]
    return mesh_of(points, faces), truth, patch


@pytest.mark.parametrize("seed", range(20))
def test_a_rebuilt_patch_gets_no_partners_from_far_away(seed):
    mesh, truth, patch = rebuilt_on_one_side(seed)
    found = pair_points(mesh, TOLERANCE, ScipyFinder)
    outside = np.setdiff1d(np.arange(len(truth)), np.concatenate([patch, truth[patch]]))
    assert np.array_equal(found.partner[outside], truth[outside])
    drifted = found.members(State.DRIFTED)
    wrong = drifted[found.partner[drifted] != truth[drifted]]
    ends = mesh.points[mesh.edges]
    longest = np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1).max()
    assert not len(wrong) or found.deviation[wrong].max() < longest
    assert len(wrong) <= 0.2 * len(patch)
