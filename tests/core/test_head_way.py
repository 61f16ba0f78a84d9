"""A head turned aside by a pose is looked at the way it looks itself."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from evenfold.core.proportion import measure
from evenfold.core.proportion.directions.head_way import head_way
from evenfold.core.proportion.parts.body import gather
from evenfold.core.settings import Settings
from figures.altered import with_bones
from figures.clay.recipes import Recipe
from figures.clay.sculpt import sculpt
from figures.people import Person, keeper, moved

UP = np.array([0.0, 0.0, 1.0])
AHEAD = np.array([0.0, -1.0, 0.0])


SCULPTED = Recipe(2.6, "short", "jaw", "painted", arms="down", vertices=6000, seed=3)


@cache
def straight():
    return sculpt(SCULPTED)


def with_turned_head(degrees):
    """The head's points turned about the upright axis, and all else left; and the way it looks: invented."""
    figure = straight().figure
    head = gather(figure).head > 0.5
    cosine, sine = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turn = np.array([[cosine, -sine, 0], [sine, cosine, 0], [0, 0, 1.0]])
    (part,) = figure.parts
    part = replace(part, points=np.where(head[:, None], part.points @ turn.T, part.points))
    return replace(figure, parts=(part,)), turn @ AHEAD


@pytest.mark.parametrize("degrees", [-60, -30, 24, 45, 66])
def test_a_turned_head_tells_its_own_way(degrees):
    figure, way = with_turned_head(degrees)
    assert head_way(gather(figure), UP, AHEAD) @ way > np.cos(np.radians(3.1))


def test_a_straight_head_looks_where_the_figure_faces():
    figure, _ = with_turned_head(0)
    assert head_way(gather(figure), UP, AHEAD) is AHEAD


@pytest.mark.parametrize("turn", [0.2, 0.4453125, 1.3])
def test_a_head_of_many_planes_turned_with_its_body_is_straight(turn):
    """A ball of 24 sides mirrors about 24 planes; between the angles that are tried the body's is as good as any."""
    figure = moved(keeper(Person()), turn)
    forward = np.array([np.sin(turn), -np.cos(turn), 0.0])
    assert head_way(gather(figure), UP, forward) is forward


@pytest.mark.parametrize("degrees", [-60, 45])
def test_a_turned_head_is_counted_like_a_straight_one(degrees):
    figure, way = with_turned_head(degrees)
    turned = measure(figure, Settings())
    assert turned.heads_tall == pytest.approx(straight().heads, rel=0.01)
    chin, crown = (np.asarray(turned.landmarks[name].point) for name in ("chin", "crown"))
    ahead = (chin - crown) - UP * ((chin - crown) @ UP)
    assert ahead @ way > 0.9 * np.linalg.norm(ahead), "the chin is where the head looks"


def test_a_head_bone_that_lies_tells_nothing_of_what_is_below_it():
    """A lying bone that starts in the middle of the face once hid the chin under it."""
    figure = keeper(Person(height=1.8, head=0.4, neck=0.12))
    plain = measure(figure, Settings())
    lying = with_bones(figure, ("Head", "Neck", (0, 0.02, 1.66), (0, 0.6, 1.78)))
    assert measure(lying, Settings()).heads_tall == pytest.approx(plain.heads_tall, rel=0.005)
