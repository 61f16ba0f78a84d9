"""Single pieces of evidence against forms whose answer follows from how they are made."""

import numpy as np
import pytest
from evenfold.core.figure import Figure
from evenfold.core.findings import Reading
from evenfold.core.proportion import measure
from evenfold.core.proportion.directions.facing import facing_by_shape
from evenfold.core.proportion.face.chin_touch import touch_chin
from evenfold.core.proportion.face.ledge import find_ledge
from evenfold.core.proportion.fuse import fuse
from evenfold.core.proportion.ground.plate import find_plate
from evenfold.core.proportion.ground.standing import feet_of
from evenfold.core.proportion.head.from_front import shown_from_front
from evenfold.core.proportion.points.islands import label_pieces
from evenfold.core.proportion.skull.dome import find_dome
from evenfold.core.settings import Settings
from figures.altered import carried
from figures.people import _ball, _loft
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

UP = np.array([0.0, 0.0, 1.0])


def dome_samples(rng, wide=0.5, deep=0.45, high=0.5, count=30000):
    """Points all over the upper half of an ellipsoid whose top is at ``high``."""
    way = rng.normal(size=(count, 3))
    way[:, 2] = np.abs(way[:, 2])
    return way / np.linalg.norm(way, axis=1)[:, None] * [wide, deep, high]


def cone(rng, at, radius, tip, count=4000):
    share, turn = rng.random(count), rng.uniform(0, 2 * np.pi, count)
    low = at[2]
    flat = (1 - share)[:, None] * radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return np.column_stack([flat + at[:2], low + share * (tip - low)])


@pytest.mark.parametrize("seed", range(8))
def test_a_bare_dome_is_its_own_top(seed):
    rng = np.random.default_rng(seed)
    dome = find_dome(dome_samples(rng, rng.uniform(0.4, 0.6), rng.uniform(0.4, 0.6)), 1.0)
    assert dome.bare
    assert dome.top == pytest.approx(0.5, abs=0.003)


@pytest.mark.parametrize("seed", range(8))
def test_spikes_and_a_bun_are_looked_under(seed):
    rng = np.random.default_rng(seed)
    parts = [dome_samples(rng)]
    for _ in range(rng.integers(1, 4)):
        turn = rng.uniform(0, 6.3)
        parts.append(cone(rng, [0.25 * np.cos(turn), 0.2 * np.sin(turn), 0.35], 0.07, rng.uniform(0.6, 1.0)))
    ball = rng.normal(size=(6000, 3))
    parts.append(ball / np.linalg.norm(ball, axis=1)[:, None] * 0.14 + [0, 0.1, 0.56])
    dome = find_dome(np.concatenate(parts), 1.0)
    assert not dome.bare
    assert dome.highest > 0.55
    assert dome.top == pytest.approx(0.5, abs=0.008)
    assert dome.top - dome.slack <= 0.5 <= dome.top + dome.slack


@pytest.mark.parametrize("count", [5, 7])
@pytest.mark.parametrize("seed", range(4))
def test_a_ring_of_tufts_leaves_the_dome_between_them(count, seed):
    rng = np.random.default_rng(seed)
    turns = 2 * np.pi * (np.arange(count) + rng.random()) / count
    tufts = [cone(rng, [0.2 * np.cos(turn), 0.18 * np.sin(turn), 0.4], 0.06, rng.uniform(0.6, 0.8)) for turn in turns]
    dome = find_dome(np.concatenate([dome_samples(rng), *tufts]), 1.0)
    assert not dome.bare and dome.top == pytest.approx(0.5, abs=0.008)


def outline(heights, forward):
    """A dense outline (n, 3) in the middle through corner points."""
    place = np.linspace(0, len(heights) - 1, 2000)
    z = np.interp(place, range(len(heights)), heights)
    y = np.interp(place, range(len(heights)), forward)
    return np.column_stack([np.zeros(2000), y, z])


