"""What makes a result out of date: every layer that is checked, and nothing that is not."""

import bpy  # isort: skip - bmesh is there once it is
import bmesh
import pytest
from evenfold.core.symmetry import LAYERS
from evenfold.host.fingerprint import fingerprint, same
from host.scenes import add_box, add_rig, deform, empty_scene, enter


@pytest.fixture
def figure():
    empty_scene()
    rig, item = add_rig("Keeper"), add_box("Coat")
    deform(item, rig)
    in_triangles(item)
    for name in ("UVMap", "Spare"):
        item.data.uv_layers.new(name=name)
    item.modifiers.new("Round", "SUBSURF")
    rig.data.bones["Head"]["stiffness"] = 1.0
    rig.pose.bones["Head"]["drag"] = (0.0, 0.0, 1.0)
    for name in ("Coat", "Lining"):
        item.data.materials.append(bpy.data.materials.new(name))
    material = item.data.materials[0]
    if material.node_tree is None:
        material.use_nodes = True
    node = material.node_tree.nodes.new("ShaderNodeTexImage")
    node.name, node.image = "Mask", bpy.data.images.new("mask", 8, 8)
    item.data.attributes.new("outline", "FLOAT", "POINT")
    item.data.color_attributes.new("tint", "FLOAT_COLOR", "CORNER")
    item.shape_key_add(name="Basis")
    item.shape_key_add(name="smile")
    item.shape_key_add(name="frown")
    return rig, item


def in_triangles(item) -> None:
    """Every face in triangles."""
    edit = bmesh.new()
    edit.from_mesh(item.data)
    bmesh.ops.triangulate(edit, faces=edit.faces[:])
    edit.to_mesh(item.data)
    edit.free()


def turned(item) -> None:
    """Two triangles get the other diagonal: as many of everything at the same places."""
    edit = bmesh.new()
    edit.from_mesh(item.data)
    inner = [edge for edge in edit.edges if edge.calc_face_angle() < 1e-3]
    bmesh.ops.rotate_edges(edit, edges=inner[:1])
    edit.to_mesh(item.data)
    edit.free()


def bent(item) -> None:
    item.data.normals_split_custom_set_from_vertices([(0.0, 0.6, 0.8)] * len(item.data.vertices))


def key(item, name: str = "smile") -> bpy.types.ShapeKey:
    return item.data.shape_keys.key_blocks[name]


def texture(item) -> bpy.types.Node:
    return item.material_slots[0].material.node_tree.nodes["Mask"]


