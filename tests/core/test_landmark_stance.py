"""What stands on two legs and what is a bust: sections inside each other, wide heads, low ears, arms, touching legs."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.proportion import measure
from evenfold.core.proportion.ground.gown import hides_legs
from evenfold.core.proportion.ground.legs import arms_of, legs_of
from evenfold.core.proportion.ground.stance import OUTER, _stretches_out
from evenfold.core.proportion.points.sample import dense
from evenfold.core.settings import Settings
from figures.altered import carried, with_bones, with_parts
from figures.clay.negatives import negative
from figures.people import Person, _ball, _loft, keeper

PERSON = Person(height=1.8, head=0.45, neck=0.08, build="separate")


def column(at, radius, low, high):
    """Points all over the side of an upright round column."""
    turn, z = np.meshgrid(np.arange(0, 2 * np.pi, 0.006 / radius), np.arange(low, high, 0.006))
    return np.column_stack([at[0] + radius * np.sin(turn).ravel(), at[1] + radius * np.cos(turn).ravel(), z.ravel()])


@pytest.mark.parametrize("inner", [(0.0, 0.0), (0.02, 0.0), (0.0, 0.03)])
@pytest.mark.parametrize("radius", [0.1, 0.14])
def test_a_section_inside_another_is_no_second_leg(inner, radius):
    """A hollow foot under a solid trunk, as a bust's or a vase's is."""
    points = np.concatenate([column((0, 0), 0.2, 0.0, 0.4), column(inner, radius, 0.0, 0.4), column((0, 0), 0.22, 0.4, 1.0)])
    assert legs_of(points, 1.0) == "none"


@pytest.mark.parametrize("apart", [0.09, 0.13])
def test_two_sections_beside_each_other_are_legs(apart):
    points = [column((0, 0), 0.16, 0.4, 1.0), *(column((side * apart, 0), 0.06, 0.0, 0.42) for side in (1, -1))]
    assert legs_of(np.concatenate(points), 1.0) == "two"


def cut_trunk(*more):
    """A trunk as a bust has it, cut off flat, with ``more`` beside it and shoulders over all."""
    return np.concatenate([column((0, 0), 0.22, 0.0, 0.6), column((0, 0), 0.34, 0.5, 0.6), column((0, 0), 0.2, 0.6, 1.0), *more])


def test_stumps_of_arms_and_the_end_of_a_sash_beside_a_cut_trunk_are_no_legs():
    stumps = [column((side * 0.3, 0), 0.06, 0.0, 0.52) for side in (1, -1)]
    sash = column((0.1, 0.3), 0.06, 0.0, 0.52)
    assert legs_of(cut_trunk(*stumps, sash), 1.0) == "none"
    assert legs_of(np.concatenate([column((0, 0), 0.34, 0.5, 1.0), *stumps]), 1.0) == "two"


@pytest.mark.parametrize("count", [6, 9])
def test_locks_around_a_cut_trunk_are_neither_legs_nor_arms(count):
    turn = np.arange(count) * 2 * np.pi / count + 0.2
    locks = [column((0.32 * np.sin(t), 0.3 * np.cos(t)), 0.03, 0.05 + 0.02 * (k % 3), 0.55) for k, t in enumerate(turn)]
    points = cut_trunk(*locks)
    assert legs_of(points, 1.0) == "none" and not arms_of(points, 1.0)


def test_two_arms_that_hang_beside_a_dress_are_arms():
    arms = [column((side * 0.3, 0), 0.03, 0.3, 0.58) for side in (1, -1)]
    assert arms_of(cut_trunk(*arms), 1.0)


def cut(figure, *names):
    """Only the parts so called."""
    return replace(figure, parts=tuple(part for part in figure.parts if part.name in names))


def without_rig(person):
    return keeper(replace(person, rigged=False))


def refusal(figure):
    return measure(figure, Settings()).refusal or ""


WIDE = [Person(height=1.2, head=0.6, neck=0.03, wide=0.45, build="separate"), Person(height=0.9, head=0.55, neck=0.02, wide=0.55, build="separate")]


@pytest.mark.parametrize("person", [PERSON, *WIDE])
def test_a_bust_without_a_rig_is_refused_also_with_a_wide_head(person):
    assert "bust" in refusal(cut(without_rig(person), "Head", "Body"))


@pytest.mark.parametrize("person", WIDE)
def test_the_same_wide_head_over_a_whole_figure_is_counted(person):
    found = measure(without_rig(person), Settings())
    assert found.heads_tall == pytest.approx(person.height / person.head, rel=0.03)


def with_tubes(figure, name, at, low, high, thick, bone):
    """Two alike things that hang at the sides ``at`` from ``high`` to ``low``."""
    tube = _loft([(low, thick, thick, 0.0), (high, thick, thick, 0.0)])
    return with_parts(figure, *(carried(f"{name}{side}", (tube[0] + [side * at, 0, 0], tube[1]), bone) for side in (1, -1)))


@pytest.mark.parametrize("low", [0.6, 0.65])
def test_ears_that_hang_to_the_ground_beside_a_bust_are_no_legs(low):
    """The parts are called nothing; the head bone carries them."""
    figure = cut(keeper(PERSON), "Head", "Body")
    assert "bust" in refusal(figure)
    assert "bust" in refusal(with_tubes(figure, "Mesh.00", 0.14, low, 1.6, 0.04, "Head"))


def dressed(person=PERSON):
    """A figure in a dress to the ground: no legs to be seen."""
    figure = cut(without_rig(person), "Head", "Body")
    chin = person.height - person.head
    dress = _loft([(0.0, 0.3, 0.24, 0.0), (0.6 * chin, 0.14, 0.1, 0.0)])
    return with_parts(figure, carried("Mesh.004", dress, None))


@pytest.mark.parametrize("reach", [0.6, 0.75])
def test_arms_stretched_out_over_a_dress_are_arms(reach):
    figure = dressed()
    assert "bust" in refusal(figure)
    turn = np.array([[0, 0, -1], [0, 1, 0], [1, 0, 0.0]])
    points, faces = _loft([(-reach, 0.04, 0.04, 0.0), (reach, 0.04, 0.04, 0.0)])
    armed = with_parts(figure, carried("Mesh.007", (points @ turn.T + [0, 0, 1.15], faces), None))
    found = measure(armed, Settings())
    assert found.refusal is None
    assert found.low <= 4.0 <= found.high


def sleeve(side, low, wide=0.035):
    """An arm that hangs against a dress and stands out over it on one ``side``, from 1.05 down to ``low``."""
    points, faces = _loft([(low, wide, wide, 0.0), (1.05, wide, wide, 0.0)])
    at = 0.14 + 0.16 * (0.9 - points[:, 2]) / 0.9
    return points + np.column_stack([side * (at + 0.01), 0 * at, 0 * at]), faces


@pytest.mark.parametrize("low", [0.35, 0.5, 0.7])
def test_arms_against_a_dress_that_widens_to_the_ground_tell_a_whole_figure(low):
    """No gap shows between arm and dress: they stand out over it on both sides, and it goes on down below them."""
    armed = with_parts(dressed(), *(carried(f"Mesh.01{hand + 1}", sleeve(hand, low), None) for hand in (1, -1)))
    found = measure(armed, Settings())
    assert found.refusal is None
    assert found.low <= 4.0 <= found.high


def test_one_arm_or_a_dress_that_narrows_tell_nothing():
    assert "bust" in refusal(with_parts(dressed(), carried("Mesh.011", sleeve(1, 0.5), None)))
    straight = _loft([(0.0, 0.14, 0.14, 0.0), (0.8, 0.3, 0.14, 0.0)])
    points, faces = straight
    assert not hides_legs(dense(points, faces, 0.01), 1.8)


@pytest.mark.parametrize("wide", [0.22, 0.4])
def test_shoulders_over_the_block_that_a_bust_stands_on_are_no_arms(wide):
    """The block narrows upwards, the shoulders stand out over it as far back and forth as it reaches itself."""
    block, shoulders = _loft([(0.0, 0.2, 0.2, 0.0), (0.4, 0.16, 0.16, 0.0)]), _loft([(0.4, wide, 0.17, 0.0), (0.8, wide, 0.17, 0.0)])
    samples = np.concatenate([dense(*block, 0.01), dense(*shoulders, 0.01)])
    assert not hides_legs(samples, 1.5)


def touching(gap, low=0.0):
    """A figure whose legs are two pieces that stand against each other; it has no arms."""
    figure = cut(without_rig(PERSON), "Head", "Body")
    leg = _loft([(low, 0.08, 0.1, 0.0), (0.7, 0.08, 0.1, 0.0)])
    legs = [carried(f"Mesh.00{side + 2}", (leg[0] + [side * (0.08 + gap), 0, 0], leg[1]), None) for side in (1, -1)]
    return with_parts(figure, *legs)


@pytest.mark.parametrize("gap", [0.0005, -0.004, 0.002])
def test_legs_in_two_pieces_that_touch_are_legs(gap):
    found = measure(touching(gap), Settings())
    assert found.refusal is None
    assert found.heads_tall == pytest.approx(4.0, rel=0.02)


def test_one_piece_in_their_place_is_a_bust():
    figure = touching(0.001)
    (leg, _) = figure.parts[-2:]
    middle = replace(leg, points=leg.points - [leg.points[:, 0].mean(), 0, 0])
    assert "bust" in refusal(replace(figure, parts=(*figure.parts[:-2], middle)))


def gaps(points, triangle, step):
    """The largest distance of places on a triangle to the next sample."""
    share = np.random.default_rng(0).dirichlet([1, 1, 1], 800)
    places = share @ points[triangle[0]]
    samples = dense(points, triangle, step)
    return float(np.linalg.norm(places[:, None] - samples, axis=2).min(axis=1).max())


@pytest.mark.parametrize("long", [5, 20, 30, 45])
@pytest.mark.parametrize("thin", [0.05, 1.0])
def test_a_triangle_is_sampled_without_gaps_up_to_48_steps(long, thin):
    points = np.array([[0.0, 0, 0], [long, 0, 0], [0, long * thin, 0]])
    assert gaps(points, np.array([[0, 1, 2]]), 1.0) < 0.85


def test_a_bust_with_its_arms_held_out_near_the_ground_stands_on_no_legs():
    found = measure(negative("bust", 96002), Settings())
    assert found.heads_tall is None
    assert "bust" in found.refusal or "upright" in found.refusal


@pytest.mark.parametrize("seed", [97000, 97002])
def test_a_bust_whose_rig_has_legs_that_nothing_follows_is_refused(seed):
    """Its arms, cut off over the elbow, were taken for arms that hang."""
    found = measure(negative("bust whose rig has legs with weights", seed), Settings())
    assert found.heads_tall is None and found.refusal is not None and "bust" in found.refusal


@pytest.mark.parametrize(("heads", "rigged", "counted"), [(1.25, False, False), (1.25, True, True), (1.45, False, True)])
def test_fewer_heads_than_any_figure_has_are_told_by_weights_alone(heads, rigged, counted):
    """One and a half heads is the least that is drawn: common practice, no source."""
    found = measure(keeper(Person(height=0.9, head=0.9 / heads, rigged=rigged)), Settings())
    assert (found.heads_tall is not None) is counted, found
    if counted:
        assert found.heads_tall == pytest.approx(heads, rel=0.01)
    else:
        assert found.refusal is not None


def on_four(long, apart=0.3, belly=0.0):
    """Four columns of a height under a trunk that hangs ``belly`` below their tops, and a head and a neck over its end."""
    legs = [column((side * 0.11, ahead * apart), 0.04, 0.0, long) for side in (1, -1) for ahead in (1, -1)]
    side, deep = np.meshgrid(np.arange(-0.16, 0.16, 0.006), np.arange(-apart - 0.06, apart + 0.06, 0.006))
    bottom = np.column_stack([0.4 * side.ravel(), 0.6 * deep.ravel(), np.full(side.size, long - belly)])
    lid = np.column_stack([side.ravel(), deep.ravel(), np.full(side.size, long)])
    return np.concatenate([*legs, bottom, lid, column((0, apart), 0.12, long, 1.0)])


@pytest.mark.parametrize(("long", "belly"), [(0.3, 0.0), (0.13, 0.0), (0.14, 0.04), (0.2, 0.08)])
def test_short_legs_under_a_belly_are_four(long, belly):
    assert legs_of(on_four(long, belly=belly), 1.0) == "four"


def test_toes_and_heels_of_two_boots_are_two_legs():
    """Their soles stand off the ground between toe and heel."""
    boots = [column((side * 0.12, ahead), 0.05, 0.0, 0.12) for side in (1, -1) for ahead in (0.06, -0.06)]
    legs = [column((side * 0.12, 0), 0.08, 0.1, 0.5) for side in (1, -1)]
    assert legs_of(np.concatenate([*boots, *legs, column((0, 0), 0.25, 0.45, 1.0)]), 1.0) == "two"


@pytest.mark.parametrize(("head", "wide"), [(0.3, 0.9), (0.29, 0.8), (0.5, 0.6)])
def test_a_wide_head_is_no_pair_of_arms(head, wide):
    person = Person(height=0.9, head=head, wide=wide, deep=0.6, build="separate")
    figure = cut(without_rig(person), "Head", "Body")
    assert not _stretches_out(np.concatenate([part.points for part in figure.parts]), *OUTER)
    assert "bust" in refusal(figure)


def gowned(bones, rigged_to):
    """A figure in a gown, whose arms in two pieces follow ``rigged_to`` of the rig's ``bones``."""
    figure = with_bones(cut(keeper(PERSON), "Head", "Body"), *((name, "Spine", (0, 0, 1.1), (0, 0, 1.2)) for name in bones))
    gown = carried("Gown", _loft([(0.0, 0.3, 0.24, 0.0), (0.8, 0.14, 0.1, 0.0)]), "Spine")
    arm = _loft([(0.75, 0.03, 0.03, 0.0), (1.3, 0.03, 0.03, 0.0)])
    arms = [carried(f"Mesh.{side + 7}", (arm[0] + [side * 0.16, 0, 0], arm[1]), name) for side, name in zip((1, -1), rigged_to, strict=True)]
    return replace(with_parts(figure, gown, *arms), humanoid={"leftLowerArm": bones[0], "rightLowerArm": bones[1], "head": "Head"})


