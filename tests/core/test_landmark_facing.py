"""Which way a figure faces by its shape, with uneven poses, stumps for feet, tails, gaps and many strands of hair."""

import numpy as np
import pytest
from evenfold.core.proportion.directions.facing import facing_and_vote, facing_by_shape, leg_way

UP = np.array([0.0, 0.0, 1.0])


def box(low, high, step=0.012):
    """Points all over the sides of a box."""
    low, high = np.array(low, float), np.array(high, float)
    axes = [np.linspace(a, b, max(int(np.ceil((b - a) / step)) + 1, 2)) for a, b in zip(low, high, strict=True)]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    return grid[((grid <= low + 1e-9) | (grid >= high - 1e-9)).any(axis=1)]


def limb(start, end, half=0.035):
    """Points all over a square bar from ``start`` to ``end``."""
    start, end = np.array(start, float), np.array(end, float)
    way = end - start
    bar = box([-half, -half, 0], [half, half, float(np.linalg.norm(way))])
    up = way / np.linalg.norm(way)
    side = np.cross(up, [0.31, 0.83, 0.47])
    side /= np.linalg.norm(side)
    return start + bar @ np.stack([side, np.cross(up, side), up])


def foot(x, y=0.0, low=0.0, long=0.2):
    return box([x - 0.045, y - long + 0.05, low], [x + 0.045, y + 0.05, low + 0.06])


def figure(arms=((0.45, 0.7), (-0.45, 0.7)), feet=(0.0, 0.0), long=0.2, chin=0.06):
    """Faces -Y; ``arms`` (side, height) of the hands, ``feet`` how far each stands ahead; ``chin`` how far the
    face hangs over the neck in front."""
    parts = [box([-0.15, -0.09, 0.42], [0.15, 0.09, 0.78]), limb((0, 0, 0.76), (0, 0, 0.86), 0.05)]
    parts.append(box([-0.12, -0.11 - chin, 0.84], [0.12, 0.11, 1.05]))
    for x, ahead in zip((0.09, -0.09), feet, strict=True):
        parts.append(limb((x, 0, 0.44), (x, -ahead, 0.0), 0.045))
        parts.append(foot(x, -ahead, long=long) if long else box([x - 0.045, -0.045 - ahead, 0], [x + 0.045, 0.045 - ahead, 0.03]))
    parts += [limb((np.sign(x) * 0.15, 0, 0.74), (x, 0, z)) for x, z in arms]
    return np.concatenate(parts)


def turned(points, turn):
    cos, sin = np.cos(turn), np.sin(turn)
    return points @ np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1.0]]).T


def off(points, turn, small=None):
    """Degrees between the facing that is told and the figure's own."""
    found = facing_by_shape(turned(points, turn), UP, None if small is None else turned(np.array(small, float), turn))
    true = turned(np.array([[0.0, -1.0, 0.0]]), turn)[0]
    return float(np.degrees(np.arccos(np.clip(found @ true, -1, 1))))


TURNS = np.radians([0, 37, 141, 263])


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("arms", [
    ((0.3, 1.05), (-0.45, 0.7)), ((0.2, 1.15), (-0.2, 0.4)), ((0.5, 0.75), (-0.17, 0.4)),
], ids=["one up", "up and down", "out and down"])
def test_a_raised_arm_does_not_turn_the_figure(arms, turn):
    assert off(figure(arms), turn) < 5


@pytest.mark.parametrize("turn", TURNS)
def test_an_arm_that_points_ahead_does_not_turn_the_figure(turn):
    points = np.concatenate([figure(((0.45, 0.7),)), limb((-0.15, 0, 0.74), (-0.15, -0.4, 0.74))])
    assert off(points, turn) < 5


@pytest.mark.parametrize("turn", TURNS)
def test_feet_beside_each_other_give_the_sides(turn):
    points = turned(figure(), turn)
    way = leg_way(points[:, :2], points[:, 2], 1.05)
    assert abs(way @ [np.cos(turn), np.sin(turn)]) > np.cos(np.radians(2))


@pytest.mark.parametrize("hanging", [
    box([-0.02, 0.2, -0.1], [0.02, 0.24, 0.5]), box([-0.25, 0.2, -0.1], [0.25, 0.22, 0.7]),
], ids=["tail", "cape"])
@pytest.mark.parametrize("turn", TURNS[1:3])
def test_where_something_hangs_below_the_feet_they_are_found_over_its_end(hanging, turn):
    points = turned(np.concatenate([figure(), hanging]), turn)
    way = leg_way(points[:, :2], points[:, 2], 1.15)
    assert abs(way @ [np.cos(turn), np.sin(turn)]) > np.cos(np.radians(5))


