"""Where a head sits on a body: the corner under a ball's facets, legs close together, eyes or a cap hung alone.

The outside checks are geometry's: corners and level undersides are drawn where they are looked for, and the
lowest point of an ellipse follows from its half axes. Figures are invented.
"""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Weights
from evenfold.core.proportion import measure
from evenfold.core.proportion.face.ball import end_of_ball
from evenfold.core.proportion.face.chin_own import over_hidden
from evenfold.core.proportion.face.chin_touch import ChinFit
from evenfold.core.proportion.face.ledge import STEP, corner_over, find_ledge
from evenfold.core.proportion.ground.standing import feet_of
from evenfold.core.proportion.parts.body import gather
from evenfold.core.settings import Settings
from figures.altered import carried, where, with_bones, with_parts
from figures.avatars.build import build_figure, from_recipe
from figures.people import Person, _ball, keeper


def drawn(*corners, step=0.0005):
    """(n, 3) points along straight lines between corners of (forward, height)."""
    rows = []
    for start, end in itertools.pairwise(corners):
        count = max(int(np.hypot(*np.subtract(end, start)) / step), 2)
        rows.append(np.linspace(start, end, count))
    line = np.concatenate(rows)
    return np.column_stack([np.zeros(len(line)), line])


@pytest.mark.parametrize("off", np.linspace(0.0, STEP, 7))
@pytest.mark.parametrize("slope", [12.0, 18.0, 30.0])
def test_the_corner_under_a_facet_is_told_within_the_step_it_was_found_in(slope, off):
    """A neck that stands upright up to ``off``, from there an underside that rises forward by ``slope`` degrees."""
    line = drawn((0.1, -0.3), (0.1, off), (0.1 + 0.3 * np.cos(np.radians(slope)), off + 0.3 * np.sin(np.radians(slope))), (0.4, 0.8))
    found = find_ledge(line, -0.2, 0.3, 1.0)
    assert found is not None
    notch, back, _ = found
    assert corner_over(line, notch, back, 1.0) == pytest.approx(off, abs=0.0016)
    assert notch < off


@pytest.mark.parametrize("seed", [151080, 151102, 151190])
def test_the_facets_of_a_ball_on_a_body_are_no_chin(seed):
    """Balls of few faces whose lowest ring lies 4 to 7 % of the head over where head and body meet."""
    built = build_figure(seed, "rigged")
    found = measure(built.figure, Settings())
    assert found.heads_tall == pytest.approx(built.heads, rel=0.01)
    assert found.low <= built.heads <= found.high


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("neck", [0.2, 0.3, 0.4, 0.5])
def test_the_neck_of_a_head_of_its_own_may_go_down_into_the_body(neck, seed):
    """The chin stands over a neck that is one piece with the head and hidden further down: in a collar, in a suit."""
    built = from_recipe(replace(build_figure(210148, "shape").recipe, neck=neck), seed)
    found = measure(built.figure, Settings())
    assert found.heads_tall == pytest.approx(built.heads, rel=0.01)
    assert found.low <= built.heads <= found.high


@pytest.mark.parametrize(("neck", "told"), [(0.0, None), (0.02, None), (0.08, 0.08), (0.3, 0.3), (0.4, 0.4), (0.6, None)])
def test_a_chin_is_looked_for_over_a_neck_that_shows(neck, told):
    """A face from its chin up, over a neck that begins at 0, where clothes hide what is below, to a top at 1."""
    line = drawn((-0.2, -0.3), (-0.15, neck), (0.1, neck), (0.12, neck + 0.3), (0.0, 1.0))
    found = over_hidden(line, 0.0, 1.0)
    assert (None if found is None else pytest.approx(found.height, abs=0.012)) == told


