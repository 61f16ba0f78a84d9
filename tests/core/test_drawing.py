"""Marks on a drawing: count, rows beside the model, and the fit. All figures are invented."""

import math
from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.drawing import (
    DrawingError,
    beside_model,
    fit_drawing,
    model_places,
    plane_of,
    read_marks,
    stand_behind,
)
from figures.measured import measured

MARKS = {"crown": (0.0, 9.0), "chin": (0.1, 3.0), "sole": (-2.0, 0.0), "crotch": (0.0, 1.5)}
UP = np.array([0.0, 0, 1])
UPRIGHT = np.array([[1.0, 0, 0, 0], [0, 0, -1, 2], [0, 1, 0, 0], [0, 0, 0, 1]])
"""A picture two units behind the figure, seen from its front."""


def arrays(marks):
    return {name: np.array(place, float) for name, place in marks.items()}


def similar(places, scale, turn, move):
    """The places after a similarity, worked out with complex numbers."""
    factor, offset = scale * np.exp(1j * turn), complex(*move)
    moved = {name: complex(*place) * factor + offset for name, place in places.items()}
    return {name: np.array([value.real, value.imag]) for name, value in moved.items()}


def random_marks(rng):
    heights = np.sort(rng.uniform(0.0, 5.0, 6))[::-1] + np.linspace(1, 0, 6)
    names = ("crown", "eye_line", "chin", "crotch", "knee", "sole")
    return {name: np.array([rng.normal(0, 0.3), height]) for name, height in zip(names, heights, strict=True)}


def test_the_count_and_the_levels_in_closed_form():
    drawn = read_marks(MARKS)
    assert (drawn.heads_tall, drawn.head, drawn.height) == (1.5, 6.0, 9.0)
    assert drawn.levels == {"crown": 0.0, "chin": 1.0, "crotch": 1.25, "sole": 1.5}
    assert list(drawn.levels) == ["crown", "chin", "crotch", "sole"]


@pytest.mark.parametrize("seed", range(20))
def test_the_count_does_not_depend_on_scale_place_or_width(seed):
    rng = np.random.default_rng(seed)
    marks = random_marks(rng)
    first = read_marks(marks)
    scale, rise, width = rng.uniform(0.01, 50), rng.normal(0, 20), rng.normal(0, 5)
    other = read_marks({n: np.array([width * p[0] + 3, scale * p[1] + rise]) for n, p in marks.items()})
    assert other.heads_tall == pytest.approx(first.heads_tall, rel=1e-9)
    assert other.levels == pytest.approx(first.levels, rel=1e-9, abs=1e-9)
    assert other.height == pytest.approx(first.height * scale)


@pytest.mark.parametrize(("change", "words"), [
    ({"crown": None}, "Mark the crown on the drawing"),
    ({"crown": None, "chin": None, "sole": None}, "Mark the crown, the chin and the sole"),
    ({"chin": (0, 9.5)}, "chin is marked above the crown"),
    ({"chin": (0, 9.0)}, "chin is marked at the height of the crown"),
    ({"sole": (0, 4.0)}, "sole is marked above the chin"),
    ({"crotch": (0, -0.1)}, "crotch is marked below the sole"),
    ({"eye_line": (0, 9.1)}, "eye line is marked above the crown"),
    ({"knee": (0, math.nan)}, "knee is marked nowhere"),
])
def test_marks_that_make_no_figure_are_refused(change, words):
    marks = {name: place for name, place in {**MARKS, **change}.items() if place is not None}
    with pytest.raises(DrawingError, match=words):
        read_marks(marks)
    with pytest.raises(DrawingError, match=words):
        fit_drawing(marks, MARKS)


@pytest.mark.parametrize(("way", "head", "sole"), [("height", 0.6, 0.0), ("head", 0.45, 0.225)])
def test_the_rows_stand_beside_the_model(way, head, sole):
    """Matched by the head, crown and chin lie on the model's, and the drawing's sole half a head over it."""
    found = measured(0.9, 0.45, {"crotch": 0.3, "navel": 0.4})
    rows = beside_model(found, read_marks(MARKS), way)
    names = ["crown", "chin", "crotch", *(["sole"] if sole else [])]
    assert [row.name for row in rows] == names, "the navel was not marked"
    by_name = {row.name: row for row in rows}
    # by hand: the drawing is 1.5 heads tall and its crotch a quarter of a head above the sole
    assert (by_name["crown"].heads_here, by_name["crown"].heads_there) == pytest.approx((2, 1.5))
    assert (by_name["chin"].heads_here, by_name["chin"].heads_there) == pytest.approx((1, 0.5))
    crotch = by_name["crotch"]
    assert (crotch.heads_here, crotch.heads_there) == pytest.approx((2 / 3, 0.25))
    assert crotch.difference == pytest.approx(2 / 3 - 0.25)
    assert [row.height_here for row in rows] == pytest.approx([0.9, 0.45, 0.3, 0.0][: len(rows)])
    heights = [1.5 * head + sole, 0.5 * head + sole, 0.25 * head + sole, sole]
    assert [row.height_there for row in rows] == pytest.approx(heights[: len(rows)])


