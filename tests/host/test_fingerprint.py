"""What makes a result out of date: every layer that is checked, and nothing that is not."""

import bpy
import pytest
from evenfold.host.fingerprint import fingerprint, same
from host.scenes import add_box, add_rig, deform, empty_scene, enter


@pytest.fixture
def figure():
    empty_scene()
    rig, item = add_rig("Keeper"), add_box("Coat")
    deform(item, rig)
    item.data.uv_layers.new(name="UVMap")
    for name in ("Coat", "Lining"):
        item.data.materials.append(bpy.data.materials.new(name))
    item.data.attributes.new("outline", "FLOAT", "POINT")
    item.data.color_attributes.new("tint", "FLOAT_COLOR", "CORNER")
    item.shape_key_add(name="Basis")
    item.shape_key_add(name="smile")
    item.shape_key_add(name="frown")
    return rig, item


CHANGES = {
    "place": lambda item: setattr(item.data.shape_keys.reference_key.points[0].co, "x", 9.0),
    "key": lambda item: setattr(item.data.shape_keys.key_blocks["smile"].points[0].co, "x", 9.0),
    "muted": lambda item: setattr(item.data.shape_keys.key_blocks["smile"], "mute", True),
    "relative": lambda item: setattr(
        item.data.shape_keys.key_blocks["smile"], "relative_key",
        item.data.shape_keys.key_blocks["frown"],
    ),
    "weight": lambda item: item.vertex_groups[0].add([1], 0.2, "REPLACE"),
    "group name": lambda item: setattr(item.vertex_groups[0], "name", "Chest"),
    "uv": lambda item: setattr(item.data.uv_layers[0].uv[0].vector, "x", 0.7),
    "seam": lambda item: setattr(item.data.edges[0], "use_seam", True),
    "material": lambda item: setattr(item.data.polygons[0], "material_index", 1),
    "mask": lambda item: setattr(item.data.attributes["outline"].data[0], "value", 0.5),
    "painted": lambda item: setattr(
        item.data.attributes["tint"].data[0], "color", (0.1, 0.2, 0.3, 1.0)
    ),
}


@pytest.mark.parametrize("change", CHANGES)
def test_every_layer_of_a_mesh_counts(figure, change):
    _, item = figure
    before = fingerprint(item)
    assert same(before, fingerprint(item))
    CHANGES[change](item)
    assert not same(before, fingerprint(item))


def test_bones_count_with_deforming_and_roll(figure):
    rig, _ = figure
    before = fingerprint(rig)
    rig.data.bones["Head"].use_deform = False
    assert not same(before, fingerprint(rig))
    rig.data.bones["Head"].use_deform = True
    assert same(before, fingerprint(rig))
    enter(rig)
    assert same(before, fingerprint(rig)), "entering edit mode changes nothing"
    rig.data.edit_bones["Head"].roll += 0.3
    bpy.ops.object.mode_set(mode="OBJECT")
    assert not same(before, fingerprint(rig))


def test_entering_edit_mode_or_posing_changes_nothing(figure):
    rig, item = figure
    before = fingerprint(item)
    enter(item)
    assert same(before, fingerprint(item))
    bpy.ops.object.mode_set(mode="OBJECT")
    assert same(before, fingerprint(item))
    mark = fingerprint(rig)
    rig.pose.bones["Head"].rotation_euler = (0.3, 0.0, 0.0)
    bpy.context.view_layer.update()
    assert same(mark, fingerprint(rig))