@pytest.mark.parametrize(("cut", "told"), [(0.0, True), (0.06, False)])
def test_a_ball_that_is_cut_off_under_its_chin_does_not_go_on_below(cut, told):
    """The front of an ellipse from 30 degrees off its lowest point up; then on along it, or level to the neck."""
    turn = np.radians(np.linspace(30, 150, 800))
    front = np.column_stack([0.5 * np.sin(turn), 0.5 - 0.5 * np.cos(turn)])
    touched, notch = front[0, 1], front[0, 1] - 0.05
    below = np.radians(np.linspace(30, 15, 200))
    goes_on = np.column_stack([0.5 * np.sin(below), 0.5 - 0.5 * np.cos(below)])
    level = np.array([[0.25 - cut, touched - 0.001], [0.25 - cut, notch]])
    line = drawn(*goes_on, *front[1:]) if told else drawn(*level[::-1], *front)
    end = end_of_ball(line, ChinFit(touched, touched, touched + 0.1, np.radians(30.0), 0.25, notch), 1.0, 1.0)
    assert end == (pytest.approx(0.0, abs=0.005) if told else None)


def column(at, half, low, high, step=0.006):
    """Points all over an upright box."""
    across = np.arange(-half, half + step, step)
    ring = np.concatenate([np.column_stack([across, np.full(len(across), side)]) for side in (-half, half)])
    ring = np.concatenate([ring, ring[:, ::-1]]) + at
    levels = np.arange(low, high, step)
    return np.column_stack([np.tile(ring, (len(levels), 1)), np.repeat(levels, len(ring))])


def test_legs_close_together_under_long_hair_are_what_it_stands_on():
    """Two legs with a gap narrower than what is told apart, and locks that end beside them higher up."""
    legs = [column((x, 0.0), 0.05, 0.0, 0.4) for x in (-0.06, 0.06)]
    trunk = column((0.0, 0.0), 0.12, 0.35, 1.0)
    locks = [column((x, -0.02), 0.012, 0.12, 0.9) for x in (-0.3, 0.3)]
    found = feet_of(np.concatenate([*legs, trunk, *locks]), 0.0, 1.0)
    assert found is not None and found.point[2] == pytest.approx(0.0, abs=0.01)


def test_what_begins_only_above_the_top_of_legs_that_touch_is_no_foot():
    """What follows the legs has a gap over the knees, since the skin there follows the hips more."""
    legs = [column((x, 0.0), 0.055, 0.0, 0.3) for x in (-0.065, 0.065)]
    joined = column((0.0, 0.0), 0.03, 0.0, 0.3)
    upper = [column((x, 0.09), 0.03, 0.36, 0.44) for x in (-0.06, 0.06)]
    found = feet_of(np.concatenate([*legs, joined, *upper]), 0.0, 1.0)
    assert found is not None and found.point[2] == pytest.approx(0.0, abs=0.01)


def block(centre, half, low, high, step=0.004):
    """Points all over an upright box of half extents (side, forward) about a place on the ground."""
    across, ahead = (np.arange(-extent, extent + step, step) for extent in half)
    ring = np.concatenate([np.column_stack([across, np.full(len(across), side)]) for side in (-half[1], half[1])])
    ring = np.concatenate([ring, *(np.column_stack([np.full(len(ahead), side), ahead]) for side in (-half[0], half[0]))]) + centre
    levels = np.arange(low, high, step)
    return np.column_stack([np.tile(ring, (len(levels), 1)), np.repeat(levels, len(ring))])


def on_feet(*more, feet=((0.06, 0.0), (-0.06, 0.0)), under=0.08):
    """Two legs with feet ``under`` over the lowest of ``more`` and a trunk over them; the height is one."""
    legs = [block(place, (0.035, 0.05), under, 0.5) for place in feet]
    return np.concatenate([*legs, block((0.0, 0.0), (0.13, 0.08), 0.45, 1.0), *more])


def slope(off, aside, end=0.4):
    """A tail that falls backward from the trunk to the ground, its end so far to the side."""
    levels = np.linspace(0.0, end, 60)
    return np.concatenate([block((aside * (1 - z / end), -off - 0.25 * (1 - z / end)), (0.02, 0.02), z, z + 0.008) for z in levels])


@pytest.mark.parametrize("aside", [0.0, 0.03, 0.06])
def test_a_tail_that_sways_beside_the_middle_is_no_foot(aside):
    found = feet_of(on_feet(slope(0.07, aside)), 0.0, 1.0)
    assert found is not None and found.told and found.two
    assert found.point[2] == pytest.approx(0.08, abs=0.005)


