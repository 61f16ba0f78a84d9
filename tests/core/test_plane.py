"""Planes against closed forms and planted truth. All meshes are invented.

Closed forms: the reflection x' = x - 2 (n . x - d) n is Householder's; the numbers for a turn
about z and a shift are elementary trigonometry.
"""

import numpy as np
import pytest
from evenfold.core import plane
from evenfold.core.figure import Armature, Bone
from evenfold.core.findings import MirrorPlane
from evenfold.core.plane_candidates import plane_along_bones, plane_between_bones
from evenfold.core.report.as_json import _plane
from figures.records import figure_of
from figures.shapes import lumpy_ball
from hypothesis import given, settings
from hypothesis import strategies as st
from oracles.finder import ScipyFinder
from scipy.spatial.transform import Rotation


def turned_ball(angles, shift, seed=0):
    ball, _ = lumpy_ball(seed=seed)
    turn = Rotation.from_euler("xyz", angles).as_matrix()
    return ball.points * [0.7, 0.5, 1.2] @ turn.T + shift, turn[:, 0], np.asarray(shift, float)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(-3, 3), min_size=6, max_size=6))
def test_reflecting_twice_is_the_start_and_agrees_with_the_frame(values):
    normal = np.add(values[:3], [0.1, 0.2, 4.0])
    normal /= np.linalg.norm(normal)
    point = np.array(values[3:])
    points = np.random.default_rng(1).normal(size=(20, 3))
    image = plane.reflect(points, point, normal)
    assert plane.reflect(image, point, normal) == pytest.approx(points)
    assert plane.into_frame(image, point, normal) == pytest.approx(
        plane.into_frame(points, point, normal) * [-1, 1, 1]
    )


def test_three_degrees_about_z_and_a_shift_give_the_worked_normal_and_offset():
    """Worked example: 3 degrees and u = (0.2, 0, 0) give (0.998630, 0.052336, 0), 0.199726."""
    points, _, _ = turned_ball([0, 0, np.radians(3)], [0.2, 0, 0])
    found = plane.fit(points, 1e-4, ScipyFinder)
    normal = found.normal * np.sign(found.normal[0])
    assert normal == pytest.approx([0.998630, 0.052336, 0.0], abs=2e-6)
    assert found.point @ normal == pytest.approx(0.199726, abs=2e-6)


