"""What is read is the stored neutral shape at rest, and reading leaves nothing behind."""


import bpy
import numpy as np
import pytest
from evenfold.core.errors import NothingToCheckError
from evenfold.host.read import FigureSource, read_figure
from evenfold.host.read.mesh import fan_triangles
from host.scenes import (
    BOX,
    add_box,
    add_rig,
    deform,
    empty_scene,
    enter,
    pose,
    read_only,
    sources_of,
)
from mathutils import Matrix


@pytest.fixture(autouse=True)
def scene():
    return empty_scene()


def test_a_rig_with_meshes_and_things_hung_on_them_is_one_figure(scene):
    rig = add_rig("Keeper")
    body, cap, badge = add_box("Body"), add_box("Cap"), add_box("Badge")
    deform(body, rig)
    cap.parent, cap.parent_type, cap.parent_bone = rig, "BONE", "Head"
    badge.parent = cap
    add_box("Lamp")
    assert sources_of(scene) == [
        FigureSource("Keeper", ("Badge", "Body", "Cap"), "Keeper"),
        FigureSource("Lamp", ("Lamp",), None),
    ]


def test_loose_meshes_are_grouped_by_their_top_parent_and_the_rest_together(scene):
    root = bpy.data.objects.new("Cook", None)
    scene.collection.objects.link(root)
    for name in ("CookBody", "CookHead"):
        add_box(name).parent = root
    add_box("Barrel")
    add_box("Rope")
    assert [(one.name, one.mesh_names) for one in sources_of(scene)] == [
        (scene.name, ("Barrel", "Rope")),
        ("Cook", ("CookBody", "CookHead")),
    ]


def test_bone_shapes_and_excluded_collections_are_no_part_of_a_figure(scene):
    rig = add_rig("Keeper")
    deform(add_box("Body"), rig)
    rig.pose.bones["Head"].custom_shape = add_box("Shape")
    attic = bpy.data.collections.new("Attic")
    scene.collection.children.link(attic)
    stored = add_box("Old coat")
    attic.objects.link(stored)
    scene.collection.objects.unlink(stored)
    bpy.context.view_layer.layer_collection.children["Attic"].exclude = True
    assert [one.mesh_names for one in sources_of(scene)] == [("Body",)]


def test_hidden_objects_and_vertices_are_read(scene):
    box = add_box("Body")
    bpy.context.view_layer.update()
    box.hide_set(True)
    box.data.vertices[3].hide = True
    (surface,) = read_only().surfaces
    assert np.flatnonzero(surface.hidden).tolist() == [3]
    assert len(surface.positions) == 8


def test_a_mesh_without_vertices_is_read_only_when_alone(scene):
    scene.collection.objects.link(bpy.data.objects.new("Nothing", bpy.data.meshes.new("Nothing")))
    figure = read_only()
    assert figure.surfaces[0].positions.shape == (0, 3)
    assert figure.surfaces[0].face_starts.tolist() == [0]
    assert figure.parts[0].triangles.shape == (0, 3)
    add_box("Body")
    assert [one.mesh_names for one in sources_of(scene)] == [("Body",)]


def test_surface_tells_edges_faces_and_places_of_the_stored_mesh():
    add_box("Body")
    (surface,) = read_only().surfaces
    np.testing.assert_allclose(surface.positions, BOX)
    assert surface.edges.shape == (12, 2)
    assert surface.face_starts.tolist() == list(range(0, 25, 4))
    assert surface.corners[:4].tolist() == [0, 1, 3, 2]


def test_pose_of_deformed_and_hung_meshes_is_ignored():
    rig = add_rig("Keeper")
    rig.matrix_basis = Matrix.Translation((5, 0, 0))
    cap = add_box("Cap")
    deform(add_box("Body"), rig)
    cap.parent, cap.parent_type, cap.parent_bone = rig, "BONE", "Head"
    bpy.context.view_layer.update()
    at_rest = np.array(cap.matrix_world)
    before = read_only()
    pose(rig)
    assert not np.allclose(np.array(cap.matrix_world), at_rest)
    after = read_only()
    np.testing.assert_allclose(after.surfaces[1].to_world, at_rest, atol=1e-6)
    for one, other in zip(before.parts, after.parts, strict=True):
        np.testing.assert_array_equal(one.points, other.points)
    np.testing.assert_allclose(after.armature.by_name["Head"].head, (5, 0, 1), atol=1e-6)
    assert [part.bone_parent for part in after.parts] == [None, "Head"]


def test_relative_bone_parenting_rests_where_the_host_rests_it():
    rig, cap = add_rig("Keeper"), add_box("Cap")
    deform(add_box("Body"), rig)
    rig.data.bones["Head"].use_relative_parent = True
    cap.parent, cap.parent_type, cap.parent_bone = rig, "BONE", "Head"
    bpy.context.view_layer.update()
    np.testing.assert_allclose(
        read_only().surfaces[1].to_world, np.array(cap.matrix_world), atol=1e-6
    )


def test_keys_left_on_or_active_are_ignored():
    box = add_box("Body")
    box.shape_key_add(name="Basis")
    smile = box.shape_key_add(name="Smile")
    for point in smile.points:
        point.co.x += 0.5
    smile.value = 0.3
    box.active_shape_key_index = 1
    figure = read_only()
    np.testing.assert_allclose(figure.surfaces[0].positions, BOX)
    np.testing.assert_allclose(figure.parts[0].points, BOX)