@pytest.mark.parametrize("ground", [
    limb((0, 0, 0), (0, 0, 0.5), 0.1),
    np.concatenate([foot(0.1), limb((-0.1, 0, 0), (-0.1, 0, 0.5), 0.03)]),
    np.concatenate([box([-0.3, y, 0], [0.3, y + 0.001, 0.3], 0.008) for y in (0.1, 0.14)]),
], ids=["one column", "two unlike", "two sides of a sheet"])
def test_what_is_no_pair_of_feet_gives_no_sides(ground):
    assert leg_way(ground[:, :2], ground[:, 2], 1.0) is None


@pytest.mark.parametrize("turn", TURNS[:2])
@pytest.mark.parametrize("hanging", [
    box([-0.02, 0.2, -0.1], [0.02, 0.24, 0.5]), box([-0.2, 0.2, -0.12], [0.2, 0.22, 0.7]),
], ids=["tail", "cape"])
def test_a_tail_or_cape_below_the_feet_leaves_the_front_to_the_feet(hanging, turn):
    """Without a chin only the feet tell the front."""
    assert off(np.concatenate([figure(chin=0.0), hanging]), turn) < 5


@pytest.mark.parametrize("turn", TURNS[1:3])
@pytest.mark.parametrize("lean", [0.06])
def test_stumps_for_feet_say_nothing_where_legs_lean(lean, turn):
    """Legs that stand a little behind or ahead end in no feet: the chin tells the front."""
    for way in (1, -1):
        assert off(figure(feet=(way * lean, way * lean), long=0.0), turn) < 5


def small_one(crotch, nape=0.08, foot=0.11):
    """A big head on a little body that faces -Y, its crotch so high; the back of the head hangs over the nape more than the face."""
    parts = [box([-0.2, -0.2 - 0.02, 0.4], [0.2, 0.2 + nape, 1.0]), box([-0.12, -0.1, crotch], [0.12, 0.1, 0.42])]
    for x in (0.07, -0.07):
        parts.append(box([x - 0.04, -0.045, 0.0], [x + 0.04, 0.045, crotch + 0.01], 0.006))
        parts.append(box([x - 0.045, 0.045 - foot, 0.0], [x + 0.045, 0.045, 0.3 * crotch], 0.006))
    return np.concatenate(parts)


@pytest.mark.parametrize("turn", TURNS[:2])
@pytest.mark.parametrize("crotch", [0.08, 0.1, 0.12, 0.16])
def test_feet_tell_the_front_however_short_the_legs(crotch, turn):
    """Shins that end a tenth of the height up are looked at below that: over them is the trunk."""
    assert off(small_one(crotch, foot=0.14), turn) < 5


def test_feet_of_a_length_say_more_than_stumps():
    eyes = [[0.05, -0.15, 0.95], [-0.05, -0.15, 0.95]]
    shod = facing_and_vote(figure(), UP, np.array(eyes)).vote
    bare = facing_and_vote(figure(long=0.0), UP, np.array(eyes)).vote
    assert shod > bare + 1


@pytest.mark.parametrize("turn", TURNS[1:3])
@pytest.mark.parametrize("seed", range(2))
def test_rows_without_samples_do_not_hide_the_chin(turn, seed):
    """In a share of the rows all that is in front is missing, as samples of long thin faces miss it."""
    points = figure(long=0.0)
    rows = np.random.default_rng(seed).random(160) < 0.2
    row = ((points[:, 2] - points[:, 2].min()) / 1.05 * 150).astype(int)
    gone = rows[row] & (np.abs(points[:, 0]) < 0.04) & (points[:, 1] < 0.02)
    assert off(points[~gone], turn) < 5


@pytest.mark.parametrize("turn", TURNS[1:3])
@pytest.mark.parametrize("count", [40, 60])
def test_many_strands_of_hair_behind_are_not_taken_for_eyes(count, turn):
    rng = np.random.default_rng(count)
    strands = np.column_stack([rng.uniform(-0.1, 0.1, count), np.full(count, 0.11), rng.uniform(0.9, 1.0, count)])
    assert off(figure(long=0.0), turn, strands) < 5


@pytest.mark.parametrize("front", [1, -1])
def test_a_few_small_things_in_front_are_the_face(front):
    """Alike in front and behind but for eyes."""
    eyes = np.array([[0.05, -0.11, 0.97], [-0.05, -0.11, 0.97], [0.0, -0.11, 0.9]]) * [1, front, 1]
    found = facing_by_shape(figure(long=0.0, chin=0.0), UP, eyes)
    assert found @ [0, -front, 0] > 0.99


@pytest.mark.parametrize("turn", np.radians([20, 70]))
def test_an_uneven_pose_off_the_axes_may_face_along_one(turn):
    arms = ((0.3, 1.2), (-0.45, 0.5))
    found = facing_and_vote(turned(figure(arms, feet=(0.15, -0.15)), turn), UP)
    assert found.along is not None
    assert sorted(np.abs(found.along)) == pytest.approx([0, 0, 1])
    assert found.along @ found.forward > 0.5


@pytest.mark.parametrize("turn", TURNS)
def test_an_even_pose_tells_its_facing_alone(turn):
    assert facing_and_vote(turned(figure(), turn), UP).along is None
