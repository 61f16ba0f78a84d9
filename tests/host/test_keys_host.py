"""Keys and weights on real meshes: what the host's own tools leave behind. The figure is invented."""

import bpy
import numpy as np
import pytest
from evenfold.core.findings import MirrorPlane
from evenfold.core.settings import Settings
from evenfold.core.symmetry import Limits, check_surfaces, shape_keys, weights
from evenfold.core.symmetry.matched import Matched
from evenfold.host.nearest import KDFinder
from evenfold.host.read.layers import read_layers
from evenfold.host.read.mesh import read_surface
from figures.layered import layered
from host.layered_mesh import add_layered
from host.scenes import empty_scene, enter
from mathutils import Matrix

PLANE = MirrorPlane(np.zeros(3), np.array([1.0, 0.0, 0.0]), "object")
LIMITS = Limits(1e-4, 1.0, PLANE, Settings())


def read(item):
    return read_surface(item, Matrix.Identity(4), Matrix.Identity(4), read_layers(item, None))


def found(item):
    (one,) = check_surfaces((read(item),), PLANE, LIMITS.tolerance, 1.0, KDFinder)
    return [*weights.check(one.matched, LIMITS), *shape_keys.check(one.matched, LIMITS)]


def told(item):
    return {(one.code, one.subject) for one in found(item)}


@pytest.fixture
def body():
    empty_scene()
    return add_layered(layered(0))


def points_of(item, name):
    points = np.zeros(len(item.data.vertices) * 3, np.float32)
    item.data.shape_keys.key_blocks[name].points.foreach_get("co", points)
    return points.reshape(-1, 3)


def put(item, name, points):
    item.data.shape_keys.key_blocks[name].points.foreach_set("co", points.ravel())


def test_a_clean_mesh_says_nothing_whatever_is_live(body):
    assert told(body) == set()
    body.data.shape_keys.key_blocks["Smile.L"].value = 0.7
    body.active_shape_key_index = 2
    assert told(body) == set()


def test_the_hosts_symmetrize_is_recognised(body):
    """It leaves left keys on both halves, right ones empty, and groups the same (measured)."""
    enter(body)
    bpy.ops.mesh.select_all(action="SELECT")
    body.active_shape_key_index = 0
    bpy.ops.mesh.symmetrize(direction="POSITIVE_X")
    bpy.ops.object.mode_set(mode="OBJECT")
    hit = {(one.code, one.subject): one for one in found(body)}
    assert set(hit) == {
        ("weight-drifted", "Arm.L / Arm.R"), ("key-spill", "Smile.L"), ("key-spill", "Blink.L"),
        ("key-pair-drifted", "Smile.L / Smile.R"), ("key-pair-drifted", "Blink.L / Blink.R"),
    }
    assert "Symmetrize" in hit["weight-drifted", "Arm.L / Arm.R"].advice
    assert "Smile.R moves nothing" in hit["key-pair-drifted", "Smile.L / Smile.R"].advice


def test_exchanged_deleted_and_edited_keys_come_back(body):
    left, right = points_of(body, "Smile.L"), points_of(body, "Smile.R")
    put(body, "Smile.L", right)
    put(body, "Smile.R", left)
    body.shape_key_remove(body.data.shape_keys.key_blocks["Blink.R"])
    assert told(body) == {("key-swapped", "Smile.L / Smile.R"), ("key-unpaired", "Blink.L")}
    put(body, "Smile.L", left)
    put(body, "Smile.R", right)
    neutral = points_of(body, "Basis")
    chin = np.linalg.norm(neutral - [0, 0, 0.05], axis=1) < 0.2
    neutral[chin, 2] -= 0.008
    put(body, "Basis", neutral)
    hit = {(one.code, one.subject): one for one in found(body)}
    assert set(hit) == {("key-stale", None), ("key-unpaired", "Blink.L")}
    assert set(hit["key-stale", None].elements) == set(np.flatnonzero(chin))
    assert "4 of 4 keys" in hit["key-stale", None].advice


@pytest.mark.parametrize(("off", "splits"), [(0.0006, True), (0.0004, False)])
def test_under_a_mirror_modifier_the_host_splits_what_is_told(off, splits):
    """Half the body with the modifier's default merge limit, 0.001; its own count of vertices decides."""
    empty_scene()
    item = add_layered(layered(0))
    enter(item)
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.mesh.bisect(plane_co=(0, 0, 0), plane_no=(1, 0, 0), clear_inner=True, threshold=1e-6)
    bpy.ops.object.mode_set(mode="OBJECT")
    item.modifiers.new("Mirror", "MIRROR")
    points = points_of(item, "Jaw")
    middle = np.flatnonzero(np.abs(points_of(item, "Basis")[:, 0]) < 1e-6)
    points[middle, 0] = 0.0
    hurt = int(middle[len(middle) // 2])
    points[hurt, 0] = off
    for key in ("Smile.L", "Smile.R", "Blink.L", "Blink.R"):
        item.shape_key_remove(item.data.shape_keys.key_blocks[key])
    put(item, "Jaw", points)
    counts = []
    for value in (0.0, 1.0):
        item.data.shape_keys.key_blocks["Jaw"].value = value
        bpy.context.view_layer.update()
        counts.append(len(item.evaluated_get(bpy.context.evaluated_depsgraph_get()).data.vertices))
    assert (counts[0] != counts[1]) is splits
    surface = read(item)
    own = np.full(len(points), -1)
    own[middle] = middle
    still = np.zeros(len(points), bool)
    hit = list(shape_keys.check(Matched(surface, surface, surface.world, own, still), LIMITS))
    assert [(one.code, one.subject, one.elements.tolist()) for one in hit] == [("key-off-centre", "Jaw", [hurt])] * splits