def test_matched_by_all_marks_the_rows_have_the_size_of_the_fit():
    found = measured(0.9, 0.45, {"crotch": 0.3})
    fit = fit_drawing(MARKS, {name: np.array([0.0, mark.height]) for name, mark in found.landmarks.items()}, "all")
    drawn = read_marks(MARKS)
    rows = beside_model(found, drawn, "all")
    assert len(rows) == 4
    for row in rows:
        assert row.height_there == pytest.approx(row.height_here + fit.residuals[row.name])


def test_without_a_count_nothing_stands_beside_the_drawing():
    with pytest.raises(DrawingError, match=r"without a count\. No head"):
        beside_model(replace(measured(0.9, 0.45), heads_tall=None, refusal="No head."), read_marks(MARKS))


@pytest.mark.parametrize("seed", range(30))
@pytest.mark.parametrize("way", ["height", "head", "all"])
def test_a_similar_drawing_is_matched_exactly(seed, way):
    rng = np.random.default_rng(seed)
    model = random_marks(rng)
    model["crown"][0] = model["sole"][0] + rng.uniform(-0.1, 0.1)
    scale, turn, move = rng.uniform(0.02, 30), rng.uniform(-0.2, 0.2), rng.normal(0, 9, 2)
    level = similar(model, scale, 0.0, move)
    fit = fit_drawing(level, model, way)
    for name, place in level.items():
        assert fit.apply(place)[0] == pytest.approx(model[name], abs=1e-9)
    assert (fit.scale, fit.turn) == (pytest.approx(1 / scale, rel=1e-9), 0.0)
    assert max(map(abs, fit.residuals.values())) < 1e-9
    upright = {**model, "crown": np.array([model["sole"][0], model["crown"][1]])}
    crooked = fit_drawing(similar(upright, scale, turn, move), upright, way, straighten=True)
    assert crooked.turn == pytest.approx(-turn, abs=1e-9)
    for name, place in similar(upright, scale, turn, move).items():
        assert crooked.apply(place)[0] == pytest.approx(upright[name], abs=1e-9)


def test_a_fit_by_height_leaves_the_difference_of_proportion():
    model = arrays({"crown": (0, 1.8), "chin": (0, 0.8), "sole": (0, 0.0)})
    fit = fit_drawing(MARKS, model)
    assert fit.scale == pytest.approx(0.2)
    # the drawing's chin, a third up, comes to 0.6 where the model's is at 0.8
    assert fit.residuals == pytest.approx({"crown": 0, "chin": -0.2, "sole": 0}, abs=1e-12)
    head = fit_drawing(MARKS, model, "head")
    assert head.scale == pytest.approx(1 / 6)
    assert head.residuals == pytest.approx({"crown": 0, "chin": 0, "sole": 0.3}, abs=1e-12)


@pytest.mark.parametrize("seed", range(10))
def test_a_fit_over_all_marks_has_the_least_squares(seed):
    rng = np.random.default_rng(seed)
    marks, model = random_marks(rng), random_marks(rng)
    fit = fit_drawing(marks, model, "all")
    names = list(marks)
    slope, offset = np.polyfit([marks[n][1] for n in names], [model[n][1] for n in names], 1)
    assert (fit.scale, fit.move[1]) == pytest.approx((slope, offset))
    assert sum(value**2 for value in fit.residuals.values()) <= sum(
        value**2 for value in fit_drawing(marks, model, "height").residuals.values()
    )


def test_sideways_goes_by_crown_and_chin_or_stays():
    model = arrays({"crown": (5.0, 1.8), "chin": (5.2, 0.8), "sole": (4.0, 0.0)})
    fit = fit_drawing(MARKS, model)
    ends = fit.apply(np.array([MARKS["crown"], MARKS["chin"]]))
    assert ends[:, 0].mean() == pytest.approx(5.1)
    still = fit_drawing(MARKS, model, sideways=False)
    places = np.array(list(MARKS.values()))
    assert still.apply(places)[:, 0].mean() == pytest.approx(places[:, 0].mean())
    assert still.apply(places)[:, 1] == pytest.approx(fit.apply(places)[:, 1])


def test_what_cannot_be_fitted_is_refused():
    model = arrays(MARKS)
    with pytest.raises(DrawingError, match="model lacks the sole"):
        fit_drawing(MARKS, {n: p for n, p in model.items() if n != "sole"})
    with pytest.raises(DrawingError, match="upside down"):
        fit_drawing(MARKS, {name: -place for name, place in model.items()})
    leaning = {**MARKS, "crown": (9.0, 9.0)}
    with pytest.raises(DrawingError, match="51° out of plumb"):
        fit_drawing(leaning, model, straighten=True)
    assert fit_drawing(leaning, model).turn == 0.0


