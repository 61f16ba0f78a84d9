"""Figures of the workshop: their truth lies on the meshes that are read, and their heads are counted."""

from dataclasses import replace

import bpy
import numpy as np
import pytest
from evenfold.host.read import find_figures, read_figure
from figures.workshop.build import build
from figures.workshop.evaluate import outcome
from figures.workshop.recipe import NEGATIVES, Recipe, draw
from figures.workshop.shapes import box, ellipsoid, vector
from figures.workshop.truth import SHOWN, Truth, find_truth, hidden_chin, lost, swallowed
from mathutils import Vector
from mathutils.bvhtree import BVHTree

SEEDS = (2, 11, 14, 16, 19, 101)


def read():
    scene = bpy.context.scene
    scene.view_layers[0].update()
    return [read_figure(one, scene) for one in find_figures(scene)]


def nearest(figures, place):
    """How far the triangles of all parts lie from a place in the world."""
    found = []
    for part in (part for figure in figures for part in figure.parts):
        tree = BVHTree.FromPolygons([tuple(p) for p in part.points], part.triangles.tolist())
        found.append(tree.find_nearest(Vector(place))[3])
    return min(found)


@pytest.mark.parametrize("seed", SEEDS)
def test_truth_and_mesh_belong_together_and_the_heads_are_counted(seed):
    made = build(draw(seed))
    assert made.truth is not None and not made.spoilt
    figures = read()
    for name in ("crown", "chin", "sole"):
        assert nearest(figures, getattr(made.truth, name)) <= 1.5 * SHOWN * made.truth.head, name
    assert made.truth.heads == pytest.approx(made.recipe.heads, rel=0.15)
    one = outcome(made)
    assert one.off is not None, one.found.refusal
    assert abs(one.off) <= 0.03 or one.inside, (one.off, one.errors)


def test_where_and_how_it_stands_does_not_change_the_truth():
    """The same figure lying in its data, in centimetres, far away: as many heads."""
    plain = replace(draw(SEEDS[0]), placing="applied", unit="m", facing=0.0)
    told = {}
    for placing, unit, facing in (("applied", "m", 0.0), ("lying", "cm", 2.0), ("empties", "scaled", -1.0)):
        made = build(replace(plain, placing=placing, unit=unit, facing=facing))
        assert made.truth is not None and not made.spoilt
        told[placing] = made.truth.heads
    assert told["lying"] == pytest.approx(told["applied"]) == told["empties"]


@pytest.mark.parametrize("kind", ["head", "chair", "pair"])
def test_what_has_no_heads_to_count_is_refused_or_gets_a_wide_range(kind):
    made = build(Recipe(3, kind))
    one = outcome(made)
    assert made.truth is None
    assert one.found.heads_tall is None or one.width > 0.1


def truth_of(skull, foot):
    found = find_truth(skull, [foot], None)
    assert isinstance(found, Truth)
    return found


def test_a_skull_gives_its_extremes_and_a_neck_in_front_hides_the_chin():
    skull, foot = ellipsoid("head", (0, 0, 2.5), (0.4, 0.4, 0.5), 32), box("foot.L", (0.1, 0, 0.05), (0.1, 0.2, 0.05))
    truth = truth_of(skull, foot)
    assert truth.heads == pytest.approx(3.0)
    assert not hidden_chin(truth, [box("neck", (0, 0.6, 1.8), (0.1, 0.1, 0.5))])
    assert hidden_chin(truth, [box("neck", (0, 0.0, 1.8), (0.3, 0.6, 0.5))])
    fallen = replace(skull, points=skull.points @ np.array([[1, 0, 0], [0, 0.8, -0.6], [0, 0.6, 0.8]]).T)
    assert isinstance(find_truth(fallen, [foot], None), str)


def test_a_landmark_that_melted_away_and_a_piece_that_was_lost_are_noticed():
    made = build(draw(SEEDS[0]))
    assert made.truth is not None
    meshes = [item for item in bpy.context.scene.objects if item.type == "MESH"]
    assert lost(made.truth, meshes) == ""
    away = replace(made.truth, crown=made.truth.crown + 0.02 * made.truth.head * made.truth.up)
    assert lost(away, meshes) == "crown"
    ball = ellipsoid("ball", (0, 0, 0), (1, 1, 1))
    assert not swallowed([ball], ball)
    assert swallowed([ball, ball.moved(vector(0, 0, 5))], ball)


def test_recipes_are_the_same_each_time_and_keep_to_their_shares():
    recipes = [draw(seed) for seed in range(1000)]
    assert recipes == [draw(seed) for seed in range(1000)]
    figures = [one for one in recipes if one.kind == "figure"]
    assert {one.kind for one in recipes} == {"figure", *NEGATIVES}
    assert 0 < sum(one.hair_made == "fused" for one in figures) <= 0.1 * len(figures)
    assert sum(1.5 <= one.heads <= 3.5 for one in figures) > 0.6 * len(figures)
