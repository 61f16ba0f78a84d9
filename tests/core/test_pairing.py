"""Mirror pairs against planted truth, brute force and scipy's KD-tree. All meshes are invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.pairing import Mesh, State, Way, pair_places, pair_points, shared_share
from figures.shapes import joined, lumpy_ball, mesh_of, sheet, split_at_faces
from hypothesis import given, settings
from hypothesis import strategies as st
from oracles.brute import mutual_nearest
from oracles.finder import ScipyFinder
from scipy.spatial import cKDTree

TOLERANCE = 1e-3


def pair(mesh, tolerance=TOLERANCE):
    found = pair_points(mesh, tolerance, ScipyFinder)
    check_laws(found)
    return found


def check_laws(found):
    known = np.flatnonzero(found.partner >= 0)
    assert np.array_equal(found.partner[found.partner[known]], known)
    assert len(np.unique(found.partner[known])) == len(known)
    assert np.array_equal(found.partner < 0, np.isnan(found.deviation))
    assert np.array_equal(found.way == Way.NONE, found.partner < 0)


def cloud(points):
    none = np.zeros(0, np.int64)
    return Mesh(
        np.asarray(points, float).reshape(-1, 3), none.reshape(0, 2), none, np.zeros(1, np.int64)
    )


@pytest.mark.parametrize("seed", range(10))
def test_a_clean_mesh_is_paired_throughout(seed):
    mesh, truth = lumpy_ball(seed=seed)
    found = pair(mesh)
    assert np.array_equal(found.partner, truth)
    assert set(found.state) == {State.PAIRED, State.CENTRE}


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize("amount", [0.5, 0.99, 1.01, 3.0, "far"])
def test_moved_vertices_come_back_alone_and_with_their_true_partner(seed, amount):
    mesh, truth = lumpy_ball(seed=seed)
    rng = np.random.default_rng(seed + 100)
    edge = np.linalg.norm(
        mesh.points[mesh.edges[:, 0]] - mesh.points[mesh.edges[:, 1]], axis=1
    ).mean()
    off_plane = np.flatnonzero(truth != np.arange(len(truth)))
    moved = rng.choice(off_plane, 6, replace=False)
    moved = moved[np.unique(np.minimum(moved, truth[moved]), return_index=True)[1]]
    shift = rng.normal(size=(len(moved), 3))
    shift /= np.linalg.norm(shift, axis=1)[:, None]
    points = mesh.points.copy()
    points[moved] += shift * (20.0 * edge if amount == "far" else amount * TOLERANCE)
    found = pair(replace(mesh, points=points))
    assert np.array_equal(found.partner, truth)
    reported = set(found.members(State.DRIFTED))
    expected = set() if amount in (0.5, 0.99) else set(moved) | set(truth[moved])
    assert reported == expected
    assert not len(found.members(State.OFF_CENTRE))
    if amount == "far":
        assert set(np.flatnonzero(found.suspect)) == set(moved)


@pytest.mark.parametrize("amount", [0.5, 0.99, 1.01, 3.0, 300.0])
def test_a_centre_vertex_off_the_plane_is_off_centre(amount):
    mesh, truth = lumpy_ball(seed=3)
    centre = np.flatnonzero(truth == np.arange(len(truth)))[5]
    points = mesh.points.copy()
    points[centre, 0] += amount * TOLERANCE
    found = pair(replace(mesh, points=points))
    expected = [centre] if amount > 1.0 else []
    assert found.members(State.OFF_CENTRE).tolist() == expected
    assert not len(found.members(State.DRIFTED))
    if expected:
        assert found.deviation[centre] == pytest.approx(amount * TOLERANCE)


def test_every_vertex_moved_a_little_still_finds_its_partner():
    mesh, truth = lumpy_ball(seed=5)
    noise = np.random.default_rng(5).normal(scale=3.0 * TOLERANCE, size=mesh.points.shape)
    found = pair(replace(mesh, points=mesh.points + noise))
    assert np.array_equal(found.partner, truth)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(-0.9, 0.9))
def test_no_pair_within_tolerance_is_missed_for_straddling_a_cell(seed, share):
    """Well apart points, each mirrored with one shift below the tolerance: all settle by place."""
    rng = np.random.default_rng(seed)
    grid = np.stack(np.meshgrid(*[np.arange(1.0, 6.0)] * 3), axis=-1).reshape(-1, 3)
    half = grid + rng.uniform(-0.3, 0.3, size=grid.shape)
    shift = rng.normal(size=half.shape)
    shift *= share * TOLERANCE / np.linalg.norm(shift, axis=1)[:, None]
    found = pair(cloud(np.concatenate([half, half * [-1, 1, 1] + shift])))
    assert set(found.way) == {Way.PLACE}
    assert set(found.state) == {State.PAIRED}


def test_one_half_scaled_keeps_every_partner():
    mesh, truth = lumpy_ball(seed=6)
    points = mesh.points.copy()
    left = points[:, 0] > 0
    points[left, 0] *= 1.02
    found = pair(replace(mesh, points=points))
    assert np.array_equal(found.partner, truth)
    drifted = found.members(State.DRIFTED)
    assert np.nanmax(found.deviation) == pytest.approx(0.02 * mesh.points[:, 0].max())
    assert set(drifted) == set(np.flatnonzero(0.02 * np.abs(mesh.points[:, 0]) > TOLERANCE))


def test_a_one_sided_vertex_is_unpaired():
    mesh, truth = lumpy_ball(seed=7)
    extra = mesh.points[[10]] + [[0.05, 0.02, 0.0]]
    found = pair(replace(mesh, points=np.concatenate([mesh.points, extra])))
    assert found.members(State.UNPAIRED).tolist() == [len(mesh.points)]
    assert np.array_equal(found.partner[:-1], truth)


def test_a_doubled_vertex_is_reported_with_its_twin():
    mesh, truth = lumpy_ball(seed=8)
    twin = int(np.flatnonzero(truth != np.arange(len(truth)))[4])
    found = pair(replace(mesh, points=np.concatenate([mesh.points, mesh.points[[twin]]])))
    assert set(found.members(State.DOUBLED)) == {twin, len(mesh.points)}
    others = np.delete(np.arange(len(mesh.points)), twin)
    assert set(found.state[others]) == {State.PAIRED, State.CENTRE}


def test_two_loose_coincident_points_are_ambiguous():
    found = pair(cloud([[1, 0, 0], [1, 0, 0], [-1, 0, 0], [-1, 0, 0], [2, 1, 0], [-2, 1, 0]]))
    assert found.members(State.AMBIGUOUS).tolist() == [0, 1, 2, 3]
    assert found.partner[4] == 5


def closed_lips():
    x = np.linspace(-1.0, 1.0, 9)
    rise = np.linspace(0.0, 0.6, 4)
    upper = np.stack(np.broadcast_arrays(x, 0.0, rise[:, None]), axis=2)
    lower = upper * [1, 1, -1]
    return joined(sheet(upper), sheet(lower, flip=True)), 36


def test_closed_lips_pair_upper_with_upper():
    mesh, count = closed_lips()
    found = pair(mesh)
    assert set(found.state) == {State.PAIRED, State.CENTRE}
    assert np.array_equal(found.partner >= count, np.arange(2 * count) >= count)


def test_a_lip_pulled_onto_the_other_keeps_its_own_partner():
    mesh, _ = closed_lips()
    points = mesh.points.copy()
    points[1] += [0.0, 0.0, -1.2 * TOLERANCE]
    found = pair(replace(mesh, points=points))
    assert found.partner[1] == 7
    assert set(found.members(State.DRIFTED)) == {1, 7}
    assert not len(found.members(State.DOUBLED))


def test_faces_with_their_own_vertices_leave_nothing_over():
    mesh, _ = lumpy_ball(seed=9)
    found = pair(split_at_faces(mesh))
    assert set(found.state) <= {State.PAIRED, State.CENTRE}


def test_equal_islands_pair_by_place_and_a_shifted_one_drifts():
    ball, _ = lumpy_ball(6, 8, seed=1)

    def at(x, y):
        return replace(ball, points=ball.points * 0.2 + [x, y, 0.0])

    mesh = joined(at(1, 0), at(-1, 0), at(1, 2), at(-1, 2.05))
    found = pair(mesh)
    size = len(ball.points)
    assert set(found.state[: 2 * size]) == {State.PAIRED}
    assert set(found.state[2 * size :]) == {State.DRIFTED}
    assert found.deviation[2 * size :] == pytest.approx(0.05)


def test_a_one_sided_strand_is_unpaired_and_moves_nothing_else():
    ball, truth = lumpy_ball(seed=2)
    strand, _ = lumpy_ball(5, 8, seed=3)
    strand = replace(strand, points=strand.points * 0.1 + [2.0, 0.0, 0.0])
    found = pair(joined(ball, strand))
    assert found.members(State.UNPAIRED).tolist() == list(
        range(len(ball.points), len(ball.points) + len(strand.points))
    )
    assert np.array_equal(found.partner[: len(truth)], truth)


def test_thousands_of_islands():
    rng = np.random.default_rng(0)
    places = rng.uniform(0.5, 50.0, size=(1500, 3))
    triangle = np.array([[0, 0, 0], [0.1, 0, 0], [0, 0.1, 0.02]])
    right = (places[:, None] + triangle).reshape(-1, 3)
    points = np.concatenate([right, right * [-1, 1, 1]])
    faces = [[3 * i, 3 * i + 1, 3 * i + 2] for i in range(1500)]
    faces += [[4500 + 3 * i, 4500 + 3 * i + 2, 4500 + 3 * i + 1] for i in range(1500)]
    found = pair(mesh_of(points, faces))
    assert np.array_equal(found.partner[:4500], np.arange(4500, 9000))


def test_empty_and_unreal_places_have_defined_results():
    assert len(pair(cloud(np.zeros((0, 3)))).partner) == 0
    found = pair(cloud([[1, 0, 0], [-1, 0, 0], [np.nan, 0, 0], [np.inf, 0, 0], [0, 0, 0]]))
    assert found.state.tolist() == [
        State.PAIRED,
        State.PAIRED,
        State.UNPAIRED,
        State.UNPAIRED,
        State.CENTRE,
    ]
    ball, _ = lumpy_ball(seed=1)
    points = ball.points.copy()
    points[3] = np.nan
    assert found.state[2] == State.UNPAIRED and pair(replace(ball, points=points)).partner[3] == -1


def test_wrong_shapes_are_refused():
    with pytest.raises(ValueError, match="points must be"):
        pair_points(replace(cloud([]), points=np.zeros((2, 2))), 1.0, ScipyFinder)
    with pytest.raises(ValueError, match="tolerance"):
        pair_points(cloud([]), 0.0, ScipyFinder)


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(2, 40), st.floats(0.0, 2.0))
def test_loose_points_agree_with_brute_force(seed, count, spread):
    """Where every nearest partner is clear, the pairs within tolerance are brute force's."""
    rng = np.random.default_rng(seed)
    half = rng.uniform([0.1, -1, -1], [1, 1, 1], size=(count, 3))
    other = half * [-1, 1, 1] + rng.normal(size=half.shape) * spread * TOLERANCE * 0.4
    points = np.concatenate([half, other])[rng.permutation(2 * count)]
    distance, _ = cKDTree(points).query(points, 2)
    if distance[:, 1].min() < 20 * TOLERANCE:
        return
    found = pair(cloud(points))
    settled = np.flatnonzero(found.state == State.PAIRED)
    pairs = {(int(i), int(found.partner[i])) for i in settled if i < found.partner[i]}
    assert pairs == mutual_nearest(points, TOLERANCE)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_paired_distances_are_scipys_nearest(seed):
    mesh, _ = lumpy_ball(seed=seed)
    noise = np.random.default_rng(seed).normal(scale=0.2 * TOLERANCE, size=mesh.points.shape)
    mesh = replace(mesh, points=mesh.points + noise)
    found = pair(mesh)
    distance, at = cKDTree(mesh.points).query(mesh.points * [-1, 1, 1])
    paired = found.members(State.PAIRED)
    assert np.array_equal(found.partner[paired], at[paired])
    assert found.deviation[paired] == pytest.approx(distance[paired], abs=1e-15)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_swapping_the_sides_gives_the_mirrored_answer(seed):
    mesh, _ = lumpy_ball(seed=seed)
    rng = np.random.default_rng(seed)
    points = mesh.points.copy()
    points[rng.choice(len(points), 5)] += rng.normal(scale=0.1, size=(5, 3))
    flipped = replace(mesh, points=points * [-1, 1, 1])
    one, other = pair(replace(mesh, points=points)), pair(flipped)
    assert np.array_equal(one.partner, other.partner)
    assert np.array_equal(one.state, other.state)


