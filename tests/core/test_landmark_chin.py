"""Chin, facing, legs and what measuring leans on, against forms whose answer follows from their making."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Armature, Bone, Weights, transform_points
from evenfold.core.proportion import measure
from evenfold.core.proportion.directions.facing import facing_by_shape
from evenfold.core.proportion.directions.forward import forward_of
from evenfold.core.proportion.face.chin_seen import from_outline
from evenfold.core.proportion.face.chin_touch import ChinFit
from evenfold.core.proportion.face.underside import find_underside
from evenfold.core.proportion.ground.legs import legs_of
from evenfold.core.proportion.head.neck import find_necks
from evenfold.core.proportion.head.outline import outline_of
from evenfold.core.proportion.parts.body import gather
from evenfold.core.settings import Settings
from figures.people import Person, keeper

UP = np.array([0.0, 0.0, 1.0])


def line_through(heights, forward):
    """A dense outline (n, 3) in the middle through corner points."""
    place = np.linspace(0, len(heights) - 1, 4000)
    z, y = np.interp(place, range(len(heights)), heights), np.interp(place, range(len(heights)), forward)
    return np.column_stack([np.zeros(4000), y, z])


@pytest.mark.parametrize("seed", range(12))
def test_the_lowest_place_of_an_underside_that_rises_to_the_neck_is_the_chin(seed):
    rng = np.random.default_rng(seed)
    rise, chin_at = rng.uniform(0.02, 0.08), rng.uniform(0.25, 0.4)
    line = line_through([-0.3, rise, 0.0, 0.3, 1.0], [0.1, 0.1, chin_at, 0.45, 0.2])
    seen = find_underside(line, -0.003, 0.45, 0.1, 1.0)
    assert seen.height == pytest.approx(0.0, abs=0.004)
    assert seen.forward == pytest.approx(chin_at, abs=0.01)


@pytest.mark.parametrize("slope", [-0.2, -0.3, -0.4])
@pytest.mark.parametrize("rigged", [True, False])
def test_where_an_underside_falls_to_the_neck_the_range_holds_its_front_end_and_its_lowest_place(slope, rigged):
    """Either may be meant: common practice, no source. Without a rig the head is an object with its neck on it."""
    found = measure(keeper(Person(height=1.8, head=0.6, neck=0.3, slope=slope, rigged=rigged, build="separate")), Settings())
    lowest = 0.6 - 0.26 * slope * 0.6
    assert 1.8 / lowest >= found.low and found.high >= 3.0
    assert 1.8 / lowest * 0.99 < found.heads_tall < 3.03


@pytest.mark.parametrize(("notch", "reached"), [(0.0, 0.1), (0.06, 0.11), (0.139, 0.135)])
def test_under_a_chin_far_over_its_notch_the_range_goes_a_third_of_the_way_down(notch, reached):
    """The underside of a muzzle that falls to the throat."""
    seen = from_outline(ChinFit(0.14, 0.14, 0.16, 0.0, 0.3, notch), 1.0)
    assert seen.height == pytest.approx(0.14)
    assert reached - 0.03 < seen.low < reached


@pytest.mark.parametrize("slope", [1.0, 3.0, 6.0])
def test_where_a_flat_underside_falls_a_little_to_the_neck_the_chin_is_its_front_end(slope):
    fall = 0.25 * np.tan(np.radians(slope))
    line = line_through([-0.3, -fall, 0.0, 0.3, 1.0], [0.1, 0.1, 0.35, 0.45, 0.2])
    seen = find_underside(line, -fall - 0.003, 0.45, 0.1, 1.0)
    assert seen.height == pytest.approx(0.0, abs=0.004)
    assert seen.lowest == pytest.approx(-fall, abs=0.006)


def test_a_round_underside_ends_at_its_lowest_place_and_not_in_front_of_it():
    turn = np.linspace(-np.pi, np.pi, 6000)
    ball = np.column_stack([np.zeros(6000), 0.45 * np.cos(turn), 0.5 + 0.5 * np.sin(turn)])
    seen = find_underside(ball, -0.003, 0.45, -0.2, 1.0)
    assert seen.height == pytest.approx(0.0, abs=0.002)


@pytest.mark.parametrize("slope", [20.0, 35.0])
def test_an_underside_that_falls_steeply_to_the_neck_shows_no_chin_of_its_own(slope):
    fall = 0.25 * np.tan(np.radians(slope))
    line = line_through([-0.3, -fall, 0.0, 0.3, 1.0], [0.1, 0.1, 0.35, 0.45, 0.2])
    assert find_underside(line, -fall - 0.003, 0.45, 0.1, 1.0) is None


def test_a_muzzle_further_forward_and_higher_is_not_the_chin():
    line = line_through([-0.3, 0.05, 0.0, 0.1, 0.16, 0.3, 1.0], [0.1, 0.1, 0.3, 0.36, 0.7, 0.6, 0.2])
    assert find_underside(line, -0.003, 0.45, 0.1, 1.0).height == pytest.approx(0.0, abs=0.004)


def column(rng, at, radius, low, high):
    """Points all over the side of an upright round column, evenly but for where they begin."""
    turn = np.arange(0, 2 * np.pi, 0.006 / radius) + rng.uniform(0, 6)
    turn, z = np.meshgrid(turn, np.arange(low, high, 0.006))
    return np.column_stack([at[0] + radius * np.sin(turn).ravel(), at[1] + radius * np.cos(turn).ravel(), z.ravel()])


def standing(rng, legs, dress=0.0):
    """A trunk over columns at the places ``legs`` (x, y, lowest height)."""
    parts = [column(rng, (0, 0), 0.16, 0.4, 1.0)]
    parts += [column(rng, (x, y), 0.06, low, 0.42) for x, y, low in legs]
    return np.concatenate([*parts, column(rng, (0, 0), 0.2, dress, 0.6)] if dress else parts)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(
    ("legs", "told"),
    [
        ([(0.09, 0, 0.0), (-0.09, 0, 0.0)], "two"),
        ([(0.09, 0, 0.0), (-0.09, -0.05, 0.12)], "two"),
        ([(0.1, 0.1, 0.0), (-0.1, 0.1, 0.0), (0.1, -0.1, 0.0), (-0.1, -0.1, 0.0)], "four"),
        ([(0.0, 0, 0.0)], "none"),
        ([], "none"),
    ],
)
def test_legs_are_told_by_how_many_stand_apart_and_join(seed, legs, told):
    rng = np.random.default_rng(seed)
    points = standing(rng, legs)
    turn = rng.uniform(0, 6.3)
    points[:, :2] = points[:, :2] @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    assert legs_of(points, 1.0) == told


@pytest.mark.parametrize("ahead", [0.12, 0.2, 0.28])
def test_a_leg_lifted_far_forward_is_still_one_of_two(ahead):
    rng = np.random.default_rng(1)
    shin = column(rng, (-0.09, ahead), 0.05, 0.1, 0.26)
    thigh = column(rng, (-0.09, 0.0), 0.05, 0.25, 0.46)
    thigh[:, 1] += ahead * (0.46 - thigh[:, 2]) / 0.21
    points = np.concatenate([standing(rng, [(0.09, 0, 0.0)]), shin, thigh])
    assert legs_of(points, 1.0) == "two"


@pytest.mark.parametrize(("dress", "told"), [(0.1, "two"), (1e-6, "none")])
def test_a_hem_hides_legs_only_where_it_reaches_the_ground(dress, told):
    rng = np.random.default_rng(3)
    assert legs_of(standing(rng, [(0.09, 0, 0.0), (-0.09, 0, 0.0)], dress), 1.0) == told


def closed(rng, foot=(0.05, 0.0, 0.24), shin=0.05, turn=0.0, low=0.0):
    """One column for both shins, ``shin`` wide to each side from ``low`` up, and under it feet ``foot``: to each side, from and to forward."""
    side, back, toe = foot
    shoes = rng.uniform([-side, back - shin, 0.0], [side, toe - shin, 0.035], (4000, 3))
    points = np.concatenate([column(rng, (0, 0), 0.16, 0.4, 1.0), column(rng, (0, 0), shin, low, 0.42), shoes])
    points[:, :2] = points[:, :2] @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return points


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("turn", [0.0, np.pi / 2, np.pi, -np.pi / 2])
def test_legs_held_together_are_told_by_the_feet_under_them(turn, seed):
    """Shoes of 0.15 of the height under shins of 0.06 to 0.1, as on two ready models; lengths of feet are common practice."""
    assert legs_of(closed(np.random.default_rng(seed), turn=turn), 1.0) == "two"


@pytest.mark.parametrize(("foot", "shin", "low"), [
    ((0.12, 0.0, 0.24), 0.05, 0.0), ((0.05, -0.07, 0.17), 0.05, 0.0), ((0.05, 0.0, 0.12), 0.05, 0.0), ((0.12, 0.0, 0.5), 0.12, 0.0),
    ((0.04, 0.12, 0.3), 0.05, 0.05),
], ids=["a broad plate", "a plate alike before and behind", "a column", "a body to the ground", "a tail's fin"])
def test_what_stands_on_anything_else_has_no_legs(foot, shin, low):
    assert legs_of(closed(np.random.default_rng(1), foot, shin, low=low), 1.0) == "none"


def test_two_columns_that_never_join_are_no_legs():
    rng = np.random.default_rng(5)
    apart = [column(rng, (side, 0), 0.06, 0.0, 1.0) for side in (0.3, -0.3)]
    assert legs_of(np.concatenate(apart), 1.0) == "none"


def test_nothing_at_all_stands_on_nothing():
    assert legs_of(np.zeros((0, 3)), 1.0) == "none"
    assert legs_of(np.ones((5, 3)), 0.0) == "none"


def plain_body(rng):
    """A round head on a column with two legs, alike in front and behind."""
    turn, rise = np.meshgrid(np.linspace(0, 2 * np.pi, 181)[:-1], np.linspace(-1.5, 1.5, 120))
    flat = 0.2 * np.cos(rise).ravel()
    ball = np.column_stack([flat * np.sin(turn).ravel(), flat * np.cos(turn).ravel(), 0.8 + 0.2 * np.sin(rise).ravel()])
    legs = [column(rng, (side, 0), 0.05, 0.0, 0.5) for side in (0.08, -0.08)]
    arms = column(rng, (0, 0), 0.03, -0.4, 0.4)[:, [2, 1, 0]] + [0.0, 0.0, 0.58]
    return np.concatenate([ball, *legs, arms, column(rng, (0, 0), 0.12, 0.45, 0.63)])


@pytest.mark.parametrize("turn", [0.0, 1.1, np.pi, 4.0])
def test_eyes_tell_the_front_of_a_figure_that_has_no_other(turn):
    rng = np.random.default_rng(2)
    points, eyes = plain_body(rng), np.array([[0.08, -0.18, 0.8], [-0.08, -0.18, 0.8]])
    matrix = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1.0]])
    for front in (1.0, -1.0):
        found = facing_by_shape(points @ matrix.T, UP, (eyes * [1, front, 1]) @ matrix.T)
        assert found @ (matrix @ [0.0, -front, 0.0]) > 0.98


@pytest.mark.parametrize("front", [1.0, -1.0])
def test_a_seat_that_stands_out_behind_is_no_chin(front):
    points = plain_body(np.random.default_rng(2))
    jaw = np.array([[side, place, 0.72] for side in np.linspace(-0.05, 0.05, 21) for place in np.linspace(-0.26, 0.0, 60)])
    seat = np.array([[side, place, 0.47] for side in np.linspace(-0.05, 0.05, 21) for place in np.linspace(0.0, 0.17, 40)])
    figure = np.concatenate([points, jaw, seat]) * [1, front, 1]
    assert facing_by_shape(figure, UP) @ [0.0, -front, 0.0] > 0.98


def test_one_lifted_foot_does_not_turn_the_figure():
    figure = keeper(Person(height=1.8, head=0.3, neck=0.1))
    up = np.array([0.0, -0.5, 0.4])
    bones = [
        replace(bone, head=bone.head + up, tail=bone.tail + up) if bone.name in ("Foot.L", "Toe.L") else bone
        for bone in figure.armature.bones
    ]
    arms = [
        Bone(f"{name}.{hand}", "Spine", np.array([side * reach, 0.0, 1.3]), np.array([side * (reach + 0.1), 0.0, 1.3]), np.eye(3))
        for name, reach in (("Arm", 0.2), ("Hand", 0.5)) for hand, side in (("L", 1), ("R", -1))
    ]
    lifted = replace(figure, armature=Armature("Rig", (*bones, *arms), np.eye(4)))
    assert forward_of(lifted, gather(lifted)) == pytest.approx([0.0, -1.0, 0.0], abs=0.02)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf, 1e13, 1e20, -3e38])
@pytest.mark.parametrize("rigged", [True, False])
def test_points_without_a_place_are_left_out_and_said(bad, rigged):
    figure = keeper(Person(height=1.8, head=0.3, neck=0.1, rigged=rigged))
    parts = []
    for part in figure.parts:
        points = part.points.copy()
        points[::97] = [bad, 0.0, bad]
        parts.append(replace(part, points=points))
    clean, found = measure(figure, Settings()), measure(replace(figure, parts=tuple(parts)), Settings())
    assert found.heads_tall == pytest.approx(clean.heads_tall, rel=0.005)
    assert np.isfinite([found.low, found.high, found.full_height]).all()
    assert any("no place" in sentence for sentence in found.guesses)
    assert not any("no place" in sentence for sentence in clean.guesses)


def test_a_head_bone_and_weights_that_are_no_numbers_do_not_poison_the_count():
    figure = keeper(Person(height=1.8, head=0.3, neck=0.1))
    lost = [replace(bone, head=np.full(3, np.nan)) if bone.name == "Head" else bone for bone in figure.armature.bones]
    part = figure.parts[0]
    weight = part.weights.weight.copy()
    weight[::50] = np.nan
    weights = Weights(part.weights.names, part.weights.vertex, part.weights.group, weight)
    broken = replace(figure, armature=Armature("Rig", tuple(lost), np.eye(4)), parts=(replace(part, weights=weights), *figure.parts[1:]))
    found = measure(broken, Settings())
    assert found.heads_tall == pytest.approx(6.0, rel=0.005)
    assert 5.5 < found.low <= 6.0 <= found.high < 6.5


@pytest.mark.parametrize("share", [0.2, 0.6])
def test_head_weights_that_reach_into_the_belly_leave_the_chin(share):
    """As weights by distance do on small figures: the upper ``share`` of the trunk follows the head."""
    figure = keeper(Person(height=1.2, head=0.6, neck=0.0))
    parts = []
    for part in figure.parts:
        names = np.array(part.weights.names)
        head, spine = int(np.flatnonzero(names == "Head")[0]), int(np.flatnonzero(names == "Spine")[0])
        reach = part.points[part.weights.vertex][:, 2] > 0.6 - 0.33 * share
        group = np.where((part.weights.group == spine) & reach, head, part.weights.group)
        parts.append(replace(part, weights=Weights(part.weights.names, part.weights.vertex, group, part.weights.weight)))
    found = measure(replace(figure, parts=tuple(parts)), Settings())
    assert found.heads_tall == pytest.approx(2.0, rel=0.03)
    assert found.low <= 2.0 <= found.high


def with_arms(rng, angle):
    """Samples of a figure whose arms point ``angle`` radians up; its neck is at 0.7."""
    trunk = [column(rng, (0, 0), 0.12, 0.35, 0.67), column(rng, (0, 0), 0.05, 0.65, 0.74), column(rng, (0, 0), 0.16, 0.73, 1.0)]
    legs = [column(rng, (side * 0.07, 0), 0.05, 0.0, 0.4) for side in (1, -1)]
    share = rng.uniform(0, 1, 4000)[:, None]
    arms = [
        np.array([side * 0.12, 0.0, 0.63]) + share * 0.4 * np.array([side * np.cos(angle), 0.0, np.sin(angle)]) + rng.normal(0, 0.012, (4000, 3))
        for side in (1, -1)
    ]
    return np.concatenate([*trunk, *legs, *arms]), sum(map(len, trunk + legs))


@pytest.mark.parametrize("angle", [-1.2, -0.7, 0.0, 0.7, 1.1])
def test_the_neck_is_found_however_the_arms_are_held(angle):
    points, count = with_arms(np.random.default_rng(4), angle)
    necks = find_necks(outline_of(points, np.arange(len(points)) < count, 0.0, 1.0, 0.0))
    assert 0.64 < necks[0].height < 0.75


@pytest.mark.parametrize("up", [(0, 0, 1), (0, 1, 0), (1, 0, 0), (0, 0, -1), (0.6, 0.0, 0.8)])
@pytest.mark.parametrize("rigged", [True, False])
def test_any_up_axis_turn_place_and_scale_counts_alike(up, rigged):
    figure = keeper(Person(height=1.8, head=0.3, neck=0.1, slope=0.2, rigged=rigged))
    plain = measure(figure, Settings()).heads_tall
    way = np.array(up, float)
    other = np.cross(way, [0.3, 0.8, -0.5])
    other /= np.linalg.norm(other)
    matrix = np.eye(4)
    matrix[:3, :3] = 12.0 * np.column_stack([other, np.cross(way, other), way])
    matrix[:3, 3] = [40.0, -7.0, 3.0]
    parts = tuple(replace(part, points=transform_points(matrix, part.points)) for part in figure.parts)
    armature = figure.armature
    if armature is not None:
        bones = [replace(bone, head=transform_points(matrix, bone.head[None])[0], tail=transform_points(matrix, bone.tail[None])[0]) for bone in armature.bones]
        armature = replace(armature, bones=tuple(bones))
    found = measure(replace(figure, parts=parts, armature=armature, up=tuple(way)), Settings())
    assert found.heads_tall == pytest.approx(plain, rel=0.01)
    assert plain == pytest.approx(6.0, rel=0.01)


@pytest.mark.parametrize("wide", [1e9, 1e12])
def test_what_is_a_billion_times_as_wide_as_high_is_looked_at_in_few_columns(wide):
    points = column(np.random.default_rng(2), (0, 0), 0.1, 0.0, 1.0)
    points = np.concatenate([points, [[wide, 0.0, 0.5], [-wide, 0.0, 0.5]]])
    outline = outline_of(points, np.ones(len(points), bool), 0.0, 1.0, 0.0)
    assert outline.spread.max() == 2 * wide
    assert np.median(outline.width) == pytest.approx(0.2, abs=0.02)


@pytest.mark.parametrize("spread", [0.05, 0.18])
def test_four_legs_on_long_paws_are_told_over_them(spread):
    """Paws nearly as long as the legs are apart, from side to side."""
    rng = np.random.default_rng(3)
    legs = [(x, y) for x in (-0.11, 0.11) for y in (-0.35, 0.35)]
    paws = [column(rng, (x, y + step), 0.05, 0.0, 0.07) for x, y in legs for step in np.linspace(-spread, spread, 9) / 2]
    parts = [column(rng, at, 0.04, 0.05, 0.5) for at in legs]
    trunk = [column(rng, (0, y), 0.16, 0.45, 0.75) for y in np.linspace(-0.4, 0.4, 9)]
    assert legs_of(np.concatenate([*paws, *parts, *trunk, column(rng, (0, -0.5), 0.1, 0.7, 1.0)]), 1.0) == "four"