def test_the_reference_key_outranks_the_mesh():
    box = add_box("Body")
    box.shape_key_add(name="Basis")
    box.data.vertices[0].co.x = 9.0
    np.testing.assert_allclose(read_only().surfaces[0].positions, BOX)


@pytest.mark.parametrize("keyed", [False, True])
def test_an_open_edit_session_is_read_as_it_stands(keyed):
    import bmesh

    box = add_box("Body")
    if keyed:
        box.shape_key_add(name="Basis")
    enter(box)
    edit = bmesh.from_edit_mesh(box.data)
    edit.verts.ensure_lookup_table()
    edit.verts[0].co.x = -3.0
    bmesh.ops.delete(edit, geom=[edit.verts[7]], context="VERTS")
    bmesh.update_edit_mesh(box.data)
    (surface,) = read_only().surfaces
    assert len(surface.positions) == 7
    assert surface.positions[0, 0] == -3.0
    assert box.mode == "EDIT"
    bpy.ops.object.mode_set(mode="OBJECT")


def test_an_active_key_in_edit_mode_does_not_become_the_neutral_shape():
    box = add_box("Body")
    box.shape_key_add(name="Basis")
    smile = box.shape_key_add(name="Smile")
    smile.points[0].co.x = -4.0
    box.active_shape_key_index = 1
    enter(box)
    figure = read_only()
    np.testing.assert_allclose(figure.surfaces[0].positions, BOX)
    bpy.ops.object.mode_set(mode="OBJECT")


def test_world_places_survive_parent_inverse_and_odd_scales():
    rig = add_rig("Keeper")
    rig.matrix_basis = Matrix.LocRotScale((1, 2, 3), Matrix.Rotation(0.4, 3, "Z").to_quaternion(), (2, 2, 2))
    bpy.context.view_layer.update()
    head, outfit = add_box("Head"), add_box("Outfit", 100.0)
    for item, scale in ((head, (-1, 1, 1)), (outfit, (0.01, 0.01, 0.01))):
        item.scale = scale
        deform(item, rig)
        item.matrix_parent_inverse = rig.matrix_world.inverted()
    figure = read_only()
    mirrored = np.array(BOX) * (-1, 1, 1)
    np.testing.assert_allclose(figure.surfaces[0].world, mirrored, atol=1e-5)
    np.testing.assert_allclose(figure.surfaces[1].world, BOX, atol=1e-5)
    assert any("Head has a negative scale" in note for note in figure.notes)


@pytest.mark.parametrize(("system", "expected"), [("METRIC", 0.01), ("NONE", 1.0)])
def test_the_unit_scale_counts_only_where_units_do(scene, system, expected):
    add_box("Body")
    scene.unit_settings.system = system
    scene.unit_settings.scale_length = 0.01
    assert read_only().metres_per_unit == pytest.approx(expected)


def test_weights_and_materials_reach_the_part():
    rig, box = add_rig("Keeper"), add_box("Body")
    deform(box, rig)
    for name in ("Skin", "Cloth"):
        box.data.materials.append(bpy.data.materials.new(name))
    box.data.polygons[5].material_index = 1
    (part,) = read_only().parts
    assert part.materials == ("Skin", "Cloth")
    assert part.triangle_material.tolist() == [0] * 10 + [1, 1]
    np.testing.assert_allclose(part.weights.of_groups({"Head"}, 8), 0.75)


def test_faces_of_any_size_are_split_into_their_triangles():
    triangles, faces = fan_triangles(np.array([0, 3, 8]))
    assert triangles.tolist() == [[0, 1, 2], [3, 4, 5], [3, 5, 6], [3, 6, 7]]
    assert faces.tolist() == [0, 1, 1, 1]


@pytest.mark.parametrize("instanced", [False, True])
def test_a_linked_figure_is_read_where_it_stands(tmp_path, instanced):
    rig = add_rig("Keeper")
    deform(add_box("Body"), rig)
    shelf = bpy.data.collections.new("Staff")
    for item in list(bpy.context.scene.objects):
        shelf.objects.link(item)
    library = tmp_path / "staff.blend"
    bpy.data.libraries.write(str(library), {shelf})
    scene = empty_scene()
    with bpy.data.libraries.load(str(library), link=True) as (_, target):
        target.collections = ["Staff"]
    if instanced:
        empty = bpy.data.objects.new("Visitor", None)
        empty.instance_type, empty.instance_collection = "COLLECTION", target.collections[0]
        empty.location.x = 7.0
        scene.collection.objects.link(empty)
    else:
        scene.collection.children.link(target.collections[0])
    figure = read_only()
    assert figure.name == "Keeper"
    assert figure.surfaces[0].world[:, 0].mean() == pytest.approx(7.0 if instanced else 0.0)
    assert any("linked" in note for note in figure.notes)


def test_meshes_that_are_gone_are_a_refusal(scene):
    add_box("Body")
    with pytest.raises(NothingToCheckError, match="choose the figure again"):
        read_figure(FigureSource("Ghost", ("Ghost",)), scene)


def test_another_scene_is_read_with_its_own_objects(scene):
    add_box("Body")
    other = bpy.data.scenes.new("Kitchen")
    item = bpy.data.objects.new("Cook", bpy.data.meshes["Body"])
    other.collection.objects.link(item)
    assert [one.name for one in sources_of(other)] == ["Cook"]