def test_the_plane_of_an_upright_picture():
    plane = plane_of(UPRIGHT)
    assert plane.normal == pytest.approx([0, -1, 0])
    assert plane.up == pytest.approx([0, 0, 1])
    assert plane.side == pytest.approx([1, 0, 0])
    assert (plane.rise, plane.lies) == (pytest.approx(1.0), False)
    assert plane.places(np.array([[3.0, -7, 4]]))[0] == pytest.approx([3, 4])
    flat = plane_of(np.eye(4))
    assert flat.lies and flat.up == pytest.approx([0, 1, 0]) and flat.side == pytest.approx([1, 0, 0])
    with pytest.raises(DrawingError, match="lies down"):
        model_places(measured(0.9, 0.6), flat)
    with pytest.raises(DrawingError, match="no extent"):
        plane_of(np.diag([0.0, 1, 1, 1]))
    with pytest.raises(DrawingError, match="no count"):
        model_places(replace(measured(0.9, 0.6), heads_tall=None), plane)


def rotation(rng):
    turned, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    return turned * np.sign(np.linalg.det(turned))


@pytest.mark.parametrize("seed", range(20))
def test_in_the_world_the_marks_come_to_the_models_levels(seed):
    """Leaning and turned pictures, any up direction, far from the origin."""
    rng = np.random.default_rng(seed)
    whole = rotation(rng)
    lean, spin = rng.uniform(-0.6, 0.6), rng.uniform(-0.3, 0.3)
    tilt = np.array([[1, 0, 0], [0, math.cos(lean), -math.sin(lean)], [0, math.sin(lean), math.cos(lean)]])
    roll = np.array([[math.cos(spin), -math.sin(spin), 0], [math.sin(spin), math.cos(spin), 0], [0, 0, 1]])
    to_world = np.eye(4)
    to_world[:3, :3] = whole @ tilt @ UPRIGHT[:3, :3] @ roll * rng.uniform(0.1, 5)
    to_world[:3, 3] = rng.normal(0, 10, 3)
    up = whole @ UP
    plane = plane_of(to_world, replace(measured(0.9, 0.6), up=up))
    own = rng.normal(size=(3, 2))
    own[:, 1] = np.sort(own[:, 1])[::-1] + np.array([2, 1, 0])
    world = np.c_[own, np.zeros(3), np.ones(3)] @ to_world.T
    marks = dict(zip(("crown", "chin", "sole"), plane.places(world[:, :3]), strict=True))
    if not marks["crown"][1] > marks["chin"][1] > marks["sole"][1]:
        pytest.fail("the seed makes no figure: choose narrower ones")
    points = {"crown": rng.normal(0, 1, 3) + up * 9, "chin": rng.normal(0, 1, 3) + up * 4, "sole": rng.normal(0, 1, 3)}
    found = replace(measured(0.9, 0.6, points=points), up=up)
    fit = fit_drawing(marks, model_places(found, plane), straighten=False)
    after = world @ fit.matrix(plane).T
    for name, row in (("crown", 0), ("sole", 2)):
        assert after[row, :3] @ up == pytest.approx(points[name] @ up, abs=1e-9)
    assert (after[1, :3] - points["chin"]) @ up == pytest.approx(fit.residuals["chin"] * plane.rise, abs=1e-9)
    assert (after[:, :3] - plane.point) @ plane.normal == pytest.approx(np.zeros(3), abs=1e-9)
    middle = (after[:2, :3] - [points["crown"], points["chin"]]).mean(axis=0)
    assert middle @ plane.side == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_the_world_matrix_does_what_the_fit_does(seed):
    rng = np.random.default_rng(seed)
    to_world = UPRIGHT.copy()
    to_world[:3, 3] = rng.normal(0, 5, 3)
    plane = plane_of(to_world)
    marks = {**MARKS, "sole": np.array([rng.uniform(-2, 2), 0.0])}
    fit = fit_drawing(marks, random_marks(rng), straighten=True)
    assert abs(fit.turn) > 1e-3
    own = rng.normal(0, 3, (5, 2))
    world = plane.point + own @ np.stack([plane.side, plane.up])
    after = np.c_[world, np.ones(5)] @ fit.matrix(plane).T
    assert plane.places(after[:, :3]) == pytest.approx(fit.apply(own))
    assert (after[:, :3] - plane.point) @ plane.normal == pytest.approx(np.zeros(5), abs=1e-12)


def test_a_new_picture_stands_upright_behind_the_figure():
    box = np.array([[x, y, z] for x in (1.0, 2.0) for y in (-0.4, 0.6) for z in (3.0, 5.0)])
    matrix, height = stand_behind(measured(0.9, 0.6), box)
    assert height == pytest.approx(2.0)
    assert matrix[:3, 3] == pytest.approx([1.5, 0.6 + 0.2, 3.0])
    assert matrix @ (1, 2, 3, 0) == pytest.approx([1, -3, 2, 0])
    facing = replace(measured(0.9, 0.6), forward=np.array([1.0, 0, 0]))
    turned, _ = stand_behind(facing, box)
    assert turned[:3, 3] == pytest.approx([1.0 - 0.2, 0.1, 3.0])
    assert turned[:3, 2] == pytest.approx([1, 0, 0]) and np.linalg.det(turned) == pytest.approx(1)
    alone, height = stand_behind(None, np.zeros((0, 3)))
    assert height == 1.0 and alone[:3, 3] == pytest.approx([0, 0, 0])
    assert plane_of(alone).normal == pytest.approx([0, -1, 0])
