"""Objects that hang on the head bone as a whole: a head by itself, or a whole figure that was hung there."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Weights
from evenfold.core.proportion import measure
from evenfold.core.proportion.parts.body import gather
from evenfold.core.settings import Settings
from figures.altered import with_bones
from figures.clay.recipes import Recipe
from figures.clay.sculpt import sculpt
from figures.people import Person, keeper

SIZES = [(1.8, 0.3, 0.1), (1.2, 0.4, 0.05), (0.9, 0.45, 0.0), (0.9, 0.6, 0.0)]


def hung(figure, *names):
    """The parts so called, or all, hang on the head bone and have no weights."""
    chosen = names or tuple(part.name for part in figure.parts)
    parts = (replace(part, weights=Weights.none(), bone_parent="Head") if part.name in chosen else part for part in figure.parts)
    return replace(figure, parts=tuple(parts))


@pytest.mark.parametrize(("height", "head", "neck"), SIZES)
@pytest.mark.parametrize("start", [-0.04, 0.25])
def test_a_whole_figure_hung_on_the_head_bone_is_no_head(height, head, neck, start):
    """``start``: where the head bone starts over the chin, in heads."""
    figure = keeper(Person(height=height, head=head, neck=neck))
    at = height - head + start * head
    figure = with_bones(hung(figure), ("Head", "Neck", (0, 0, at), (0, 0, height)))
    assert gather(figure).head.max() == 0.0
    found = measure(figure, Settings())
    assert found.heads_tall == pytest.approx(height / head, rel=0.01)
    assert found.low <= height / head <= found.high


@pytest.mark.parametrize(("heads", "neck", "face", "seed"), [(1.8, "neckless", "ball", 3), (1.8, "neckless", "ball", 4), (2.4, "short", "muzzle", 3), (6.0, "long", "jaw", 4)])
def test_a_sculpted_figure_hung_on_the_head_bone_keeps_its_count(heads, neck, face, seed):
    built = sculpt(Recipe(heads, neck, face, "unweighted", seed=seed, vertices=5000))
    found = measure(hung(built.figure), Settings())
    assert found.heads_tall == pytest.approx(built.heads, rel=0.02)
    assert found.low <= built.heads <= found.high


@pytest.mark.parametrize(("height", "head", "neck"), SIZES)
def test_a_head_by_itself_that_hangs_there_is_all_head(height, head, neck):
    figure = hung(keeper(Person(height=height, head=head, neck=0.0, build="separate")), "Head")
    body, (own,) = gather(figure), [part for part in figure.parts if part.name == "Head"]
    assert (body.head > 0.5).sum() == len(own.points)
    found = measure(figure, Settings())
    assert found.heads_tall == pytest.approx(height / head, rel=0.01)
    assert found.landmarks["crown"].how == "weights"


@pytest.mark.parametrize("ends", [0.15, 0.08, 0.0])
@pytest.mark.parametrize(("height", "head"), [(1.2, 0.4), (0.9, 0.45), (0.9, 0.6)])
def test_a_head_with_long_locks_that_hangs_there_is_no_whole_figure(height, head, ends):
    """``ends``: how high over the ground two locks of the head's own object end, in heights of the figure.

    The object is not called a head, so that only the bone it hangs on tells.
    """
    figure = hung(keeper(Person(height=height, head=head, neck=0.0, build="separate")), "Head")
    (own,) = [with_locks(replace(part, name="Ball.007"), head, height, ends * height) for part in figure.parts if part.name == "Head"]
    figure = replace(figure, parts=(own, *(part for part in figure.parts if part.name != "Head")))
    assert (gather(figure).head > 0.5).sum() == len(own.points)
    assert measure(figure, Settings()).heads_tall == pytest.approx(height / head, rel=0.01)


def with_locks(part, head, height, low):
    """The part with a strip on each side that hangs beside the body from the middle of the head to ``low``."""
    levels = np.linspace(height - head / 2, low, 6)
    strips = [np.column_stack([np.full(6, side * (0.55 * head + wide)), np.full(6, 0.02), levels]) for side in (-1, 1) for wide in (0.0, 0.03)]
    row = np.arange(5)
    faces = np.concatenate([[row, row + 1, row + 6], [row + 1, row + 7, row + 6]], axis=1).T
    start = len(part.points)
    more = np.concatenate([faces + start, faces + start + 12])
    return replace(part, points=np.concatenate([part.points, *strips]), triangles=np.concatenate([part.triangles, more]))


def test_weights_count_more_than_what_the_object_hangs_on():
    figure = keeper(Person(height=1.8, head=0.3, neck=0.1))
    held = replace(figure, parts=tuple(replace(part, bone_parent="Head") for part in figure.parts))
    assert (gather(held).head == gather(figure).head).all()
    assert measure(held, Settings()).heads_tall == measure(figure, Settings()).heads_tall


@pytest.mark.parametrize("bad", [np.nan, np.inf, 1e20])
def test_points_without_a_place_do_not_hide_that_it_is_a_whole_figure(bad):
    figure = hung(keeper(Person(height=1.8, head=0.3, neck=0.1)))
    points = figure.parts[0].points.copy()
    points[::97, 2] = bad
    found = measure(replace(figure, parts=(replace(figure.parts[0], points=points),)), Settings())
    assert found.heads_tall == pytest.approx(6.0, rel=0.01)