def test_forearms_that_carry_something_are_arms():
    """The hands have no bones of their own."""
    bones = ("Forearm.L", "Forearm.R")
    assert "bust" in refusal(gowned(bones, ("Spine", "Spine")))
    assert measure(gowned(bones, bones), Settings()).heads_tall == pytest.approx(4.0, rel=0.01)


def shouldered(rigged):
    """A bust whose shoulders are cut off flat, wide and thin at their ends, over nothing that could be legs."""
    figure = cut(keeper(Person(height=0.9, head=0.3, neck=0.05, build="separate", rigged=rigged)), "Head", "Body")
    turn = np.array([[0, 0, -1], [0, 1, 0], [1, 0, 0.0]])
    points, faces = _loft([(-0.27, 0.02, 0.03, 0.0), (-0.22, 0.16, 0.08, 0.0), (0.22, 0.16, 0.08, 0.0), (0.27, 0.02, 0.03, 0.0)])
    return with_parts(figure, carried("Mesh.002", (points @ turn.T + [0, 0, 0.45], faces), "Spine" if rigged else None))


@pytest.mark.parametrize("rigged", [True, False])
def test_shoulders_that_are_cut_off_are_no_arms(rigged):
    assert "bust" in refusal(shouldered(rigged))


@pytest.mark.parametrize("hands", [0.0, 0.015])
def test_feet_and_the_hands_beside_them_are_no_four_legs(hands):
    """A squat figure whose arms hang to the ground."""
    feet = [column((side * 0.08, 0), 0.05, 0.0, 0.2) for side in (1, -1)]
    arms = [column((side * 0.25, 0), 0.05, hands, 0.4) for side in (1, -1)]
    assert legs_of(np.concatenate([*feet, *arms, column((0, 0), 0.18, 0.18, 0.5), column((0, 0), 0.3, 0.45, 1.0)]), 1.0) == "two"


def on_all_fours(humanoid):
    """A figure of a head, a trunk and four legs, whose rig calls only the head something."""
    legs = [carried(f"Mesh.1{n}", (_loft([(0.0, 0.05, 0.05, 0.0), (0.42, 0.05, 0.05, 0.0)])[0] + [x, y, 0], _loft([(0.0, 0.05, 0.05, 0.0), (0.42, 0.05, 0.05, 0.0)])[1]), "Spine")
            for n, (x, y) in enumerate([(0.12, -0.3), (-0.12, -0.3), (0.12, 0.3), (-0.12, 0.3)])]
    trunk = carried("Mesh.005", _ball((0, 0, 0.5), (0.2, 0.42, 0.14)), "Spine")
    figure = with_parts(cut(keeper(Person(height=1.1, head=0.4, neck=0.05, build="separate")), "Head"), trunk, *legs)
    return replace(figure, humanoid=humanoid)


def test_a_rig_without_arms_over_four_legs_is_refused():
    assert "four legs" in refusal(on_all_fours({"head": "Head"}))
    assert "four legs" not in refusal(on_all_fours({"head": "Head", "leftHand": "Spine", "rightHand": "Spine"}))
