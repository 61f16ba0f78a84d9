"""How objects are scaled and turned, planted one at a time on an invented figure."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.check import check_figure
from evenfold.core.figure import Armature, Part, Placement, Weights
from evenfold.core.readiness.transforms import transforms_readiness
from evenfold.core.settings import Settings
from figures.records import figure_of, surface_of
from figures.shapes import lumpy_ball
from oracles.finder import ScipyFinder
from scipy.spatial.transform import Rotation

BALL, _ = lumpy_ball(8, 12, seed=1)
NEAT = Placement()


def placed(matrix=None, placement=NEAT, name="Body", ball=BALL):
    return surface_of(ball, name, matrix, placed=placement)


def scaled(*scale):
    return np.diag([*scale, 1.0])


def told(*surfaces, **more):
    return [(one.code, one.level, one.subject) for one in transforms_readiness(figure_of(*surfaces, **more))]


def test_a_neat_object_says_nothing_wherever_it_stands():
    matrix = np.eye(4)
    matrix[:3, 3] = 5.0
    assert told(placed(matrix)) == []
    assert told(placed(matrix, None)) == []


@pytest.mark.parametrize(("matrix", "placement", "wanted"), [
    (scaled(-1, 1, 1), Placement((-1, 1, 1)), [("ready-scale-negative", "warning")]),
    (scaled(-1, 1, 1), Placement((-1, 1, 1), turned=True), [("ready-scale-negative", "warning")]),
    (scaled(-1, -1, -1), Placement((-1, -1, -1)), [("ready-scale-negative", "warning")]),
    (scaled(1, 1, 1.2), Placement((1, 1, 1.2)), [("ready-scale-uneven", "warning")]),
    (scaled(1, 1, 1.0005), Placement((1, 1, 1.0005)), []),
    (scaled(0.01, 0.01, 0.01), Placement((0.01, 0.01, 0.01)), [("ready-scale-unapplied", "note")]),
    (scaled(1, 1, 1), Placement((0.01,) * 3, False, (100,) * 3), [("ready-scale-unapplied", "note"), ("ready-parent-inverse", "note")]),
    (scaled(1, 1, 1), Placement(turned=True), [("ready-rotation-unapplied", "note")]),
])
def test_each_by_itself(matrix, placement, wanted):
    assert told(placed(matrix, placement)) == [(code, level, "Body") for code, level in wanted]


def test_two_negative_axes_are_a_turn_and_no_mirror():
    assert told(placed(scaled(-1, -1, 1), Placement((-1, -1, 1)))) == [("ready-scale-unapplied", "note", "Body")]


def test_planted_row_13_body_head_and_outfit():
    """Three records on two objects; the halves match exactly as in the applied copy."""
    ball = replace(BALL, points=np.add(BALL.points, [0, 0, 3.0]))
    inverse = Placement((0.01,) * 3, False, (100,) * 3)
    outfit = replace(BALL, points=np.add(BALL.points, [0, 0, -3.0]))
    raw = (placed(), placed(scaled(-1, 1, 1), Placement((-1, 1, 1)), "Head", ball), placed(None, inverse, "Outfit", outfit))
    applied = (placed(), placed(None, NEAT, "Head", replace(ball, points=ball.points * [-1, 1, 1])), placed(None, NEAT, "Outfit", outfit))
    settings = Settings(tolerance=1e-4, plane="world")
    results = [check_figure(figure_of(*ones), settings, ScipyFinder) for ones in (raw, applied)]
    codes = [[one.code for one in result.readiness if one.code.startswith("ready-")] for result in results]
    assert codes == [["ready-scale-negative", "ready-scale-unapplied", "ready-parent-inverse"], []]
    halves = [[(o.pairs, o.centre, o.findings) for o in result.objects] for result in results]
    assert halves[0] == halves[1] and not any(found for _, _, found in halves[0])
    assert results[0].within == results[1].within


@pytest.mark.parametrize(("more", "words"), [
    ({"users": 3}, "shared by 3 objects"), ({"animated": True}, "animated"), ({"linked": True}, "its own file"),
])
def test_the_sentence_says_when_applying_is_unsafe(more, words):
    for matrix, scale in ((scaled(-1, 1, 1), (-1, 1, 1)), (scaled(1, 2, 1), (1, 2, 1)), (scaled(2, 2, 2), (2, 2, 2))):
        (safe,) = transforms_readiness(figure_of(placed(matrix, Placement(scale))))
        (unsafe,) = transforms_readiness(figure_of(placed(matrix, Placement(scale, **more))))
        assert words in unsafe.message and words not in safe.message


@pytest.mark.parametrize("seed", range(5))
def test_armatures(seed):
    turn = np.eye(4)
    turn[:3, :3] = Rotation.random(random_state=seed).as_matrix()
    for scale, wanted in (((1, 1, 1), []), ((0.01,) * 3, ["unapplied"]), ((-1, 1, 1), ["negative"]), ((1, 2, 1), ["uneven"])):
        rig = Armature("Rig", (), turn @ scaled(*scale))
        assert [code for code, _, _ in told(placed(), armature=rig)] == [f"ready-scale-{one}" for one in wanted]


def test_what_hangs_on_a_bone_is_turned_by_that():
    surface = placed(None, Placement((0.5,) * 3, True), "Lantern")
    part = Part("Lantern", surface.world, np.zeros((0, 3), np.int64), Weights.none())
    figure = figure_of(surface)
    assert len(transforms_readiness(replace(figure, parts=(part,)))) == 2
    assert transforms_readiness(replace(figure, parts=(replace(part, bone_parent="Hand.L"),))) == []
