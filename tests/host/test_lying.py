"""A figure that lies in the scene counts the same as it does standing, and the artist is told."""

from dataclasses import replace

import bpy
import pytest
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings
from evenfold.host.read import find_figures, read_figure
from figures.clay.recipes import Recipe
from figures.clay.sculpt import sculpt
from figures.clay.to_host import put
from mathutils import Euler, Vector

COOK = Recipe(3.0, "short", "jaw", "painted", "plain", "a", "object", seed=11, vertices=3000)
NOTE = "The rig Rig lies in the scene, so its own way from hips to head is taken for up."
QUARTER = 1.5707963267948966


def read():
    bpy.context.view_layer.update()
    (source,) = find_figures(bpy.context.scene)
    return read_figure(source, bpy.context.scene)


def laid(turn):
    """The cook with the armature object turned, and the meshes with it."""
    built = sculpt(COOK)
    assert not built.off
    items, rig = put(built.figure)
    assert all(item.parent == rig for item in items)
    rig.rotation_mode = "XYZ"
    rig.rotation_euler = turn
    return built


@pytest.fixture(scope="module")
def standing():
    built = laid((0, 0, 0))
    figure = read()
    assert figure.up == (0.0, 0.0, 1.0)
    assert not [note for note in figure.notes if "lies" in note]
    found = measure(figure, Settings())
    assert found.heads_tall == pytest.approx(built.heads, rel=0.01)
    return found


@pytest.mark.parametrize("turn", [
    (QUARTER, 0, 0), (-QUARTER, 0, 0), (0, QUARTER, 0), (0, -QUARTER, 0), (2 * QUARTER, 0, 0), (QUARTER, 0, QUARTER),
], ids=["-Y", "+Y", "+X", "-X", "-Z", "turned"])
def test_the_count_is_the_same_lying_and_standing_and_it_is_said(standing, turn):
    laid(turn)
    figure = read()
    up = Euler(turn).to_matrix() @ Vector((0, 0, 1))
    assert Vector(figure.up).angle(up) < 1e-6
    assert NOTE in figure.notes
    found = measure(figure, Settings())
    assert found.heads_tall == pytest.approx(standing.heads_tall, rel=0.005), found.refusal
    assert (found.low, found.high) == pytest.approx((standing.low, standing.high), rel=0.01)


@pytest.mark.parametrize("turn", [(QUARTER, 0, 0.7), (1.1, 0, 0.4)])
def test_a_slanted_figure_is_counted_along_its_own_spine(standing, turn):
    """The head's joint lies behind the hips, so up is a few degrees off: the range holds the count."""
    laid(turn)
    figure = read()
    assert Vector(figure.up).angle(Euler(turn).to_matrix() @ Vector((0, 0, 1))) < 0.12
    assert NOTE in figure.notes
    found = measure(figure, Settings())
    assert found.heads_tall == pytest.approx(standing.heads_tall, rel=0.03)
    assert found.low <= standing.heads_tall <= found.high


@pytest.mark.parametrize("turn", [(0.3, 0, 0), (0, 0, 2.0)])
def test_a_figure_that_leans_or_is_turned_stands(turn):
    laid(turn)
    figure = read()
    assert figure.up == (0.0, 0.0, 1.0)
    assert NOTE not in figure.notes


def laid_without_rig(turn):
    """The cook's meshes alone, turned about the scene's origin as a file along another axis comes in."""
    built = sculpt(replace(COOK, rig="none"))
    items, rig = put(built.figure)
    assert rig is None
    for item in items:
        if item.parent is None:
            item.matrix_world = Euler(turn).to_matrix().to_4x4() @ item.matrix_world
    return built


@pytest.mark.parametrize(("turn", "axis"), [
    ((QUARTER, 0, 0), "-Y"), ((-QUARTER, 0, 0), "+Y"), ((0, QUARTER, 0), "+X"), ((0, -QUARTER, 0), "-X"),
])
def test_without_a_rig_the_shape_tells_which_way_is_up_and_it_is_said(turn, axis):
    built = laid_without_rig(turn)
    figure = read()
    assert Vector(figure.up).angle(Euler(turn).to_matrix() @ Vector((0, 0, 1))) < 1e-6
    assert f"The figure lies in the scene, so {axis} is taken for up, from its soles to the other end." in figure.notes
    found = measure(figure, Settings())
    assert found.heads_tall == pytest.approx(built.heads, rel=0.03), found.refusal
    assert found.low <= built.heads <= found.high


def test_without_a_rig_a_standing_figure_stands():
    built = laid_without_rig((0, 0, 0))
    figure = read()
    assert figure.up == (0.0, 0.0, 1.0)
    assert not [note for note in figure.notes if "lies" in note]
    assert measure(figure, Settings()).heads_tall == pytest.approx(built.heads, rel=0.03)