@pytest.mark.parametrize("seed", range(6))
def test_points_mirrored_about_two_planes_are_no_shared_places(seed):
    rng = np.random.default_rng(seed)
    quarter = rng.normal(size=(50, 3))
    signs = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)])
    points = (quarter[:, None] * signs).reshape(-1, 3)
    empty = np.zeros((0, 2), np.int64)
    mesh = Mesh(points, empty, np.zeros(0, np.int64), np.zeros(1, np.int64))
    assert shared_share(mesh) == 0.0
    assert shared_share(replace(mesh, points=np.concatenate([points, points[:100]]))) == 200 / 500


def test_loose_points_stored_twice_are_never_told_apart_by_their_order():
    """So many that the mesh is compared by place; the copies at a face's corners stay matched."""
    left = mesh_of([[1, 0, 0], [2, 0, 0], [2, 1, 0], [1, 0, 0], [2, 1, 0], [1, 1, 0]], [[0, 1, 2], [3, 4, 5]])
    right = replace(left, points=left.points * [-1, 1, 1], corners=left.corners[[2, 1, 0, 5, 4, 3]])
    loose = cloud([[3, 0, 0], [3, 0, 0], [-3, 0, 0], [-3, 0, 0], [0, 5, 0], [0, 5, 0]])
    mesh = joined(left, right, loose)
    found = pair_places(mesh, TOLERANCE, ScipyFinder)
    assert found.members(State.AMBIGUOUS).tolist() == [12, 13, 14, 15]
    assert (found.partner[12:16] == -1).all() and np.isnan(found.deviation[12:16]).all()
    assert set(found.state[:12]) == {State.PAIRED} and set(found.state[16:]) == {State.CENTRE}