@pytest.mark.parametrize("touch", [False, True])
def test_uneven_strips_of_a_cape_behind_the_feet_are_no_feet(touch):
    strips = [block((-0.1, -0.14), (0.09, 0.006), 0.0, 0.4), block((0.13, -0.14), (0.05, 0.006), 0.0, 0.4)]
    feet = ((0.036, 0.0), (-0.036, 0.0)) if touch else ((0.06, 0.0), (-0.06, 0.0))
    found = feet_of(on_feet(*strips, feet=feet, under=0.03), 0.0, 1.0)
    assert found is not None and found.told
    assert found.point[2] == pytest.approx(0.03, abs=0.005)


def test_heels_under_feet_are_what_it_stands_on():
    """Two alike things behind and below the balls of the feet: a pair as the feet are, and no sheets."""
    heels = [block((side * 0.06, -0.09), (0.015, 0.015), 0.0, 0.14) for side in (1, -1)]
    found = feet_of(on_feet(*heels, under=0.02), 0.0, 1.0)
    assert found is not None and found.point[2] == pytest.approx(0.0, abs=0.005)


def test_the_foot_it_stands_on_behind_a_lifted_one_is_a_foot():
    lifted = [block((0.06, 0.0), (0.035, 0.05), 0.1, 0.5)]
    found = feet_of(np.concatenate([*lifted, block((-0.06, -0.12), (0.035, 0.05), 0.0, 0.5), block((0.0, 0.0), (0.13, 0.2), 0.45, 1.0)]), 0.0, 1.0)
    assert found is not None and found.point[2] == pytest.approx(0.0, abs=0.005)


@pytest.mark.parametrize("high", [1.78, 1.9])
def test_eyes_and_a_cap_beside_a_whole_figure_on_the_head_bone_are_no_head(high):
    """``high``: how far up the cap reaches; the figure's own skull ends at 1.8."""
    figure = keeper(Person(height=1.8, head=0.6))
    cap = _ball((0, 0, high - 0.1), (0.24, 0.22, 0.1))
    eyes = [carried(f"Sphere{x}", _ball((x, -0.2, 1.45), (0.05, 0.03, 0.06)), None) for x in (-0.1, 0.1)]
    figure = with_parts(figure, carried("Mesh.003", cap, None), *eyes)
    parts = tuple(replace(part, weights=Weights.none(), bone_parent="Head") for part in figure.parts)
    figure = with_bones(replace(figure, parts=parts), ("Head", "Neck", (0, 0, 1.2), (0, 0, 1.8)))
    assert gather(figure).head.max() == 0.0
    found = measure(figure, Settings())
    assert found.low <= 3.0 <= found.high


def test_a_face_that_hair_pulls_along_is_the_skull_and_not_what_lies_behind_it():
    """The bones of a fringe take the upper face; a lining in a piece of its own lies behind it."""
    person = Person(height=1.2, head=0.5, build="separate")
    figure = with_bones(keeper(person), ("Hair01", "Head", (0, -0.2, 1.1), (0, -0.25, 1.0)))
    figure = where(figure, "Hair01", lambda at: (at[:, 1] < -0.02) & (at[:, 2] > 0.73), ["Head"])
    fringe = carried("Strand", _ball((0, -0.24, 1.1), (0.1, 0.02, 0.08)), "Hair01")
    lining = carried("Mesh.004", _ball((0, 0.0, 0.96), (0.2, 0.18, 0.2)), "Head")
    found = measure(with_parts(figure, fringe, lining), Settings())
    assert found.heads_tall == pytest.approx(2.4, rel=0.01)
    assert found.low <= 2.4 <= found.high


@pytest.mark.parametrize("seed", [151060])
def test_eyes_outweigh_hair_that_stands_out_over_a_nape(seed):
    built = build_figure(seed, "shape")
    assert measure(built.figure, Settings()).heads_tall == pytest.approx(built.heads, rel=0.01)