MESH_CHANGES = {
    "surface": {
        "place": lambda item: setattr(item.data.shape_keys.reference_key.points[0].co, "x", 9.0),
        "mirror": lambda item: item.modifiers.new("Mirror", "MIRROR"),
        "subdivision": lambda item: item.modifiers.new("Smooth", "SUBSURF"),
        "subdivided more": lambda item: setattr(item.modifiers["Round"], "levels", 2),
        "subdivision off": lambda item: setattr(item.modifiers["Round"], "show_viewport", False),
        "crease": lambda item: setattr(
            item.data.attributes.new("crease_edge", "FLOAT", "EDGE").data[0], "value", 1.0
        ),
    },
    "topology": {
        "edge rotated": turned,
        "flipped": lambda item: item.data.flip_normals(),
    },
    "normals": {
        "bent": bent,
        "smooth": lambda item: setattr(item.data.polygons[0], "use_smooth", True),
        "sharp": lambda item: setattr(item.data.edges[0], "use_edge_sharp", True),
    },
    "uv": {
        "uv": lambda item: setattr(item.data.uv_layers[0].uv[0].vector, "x", 0.7),
        "uv name": lambda item: setattr(item.data.uv_layers[0], "name", "Other"),
        "rendered": lambda item: setattr(item.data.uv_layers[1], "active_render", True),
        "seam": lambda item: setattr(item.data.edges[0], "use_seam", True),
    },
    "materials": {
        "face": lambda item: setattr(item.data.polygons[0], "material_index", 1),
        "name": lambda item: setattr(item.material_slots[0].material, "name", "Cape"),
    },
    "weights": {
        "weight": lambda item: item.vertex_groups[0].add([1], 0.2, "REPLACE"),
        "group name": lambda item: setattr(item.vertex_groups[0], "name", "Chest"),
        "locked": lambda item: setattr(item.vertex_groups[0], "lock_weight", True),
    },
    "shape_keys": {
        "moved": lambda item: setattr(key(item).points[0].co, "x", 9.0),
        "muted": lambda item: setattr(key(item), "mute", True),
        "relative": lambda item: setattr(key(item), "relative_key", key(item, "frown")),
        "lowest": lambda item: setattr(key(item), "slider_min", -1.0),
        "highest": lambda item: setattr(key(item), "slider_max", 5.0),
        "one after the other": lambda item: setattr(item.data.shape_keys, "use_relative", False),
    },
    "masks": {
        "number": lambda item: setattr(item.data.attributes["outline"].data[0], "value", 0.5),
        "painted": lambda item: setattr(
            item.data.attributes["tint"].data[0], "color", (0.1, 0.2, 0.3, 1.0)
        ),
        "other image": lambda item: setattr(texture(item), "image", bpy.data.images.new("mask two", 8, 8)),
        "image painted": lambda item: texture(item).image.pixels.foreach_set([0.5] * 8 * 8 * 4),
        "image file": lambda item: setattr(texture(item).image, "filepath", "//other.png"),
        "image removed": lambda item: setattr(texture(item), "image", None),
    },
}
BONE_CHANGES = {
    "bones": {
        "deforming": lambda rig: setattr(rig.data.bones["Head"], "use_deform", False),
        "name": lambda rig: setattr(rig.data.bones["Head"], "name", "Skull"),
    },
    "physics": {
        "spring": lambda rig: rig.data.bones["Head"].__setitem__("stiffness", 2.0),
        "spring of the pose": lambda rig: rig.pose.bones["Head"].__setitem__("drag", (0.0, 0.0, 2.0)),
    },
}


def each(changes):
    return [pytest.param(change, id=f"{layer}, {name}") for layer in changes for name, change in changes[layer].items()]


def test_every_layer_that_is_compared_has_a_change_here():
    assert set(MESH_CHANGES) | set(BONE_CHANGES) == set(LAYERS)


@pytest.mark.parametrize("change", each(MESH_CHANGES))
def test_every_layer_of_a_mesh_counts(figure, change):
    _, item = figure
    before = fingerprint(item)
    assert same(before, fingerprint(item))
    change(item)
    assert not same(before, fingerprint(item))


@pytest.mark.parametrize("change", each({"topology": MESH_CHANGES["topology"]}))
def test_what_is_joined_to_what_counts_without_anything_on_its_corners(figure, change):
    _, item = figure
    while item.data.uv_layers:
        item.data.uv_layers.remove(item.data.uv_layers[0])
    item.data.attributes.remove(item.data.attributes["tint"])
    before = fingerprint(item)
    change(item)
    assert not same(before, fingerprint(item))


@pytest.mark.parametrize("change", each(BONE_CHANGES))
def test_every_layer_of_an_armature_counts(figure, change):
    rig, _ = figure
    before = fingerprint(rig)
    assert same(before, fingerprint(rig))
    change(rig)
    assert not same(before, fingerprint(rig))


def test_what_is_not_compared_does_not_count(figure):
    rig, item = figure
    before = fingerprint(item), fingerprint(rig)
    item.data.vertices[0].select = not item.data.vertices[0].select
    item.data.vertices[1].hide = True
    key(item).value = 0.5
    item.data.attributes.new("evenfold_pin", "INT", "POINT")
    item.data.edges[0].use_seam = True
    item.data.edges[0].use_seam = False
    rig.data.bones["Head"]["note"] = "a text"
    item.modifiers.new("Weld", "WELD")
    assert (fingerprint(item), fingerprint(rig)) == before


def test_a_key_that_does_not_fit_its_mesh_is_no_trouble(figure):
    _, item = figure
    item.data.vertices.add(2)
    before = fingerprint(item)
    key(item).points[0].co.x += 1.0
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
