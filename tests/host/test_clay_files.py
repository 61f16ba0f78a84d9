"""Sculpted figures keep their count of heads through real files, standing anywhere and any way up."""

from dataclasses import replace

import bpy
import pytest
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings
from evenfold.host.files import open_input
from evenfold.host.read import find_figures, read_figure
from figures.clay.recipes import Recipe
from figures.clay.sculpt import sculpt
from figures.clay.to_host import put, save

PLACED = {"place": (12.0, -7.5, 3.0), "turn": 0.8, "scale": 0.6, "vertices": 4000}
APPRENTICE = Recipe(2.4, "short", "jaw", "painted", "dotted", "a", "object", seed=11, **PLACED)
COOK = Recipe(1.8, "neckless", "ball", "none", arms="down", hair="object", seed=12, **PLACED)
WAYS = [
    (".blend", {}), (".glb", {}), (".fbx", {}), (".fbx", {"axis_up": "Z", "axis_forward": "Y"}),
    (".fbx", {"axis_up": "X", "axis_forward": "-Y"}), (".fbx", {"global_scale": 100.0}),
]


@pytest.fixture(scope="module")
def clay():
    return {"apprentice": sculpt(APPRENTICE), "cook": sculpt(COOK)}


def told(figure):
    return measure(figure, Settings())


def read(path, **more):
    open_input(path)
    bpy.context.scene.view_layers[0].update()
    (source,) = find_figures(bpy.context.scene)
    return replace(read_figure(source, bpy.context.scene), **more)


def assert_same(found, wanted):
    assert wanted.heads_tall is not None, wanted.refusal
    assert found.heads_tall == pytest.approx(wanted.heads_tall, rel=0.005), found.refusal
    assert found.low == pytest.approx(wanted.low, rel=0.01)
    assert found.high == pytest.approx(wanted.high, rel=0.01)


@pytest.mark.parametrize("who", ["apprentice", "cook"])
@pytest.mark.parametrize(("suffix", "more"), WAYS)
def test_a_file_tells_the_same_heads_as_the_figure_itself(clay, tmp_path, who, suffix, more):
    made = clay[who]
    assert not made.off
    put(made.figure)
    file = tmp_path / f"{who}{suffix}"
    save(file, **more)
    found = read(file)
    assert len(found.parts) == len(made.figure.parts)
    assert (found.armature is None) == (made.figure.armature is None)
    assert_same(told(found), told(made.figure))


@pytest.mark.parametrize("recipe", [APPRENTICE, COOK])
def test_a_figure_that_stands_along_y_tells_the_same(tmp_path, recipe):
    made = sculpt(replace(recipe, up="y"))
    put(made.figure)
    file = tmp_path / "lying.blend"
    save(file)
    assert_same(told(read(file, up=(0.0, 1.0, 0.0))), told(sculpt(recipe).figure))


def test_the_truth_stands_on_the_meshes_that_come_back(clay, tmp_path):
    """The sole of the read figure is the sculpted one, where it was put."""
    made = clay["apprentice"]
    put(made.figure)
    file = tmp_path / "placed.glb"
    save(file)
    body = next(part for part in read(file).parts if part.name == "Body")
    head = (made.crown - made.chin)[2]
    assert body.points[:, 2].min() == pytest.approx(made.sole[2], abs=0.01 * head)
    assert made.crown[2] == pytest.approx(body.points[:, 2].max(), abs=0.01 * head)