@pytest.mark.parametrize("turn", [0.0, 6.0, 12.0])
def test_a_sharp_chin_over_an_underside_that_falls_to_the_neck(turn):
    fall = 0.25 * np.tan(np.radians(turn))
    line = outline([-0.3, -fall, 0.0, 0.5, 1.0], [0.1, 0.1, 0.35, 0.45, 0.2])
    floor, back, face = find_ledge(line, -0.3, 0.25, 1.0)
    fit = touch_chin(line, floor, back + 0.4 * (face - back), 0.45, 1.0)
    assert fit.touched == pytest.approx(0.0, abs=0.01)
    assert fit.height == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("radius", [0.03, 0.08, 0.14])
def test_a_round_chin_is_followed_to_its_lowest_point(radius):
    """The rounding ends 25 degrees before its lowest point, where a slope leads to the neck."""
    turns = np.radians(np.linspace(25, 90, 60))
    y, z = 0.3 + radius * np.sin(turns), radius - radius * np.cos(turns)
    slope = np.tan(np.radians(25))
    neck = z[0] - slope * (y[0] - 0.05)
    line = outline(np.concatenate([[neck - 0.2, neck], z, [0.6]]), np.concatenate([[0.05, 0.05], y, [y[-1]]]))
    fit = touch_chin(line, neck, 0.2, 0.45, 1.0)
    assert fit.touched > 0.05 * radius
    assert fit.height == pytest.approx(0.0, abs=0.006)


def test_no_ledge_in_an_upright_outline():
    assert find_ledge(outline([-0.5, 1.0], [0.2, 0.2]), -0.3, 0.25, 1.0) is None


def test_agreeing_readings_keep_the_narrow_bracket_and_others_widen_it():
    sure = Reading("sure", 1.0, 0.99, 1.01)
    assert fuse([Reading("vague", 1.1, 0.8, 1.4), sure]) == (sure, 0.99, 1.01)
    leader, low, high = fuse([sure, Reading("other", 0.7, 0.6, 0.8)])
    assert leader == sure
    assert 0.8 < low < 0.99
    assert high == 1.01
    with pytest.raises(ValueError, match="no readings"):
        fuse([])


@pytest.mark.parametrize("seed", range(10))
def test_pieces_are_the_graphs_components(seed):
    rng = np.random.default_rng(seed)
    points, triangles = rng.random((80, 3)), rng.integers(0, 80, (40, 3))
    points[70:] = points[:10]
    label = label_pieces(points, triangles, 1e-6)
    joined = np.concatenate([triangles[:, :2], triangles[:, 1:], np.column_stack([np.arange(70, 80), np.arange(10)])])
    graph = coo_matrix((np.ones(len(joined)), joined.T), (80, 80))
    truth = connected_components(graph, directed=False)[1]
    assert ((label[:, None] == label) == (truth[:, None] == truth)).all()


def figure_points(rng, tail=False):
    """A trunk, two arms, two legs with feet to -Y; the sole at 0."""
    def box(low, high, count=1500):
        return rng.uniform(low, high, (count, 3))
    parts = [box([-0.15, -0.1, 0.45], [0.15, 0.1, 0.8]), box([-0.1, -0.1, 0.85], [0.1, 0.1, 1.0]), box([-0.5, -0.04, 0.7], [0.5, 0.04, 0.78])]
    for side in (-1, 1):
        parts.append(box([side * 0.1 - 0.04, -0.05, 0.0], [side * 0.1 + 0.04, 0.05, 0.5]))
        parts.append(box([side * 0.1 - 0.04, -0.2, 0.0], [side * 0.1 + 0.04, 0.05, 0.05]))
    if tail:
        parts.append(box([-0.02, 0.2, -0.1], [0.02, 0.25, 0.4], 600))
    return np.concatenate(parts)


