"""Outlines against a plain point-in-triangle oracle, and places in the figure's own frame."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Figure, Part, Weights
from evenfold.core.findings import Proportion
from evenfold.core.outline import MOST_POINTS, ROWS, area, outlines, simplified, trace
from evenfold.core.portrait import ALL_SPOTS, MOST_SPOTS, portrait_of
from figures.layered import layered
from figures.people import Person, keeper, moved
from figures.reported import figure_result, found, named


def inside(loops, points):
    """(n,) whether points lie inside by the even-odd rule: a plain crossing count."""
    count = np.zeros(len(points), int)
    for loop in loops:
        for a, b in zip(loop, np.roll(loop, -1, axis=0), strict=True):
            between = (a[1] <= points[:, 1]) != (b[1] <= points[:, 1])
            with np.errstate(divide="ignore", invalid="ignore"):
                x = a[0] + (points[:, 1] - a[1]) * (b[0] - a[0]) / (b[1] - a[1])
            count += between & (points[:, 0] < x)
    return count % 2 == 1


def in_triangles(points, corners):
    """(n,) whether points lie in any triangle, and (n,) how far they are from the nearest edge."""
    hit, near = np.zeros(len(points), bool), np.full(len(points), np.inf)
    for triangle in corners:
        turns = []
        for a, b in zip(triangle, np.roll(triangle, -1, axis=0), strict=True):
            way, away = b - a, points - a
            turns.append(way[0] * away[:, 1] - way[1] * away[:, 0])
            share = np.clip(away @ way / (way @ way), 0, 1)
            near = np.minimum(near, np.linalg.norm(away - share[:, None] * way, axis=1))
        hit |= (np.min(turns, axis=0) >= 0) | (np.max(turns, axis=0) <= 0)
    return hit, near


@pytest.mark.parametrize("seed", range(8))
def test_outlines_hold_what_the_triangles_cover(seed):
    rng = np.random.default_rng(seed)
    points = rng.uniform(-1, 1, (18, 2)) * rng.uniform(0.01, 100)
    triangles = rng.permutation(18).reshape(6, 3)
    loops = outlines(points, triangles)
    size = np.ptp(points, axis=0).max()
    asked = rng.uniform(points.min(axis=0), points.max(axis=0), (600, 2))
    truth, near = in_triangles(asked, points[triangles])
    clear = near > 5 * size / ROWS
    assert clear.sum() > 300 and truth[clear].any() and not truth[clear].all()
    assert (inside(loops, asked)[clear] == truth[clear]).all()


def test_a_hole_stays_open_and_specks_go():
    ring = np.zeros((60, 60), bool)
    ring[10:50, 10:50] = True
    ring[20:40, 20:40] = False
    ring[3, 3] = True
    loops = trace(ring)
    assert [abs(area(loop)) for loop in loops] == pytest.approx([1600, 400], abs=3)
    assert area(loops[0]) * area(loops[1]) < 0


def test_simplifying_moves_no_point_further_than_allowed():
    turn = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    loop = np.stack([50 * np.cos(turn), 30 * np.sin(turn)], axis=1)
    few = simplified(loop, 0.5)
    assert 8 < len(few) < 60
    ends = np.stack([few, np.roll(few, -1, axis=0)], axis=1)
    away = [
        min(np.linalg.norm(p - a - np.clip((p - a) @ (b - a) / ((b - a) @ (b - a)), 0, 1) * (b - a)) for a, b in ends)
        for p in loop[::7]
    ]
    assert max(away) <= 0.5 + 1e-9


def test_a_ragged_view_stays_within_its_points():
    rng = np.random.default_rng(1)
    points = rng.uniform(0, 1, (6000, 2))
    near = points[:, None] + rng.normal(0, 0.004, (6000, 3, 2))
    loops = outlines(near.reshape(-1, 2), np.arange(18000).reshape(-1, 3))
    assert 0 < sum(map(len, loops)) <= MOST_POINTS


@pytest.mark.parametrize("points", [
    np.zeros((0, 2)), np.zeros((4, 2)), np.full((4, 2), np.nan), np.array([[0, 0], [np.inf, 1.0]]),
])
def test_what_has_no_extent_has_no_outline(points):
    assert outlines(points, np.zeros((0, 3), np.int64)) == ()


def test_huge_and_broken_coordinates_do_no_harm():
    points = np.array([[0, 0], [1e30, 0], [0, 1e30], [np.nan, 3]])
    (loop,) = outlines(points, np.array([[0, 1, 2], [0, 1, 3]]))
    assert abs(area(loop)) == pytest.approx(0.5e60, rel=0.02)


def bounds(figure):
    return portrait_of(figure, replace(figure_result(), proportion=Proportion())).bounds


def test_metres_above_the_sole_and_across_from_the_plane():
    person = Person(height=0.9, head=0.6)
    low, high = bounds(keeper(person))
    cell = 0.9 / ROWS
    assert (low[2], high[2]) == (pytest.approx(0.0, abs=2 * cell), pytest.approx(0.9, abs=2 * cell))
    assert low[0] == pytest.approx(-high[0], abs=2 * cell)
    larger = replace(keeper(person), metres_per_unit=0.01)
    assert bounds(larger)[1] == pytest.approx(high * 0.01, rel=0.02, abs=2e-4)


def test_a_turned_figure_looks_the_same_in_its_own_frame():
    figure = moved(keeper(Person()), turn=1.0, by=(3.0, 2.0, 5.0))
    side, forward = np.array([np.cos(1), np.sin(1), 0]), np.array([np.sin(1), -np.cos(1), 0])
    result = figure_result()
    marks = {"sole": replace(result.proportion.landmarks["sole"], point=np.array([3.0, 2, 5]))}
    result = replace(
        result, proportion=replace(result.proportion, forward=forward, landmarks=marks),
        plane=replace(result.plane, point=np.array([3.0, 2, 5]), normal=side),
    )
    there, here = portrait_of(figure, result), portrait_of(keeper(Person()), figure_result())
    assert there.bounds[0] == pytest.approx(here.bounds[0], abs=0.02)
    assert there.bounds[1] == pytest.approx(here.bounds[1], abs=0.02)
    assert there.landmarks["sole"][[0, 2]] == pytest.approx([0, 0], abs=1e-9)


def spots_of(*findings, surfaces):
    figure = replace(keeper(Person()), surfaces=surfaces)
    return portrait_of(figure, figure_result(*findings)).spots[0]


def surfaces():
    return (layered().surface,)


def test_spots_are_where_the_elements_are():
    (body,) = surfaces()
    edge, face = 7, 11
    first, second, third, bones = spots_of(
        found(sizes=(0.1, 0.3), elements=[5, 900]), found("edge-unmatched", (np.nan,), elements=[edge], kind="edge"),
        found("face-unmatched", (np.nan,), elements=[face], kind="face"), named(names=("Head", "Gone")), surfaces=(body,),
    )
    forward = -np.concatenate([part.points[:, 1] for part in keeper(Person()).parts])
    middle = (forward.min() + forward.max()) / 2

    def rounded(points):
        return {tuple(one) for one in np.round(points, 6).tolist()}

    def expected(vertices):
        return rounded(body.world[vertices] * [1, -1, 1] - [0, middle, 0])

    assert rounded(first) == expected([5, 900]) and rounded(first[:1]) == expected([900])
    assert rounded(second) == expected(body.edges[edge])
    assert rounded(third) == expected(body.corners[body.face_starts[face] : body.face_starts[face + 1]])
    (head,) = (bone for bone in keeper(Person()).armature.bones if bone.name == "Head")
    assert rounded(bones) == rounded([(head.head + head.tail) / 2 * [1, -1, 1] - [0, middle, 0]])


def test_spots_are_few_and_the_worst_is_among_them():
    (body,) = surfaces()
    sizes = np.linspace(1, 2, 1500)
    (alone,) = spots_of(found(sizes=sizes, elements=range(1500)), surfaces=(body,))
    assert len(alone) == MOST_SPOTS
    (worst,) = spots_of(found(sizes=(1.0,), elements=[1499]), surfaces=(body,))
    assert np.allclose(alone[0], worst[0])
    many = spots_of(*[found(sizes=sizes, elements=range(1500)) for _ in range(30)], surfaces=(body,))
    assert sum(map(len, many)) <= ALL_SPOTS and min(map(len, many)) > 1


def test_a_figure_without_shape_has_no_picture():
    empty = Part("Body", np.zeros((0, 3)), np.zeros((0, 3), np.int64), Weights.none())
    flat = replace(empty, points=np.zeros((3, 3)))
    broken = replace(empty, points=np.full((3, 3), np.nan))
    for part in (empty, flat, broken):
        assert portrait_of(Figure("Keeper", (), (part,)), figure_result()) is None
    assert portrait_of(Figure("Keeper", (), ()), figure_result()) is None


def test_broken_surfaces_and_landmarks_do_no_harm():
    (body,) = surfaces()
    world = np.array(body.positions)
    world[5] = np.nan
    marks = figure_result().proportion
    lost = {name: replace(one, point=np.full(3, np.nan)) for name, one in marks.landmarks.items()}
    result = replace(figure_result(found(elements=[5, 6])), proportion=replace(marks, landmarks=lost))
    made = portrait_of(replace(keeper(Person()), surfaces=(replace(body, positions=world),)), result)
    assert len(made.spots[0][0]) == 1 and np.isfinite(made.bounds).all()


def test_nothing_is_measured_from_the_middle_of_what_is_worn():
    """A base plate under the sole, and a plane beside the middle: heights and widths count from these."""
    result = figure_result()
    sole = replace(result.proportion.landmarks["sole"], point=np.array([0.0, 0, 0.1]))
    lifted = replace(result, proportion=replace(result.proportion, landmarks={"sole": sole}))
    aside = replace(result, plane=replace(result.plane, point=np.array([0.2, 0, 0])))
    turned = replace(aside, plane=replace(aside.plane, normal=np.array([0.0, 1, 0])))
    figure = keeper(Person())
    plain, up, left, ignored = (portrait_of(figure, one).bounds[0] for one in (result, lifted, aside, turned))
    assert up - plain == pytest.approx([0, 0, -0.1], abs=1e-6)
    assert left - plain == pytest.approx([-0.2, 0, 0], abs=1e-6)
    assert ignored == pytest.approx(plain, abs=1e-6)