@pytest.mark.parametrize("seed", range(5))
def test_a_fitted_plane_shrugs_off_a_moved_tenth(seed):
    rng = np.random.default_rng(seed)
    points, normal, shift = turned_ball(rng.uniform(-0.4, 0.4, 3), rng.normal(size=3), seed)
    moved = rng.choice(len(points), len(points) // 10, replace=False)
    points[moved] += rng.normal(scale=0.1, size=(len(moved), 3))
    found = plane.fit(points, 1e-4, ScipyFinder)
    assert abs(found.normal @ normal) == pytest.approx(1.0, abs=1e-9)
    assert (found.point - shift) @ normal == pytest.approx(0.0, abs=1e-6)


class CountingFinder(ScipyFinder):
    """Counts the points it is asked about."""

    asked = 0

    def query(self, points, k):
        CountingFinder.asked += len(points)
        return super().query(points, k)


@pytest.fixture
def counting():
    CountingFinder.asked = 0
    return CountingFinder


WORLD = plane.Candidate("world", np.zeros(3), np.array([1.0, 0, 0]))


def test_a_plane_by_bones_about_which_nearly_all_matches_is_taken_without_fitting(counting):
    points, normal, shift = turned_ball([0.3, 0.2, 0.5], [1.0, 2.0, 3.0])
    taken = plane.choose(points, [WORLD], 1e-4, counting, plane.Candidate("bones", shift, normal))
    assert (taken.how, taken.share, counting.asked) == ("bones", 1.0, 0)


@pytest.mark.parametrize("astray", [0.0, 0.002])
def test_fitting_starts_near_the_plane_that_leans_as_the_bones_do(counting, astray):
    points, normal, shift = turned_ball([0.3, 0.2, 0.5], [1.0, 2.0, 3.0])
    near = plane.Candidate("bones", shift + astray * normal, normal)
    level = plane.Candidate("bones", shift, np.array([0, 0, 1.0]))
    taken = plane.choose(points, [WORLD], 1e-4, counting, level, (), near)
    assert (taken.how, taken.share, counting.asked) == ("fitted", 1.0, 0)
    assert abs(taken.normal @ normal) == pytest.approx(1.0, abs=1e-9)
    assert (taken.point - shift) @ normal == pytest.approx(0.0, abs=1e-6)


def test_a_start_that_leads_nowhere_does_no_harm(counting):
    points, normal, _ = turned_ball([0.3, 0.2, 0.5], [1.0, 2.0, 3.0])
    wrong = plane.Candidate("bones", np.array([5.0, 0, 0]), np.array([0, 0, 1.0]))
    taken = plane.choose(points, [WORLD], 1e-4, counting, None, (), wrong)
    assert taken.how == "fitted" and abs(taken.normal @ normal) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize(("moved", "most"), [(0, 40_000), (10, 350_000)])
def test_fitting_asks_for_few_neighbours(counting, moved, most):
    """Of one in ``moved`` points moved, fitting may not stop early."""
    ball, _ = lumpy_ball(60, 60, seed=1)
    turn = Rotation.from_euler("xyz", [0.3, 0.2, 0.5]).as_matrix()
    points = ball.points * [0.7, 0.5, 1.2] @ turn.T
    rng = np.random.default_rng(0)
    if moved:
        points[::moved] += rng.normal(scale=0.1, size=points[::moved].shape)
    found = plane.fit(points, 1e-4, counting)
    assert abs(found.normal @ turn[:, 0]) == pytest.approx(1.0, abs=1e-9)
    assert 0 < counting.asked <= most


def test_the_candidate_that_explains_most_is_taken_and_said():
    points, normal, shift = turned_ball([0.3, 0.2, 0.5], [1.0, 2.0, 3.0])
    world = plane.Candidate("world", np.zeros(3), np.array([1.0, 0, 0]))
    right = plane.Candidate("object", shift, normal)
    taken = plane.choose(points, [world, right], 1e-4, ScipyFinder)
    assert taken.how == "object" and taken.why == "100% of the points match about it (middle of the scene 0%)."
    fitted = plane.choose(points, [world], 1e-4, ScipyFinder)
    assert fitted.how == "fitted" and fitted.why == "100% of the points match about it (middle of the scene 0%)."
    assert abs(fitted.normal @ normal) == pytest.approx(1.0, abs=1e-9)


def test_points_without_symmetry_keep_the_first_candidate():
    points = np.random.default_rng(0).normal(size=(500, 3))
    world = plane.Candidate("world", np.zeros(3), np.array([1.0, 0, 0]))
    assert plane.choose(points, [world], 1e-4, ScipyFinder).how == "world"


def bones_along(way, at=(0.0, 0.0, 0.0)):
    return plane.Candidate("bones", np.asarray(at, float), np.asarray(way, float))


def test_where_nothing_mirrors_the_middle_between_the_bones_is_taken():
    points = np.random.default_rng(0).normal(size=(500, 3))
    world = plane.Candidate("world", np.zeros(3), np.array([1.0, 0, 0]))
    taken = plane.choose(points, [world], 1e-4, ScipyFinder, bones_along([0, 1.0, 0]))
    assert taken.how == "bones" and taken.normal == pytest.approx([0, 1, 0])
    assert taken.why == "0% of the points match about it (middle of the scene 0%)."


def half_mirrored(share):
    """Points of which a share mirrors about Y = 0 and the rest about nothing."""
    rng = np.random.default_rng(3)
    twins = rng.normal(size=(int(300 * share), 3))
    return np.concatenate([twins, twins * [1, -1, 1], rng.normal(size=(600 - 2 * len(twins), 3))])


def test_a_figure_that_faces_sideways_mirrors_at_a_right_angle_to_the_usual_plane():
    world = plane.Candidate("world", np.zeros(3), np.array([1.0, 0, 0]))
    across = plane.Candidate("across", np.zeros(3), np.array([0, 1.0, 0]))
    taken = plane.choose(half_mirrored(0.3), [world], 1e-4, ScipyFinder, None, [across])
    assert abs(taken.normal @ [0, 1, 0]) == pytest.approx(1.0, abs=1e-6) and taken.how in ("across", "fitted")


def test_an_object_named_twice_is_told_once_with_its_best_share():
    points = half_mirrored(0.6)
    scene, best, worse = (
        plane.Candidate(how, np.array([0, at, 0.0]), np.array([0, 1.0, 0]))
        for how, at in (("world", 0.0), ("object", 0.001), ("object", 3.0))
    )
    taken = plane.choose(points, [scene, best, worse], 1e-2, ScipyFinder)
    shares = [plane.explained(points, one, 1e-2) for one in (scene, best)]
    assert taken.why == f"{shares[0]:.0%} of the points match about it (middle of the object {shares[1]:.0%})."


def test_a_plane_about_which_hardly_anything_matches_is_doubted():
    """The share is that of the plane taken, whichever way its normal is turned; half of the points is enough."""
    points, normal, shift = turned_ball([0.0, 0.0, 0.0], [0.0, 0.0, 0.0])
    astray = plane.Candidate("bones", shift + np.array([0.21, 0, 0]), -normal)
    for candidate, believed in ((plane.Candidate("world", shift, normal), True), (astray, False)):
        share = plane.explained(points, candidate, 1e-4)
        taken = plane.tidy(MirrorPlane(candidate.point, candidate.normal, candidate.how, "", share), normal)
        assert taken.share == share and taken.normal @ normal > 0
        assert (plane.doubt(taken) == "") == believed
    assert plane.doubt(taken).startswith(f"Only {share:.0%} of the points match about the mirror plane (between left and right bones)")
    half = plane.choose(half_mirrored(0.6), [plane.Candidate("world", np.zeros(3), np.array([0, 1.0, 0]))], 1e-2, ScipyFinder)
    assert half.share > plane.ENOUGH and not plane.doubt(half)
    assert not plane.doubt(MirrorPlane(np.zeros(3), normal, "world")), "nothing is known"


def test_the_usual_plane_that_explains_enough_is_kept_whatever_the_bones_say():
    points, normal, shift = turned_ball([0.0, 0.0, 0.0], [0.0, 0.0, 0.0])
    world = plane.Candidate("world", shift, normal)
    assert plane.choose(points, [world], 1e-4, ScipyFinder, bones_along([0, 1.0, 0])).how == "world"


@pytest.mark.parametrize(("how", "told"), [("bones", "fitted"), ("across", "fitted"), ("fitted", "fitted"), ("world", "world"), ("given", "given")])
def test_the_report_keeps_its_five_words_for_a_plane(how, told):
    assert _plane(MirrorPlane(np.zeros(3), np.array([1.0, 0, 0]), how, ""))["how"] == told


@pytest.mark.parametrize("tilt", [0.0, 0.3])
def test_bones_say_how_a_figure_leans(tilt):
    """Between the bones of the sides lies an upright plane, along them one that leans as they do."""
    turn = Rotation.from_euler("y", tilt).as_matrix()
    spots = (("arm.L", [0.5, 0, 1.2]), ("leg.L", [0.2, 0.1, 0.6]), ("arm.R", [-0.5, 0, 1.2]), ("leg.R", [-0.2, 0.1, 0.6]))
    bones = tuple(Bone(name, None, turn @ at, turn @ at + 0.1, np.eye(3)) for name, at in spots)
    figure = figure_of(armature=Armature("Rig", bones, np.eye(4)))
    leaning, upright = plane_along_bones(figure), plane_between_bones(figure)
    assert leaning.normal == pytest.approx(turn[:, 0], abs=1e-9) and leaning.point @ turn[:, 0] == pytest.approx(0.0, abs=1e-9)
    assert upright.normal == pytest.approx([1, 0, 0], abs=1e-9)
    assert plane_along_bones(figure_of()) is None