@pytest.mark.parametrize("turn", np.radians([0, 17, 90, 133, 180, 250]))
def test_facing_follows_the_feet_however_it_is_turned(turn):
    points = figure_points(np.random.default_rng(3))
    cos, sin = np.cos(turn), np.sin(turn)
    matrix = np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1]])
    forward = facing_by_shape(points @ matrix.T, UP)
    assert forward @ (matrix @ [0, -1, 0]) > np.cos(np.radians(5))


def test_a_tail_below_the_feet_is_no_foot():
    rng = np.random.default_rng(5)
    feet = feet_of(figure_points(rng, tail=True) * [1, -1, 1], 0.0)
    assert feet.told
    assert feet.point[2] == pytest.approx(0.0, abs=0.004)
    assert feet_of(figure_points(rng) * [1, -1, 1], 0.0).point[2] == pytest.approx(0.0, abs=0.004)


def test_a_flat_base_is_found_and_feet_are_not():
    rng = np.random.default_rng(6)
    body = figure_points(rng)
    plate = rng.uniform([-0.3, -0.3, -0.06], [0.3, 0.3, 0.0], (400, 3))
    points = np.concatenate([body, plate])
    piece = np.repeat([0, 1], [len(body), len(plate)])
    every = np.ones(len(points), bool)
    assert (find_plate(points, points[:, 2], piece, every) == (piece == 1)).all()
    assert not find_plate(body, body[:, 2], np.zeros(len(body), int), every[: len(body)]).any()


@pytest.mark.parametrize("ends", [-0.2, -0.1, -0.045, 0.0])
def test_a_cape_that_ends_under_in_or_on_a_base_leaves_it_a_base(ends):
    rng = np.random.default_rng(6)
    body, plate, cape = figure_points(rng), rng.uniform([-0.3, -0.3, -0.06], [0.3, 0.3, 0.0], (400, 3)), rng.uniform([-0.15, 0.2, ends], [0.15, 0.25, 0.6], (400, 3))
    points = np.concatenate([body, plate, cape])
    piece = np.repeat([0, 1, 2], [len(body), len(plate), len(cape)])
    assert (find_plate(points, points[:, 2], piece, np.ones(len(points), bool)) == (piece == 1)).all()


def test_a_thick_block_that_nothing_stands_on_is_no_base():
    """What is over it floats higher than anything on a base begins."""
    rng = np.random.default_rng(3)
    block, over = rng.uniform([-0.4, -0.4, 0.0], [0.4, 0.4, 0.2], (400, 3)), rng.uniform([-0.1, -0.1, 0.3], [0.1, 0.1, 1.0], (400, 3))
    block[0], block[1], over[0] = [0.0, 0.0, 0.0], [0.0, 0.0, 0.2], [0.0, 0.0, 0.3]
    points = np.concatenate([block, over])
    piece = np.repeat([0, 1], 400)
    assert not find_plate(points, points[:, 2], piece, np.ones(800, bool)).any()
    standing = np.concatenate([block, over - [0, 0, 0.1]])
    assert find_plate(standing, standing[:, 2], piece, np.ones(800, bool)).sum() == 400


def test_what_is_named_the_head_is_no_base_wherever_it_lies():
    """A flat head under a body, as a part that lost its place: nothing is counted, and nothing stops."""
    head = carried("Head", _loft([(0.0, 0.5, 0.5, 0.0), (0.1, 0.5, 0.5, 0.0)]), None)
    body = carried("Mesh.001", _ball((0, 0, 0.62), (0.2, 0.15, 0.5)), None)
    found = measure(Figure("Keeper", (), (head, body)), Settings())
    assert found.heads_tall is None and "looks like a bust" in found.refusal


def test_what_is_a_billion_times_as_high_as_wide_is_looked_at_in_few_rows():
    points = np.array([[0.0, 0, 0], [1e-9, 0, 0.5], [0.0, 1e-9, 1.0]])
    seen, rise, _ = shown_from_front(points, np.array([[0, 1, 2]]), np.array([7]), 0.0, 1e-9, (0.0, 1.0))
    assert set(seen) == {7} and 0.0 <= rise.min() <= rise.max() <= 1.0
