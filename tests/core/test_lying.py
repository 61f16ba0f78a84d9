"""A figure without a rig that lies in the scene tells by its shape which way is up. All figures are invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.proportion import measure
from evenfold.core.proportion.directions.lying import _End, as_one, guess_up_by_shape, lies
from evenfold.core.settings import Settings
from figures.altered import carried
from figures.people import Person, _ball, _loft, keeper

PEOPLE = {
    "adult": Person(height=1.8, head=0.24, neck=0.1, rigged=False),
    "child": Person(height=1.1, head=0.25, neck=0.05, rigged=False, build="separate"),
    "chibi": Person(height=0.9, head=0.45, rigged=False),
    "ears": Person(height=0.9, head=0.4, rigged=False, ears="own", build="separate"),
}
LEVEL = [(1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0)]
UNCLEAR = "This figure seems to lie in the scene, and its shape does not tell which end is up; turn it upright, or pin crown, chin and sole."


def laid(figure, up):
    """The figure turned so that its Z points along ``up`` and it faces the scene's Z, or -Z."""
    up = np.array(up, float)
    matrix = np.column_stack([np.cross(up, [0.0, 0.0, 1.0]), [0.0, 0.0, 1.0], up])
    matrix[:, 0] *= np.linalg.det(matrix)
    return replace(figure, parts=tuple(replace(part, points=part.points @ matrix.T) for part in figure.parts))


@pytest.mark.parametrize("up", LEVEL)
@pytest.mark.parametrize("name", PEOPLE)
def test_soles_tell_the_lower_end(name, up):
    figure = laid(keeper(PEOPLE[name]), up)
    assert lies(*as_one(figure.parts))
    assert guess_up_by_shape(*as_one(figure.parts)) == up


@pytest.mark.parametrize("up", LEVEL)
def test_round_shoes_tell_the_lower_end(up):
    """Their soles are less flat than others."""
    figure = keeper(PEOPLE["adult"])
    shoes = [carried(f"Shoe {hand}", _ball((hand * 0.08, -0.03, 0.1), (0.075, 0.13, 0.12)), None) for hand in (1, -1)]
    figure = laid(replace(figure, parts=(*figure.parts, *shoes)), up)
    assert guess_up_by_shape(*as_one(figure.parts)) == up


@pytest.mark.parametrize(("here", "there", "told"), [
    (("two", 0.27), ("none", 0.26), True), (("two", 0.1), ("none", 0.02), False), (("two", 0.19), ("none", 1.0), False),
    (("two", 0.5), ("two", 0.2), True), (("two", 0.3), ("two", 0.1), False), (("two", 0.9), ("four", 0.0), False),
    (("none", 1.0), ("none", 0.0), False),
])
def test_an_end_is_the_lower_one_by_its_legs_and_how_flat_it_is(here, there, told):
    assert _End((0, 0, 1), *here).is_foot_of(_End((0, 0, -1), *there)) is told


@pytest.mark.parametrize("name", PEOPLE)
def test_what_stands_does_not_lie(name):
    points, triangles = as_one(keeper(PEOPLE[name]).parts)
    assert not lies(points, triangles)
    assert guess_up_by_shape(points, triangles) is None


@pytest.mark.parametrize("up", LEVEL)
def test_the_count_is_the_same_as_standing(up):
    person = PEOPLE["adult"]
    figure = laid(keeper(person), up)
    found = measure(replace(figure, up=up), Settings())
    assert found.heads_tall == pytest.approx(person.height / person.head, rel=0.01)


def test_wide_arms_do_not_make_a_figure_lie():
    """Twice as wide as high, arms all along one axis, as a small figure in a T-pose may be."""
    figure = keeper(PEOPLE["chibi"])
    arms = [_loft([(-0.9, 0.03, 0.03, 0.0), (0.9, 0.03, 0.03, 0.0)])]
    points, triangles = arms[0]
    across = carried("Arms", (points[:, [2, 1, 0]] + [0, 0, 0.4], triangles), None)
    figure = replace(figure, parts=(*figure.parts, across))
    assert guess_up_by_shape(*as_one(figure.parts)) is None
    assert measure(figure, Settings()).refusal != UNCLEAR


def test_four_legs_lie_nowhere():
    body = _ball((0, 0, 0.5), (0.2, 0.6, 0.2))
    head = _ball((0, -0.75, 0.75), (0.15, 0.2, 0.15))
    legs = [_loft([(0.0, 0.07, 0.07, y), (0.5, 0.07, 0.07, y)]) for y in (-0.4, 0.4)]
    parts = [carried("Body", body, None), carried("Head", head, None)]
    parts += [carried(f"Leg {x} {number}", (leg[0] + [x, 0, 0], leg[1]), None) for x in (-0.12, 0.12) for number, leg in enumerate(legs)]
    assert guess_up_by_shape(*as_one(tuple(parts))) is None


@pytest.mark.parametrize("up", LEVEL)
def test_where_no_soles_are_seen_no_count_is_made_up(up):
    """One cone from head to floor, as a long dress is: either end may be up."""
    ball = _ball((0, 0, 1.3), (0.2, 0.2, 0.2))
    dress = _loft([(0.0, 0.05, 0.05, 0.0), (0.5, 0.3, 0.22, 0.0), (1.15, 0.12, 0.1, 0.0)])
    figure = keeper(PEOPLE["adult"])
    figure = laid(replace(figure, parts=(carried("Ball", ball, None), carried("Dress", dress, None))), up)
    assert guess_up_by_shape(*as_one(figure.parts)) is None
    found = measure(figure, Settings())
    assert found.heads_tall is None
    assert found.refusal == UNCLEAR


@pytest.mark.parametrize("points", [np.zeros((0, 3)), np.zeros((5, 3)), np.full((5, 3), np.nan)])
def test_nothing_lies_nowhere(points):
    assert not lies(points, np.zeros((0, 3), np.int64))
    assert guess_up_by_shape(points, np.zeros((0, 3), np.int64)) is None


@pytest.mark.parametrize("turn", [-35, 15, 45, 75, 130, 200])
@pytest.mark.parametrize("name", ["adult", "child"])
def test_a_figure_that_lies_aslant_lies_along_its_own_way(name, turn):
    angle = np.radians(turn)
    up = np.array([np.cos(angle), np.sin(angle), 0.0])
    figure = laid(keeper(PEOPLE[name]), up)
    assert np.array(guess_up_by_shape(*as_one(figure.parts))) == pytest.approx(up, abs=0.01)


def test_what_lies_aslant_does_not_stand():
    figure = laid(keeper(PEOPLE["adult"]), np.array([np.cos(0.6), np.sin(0.6), 0.0]))
    assert measure(figure, Settings()).refusal == UNCLEAR
