"""What is read is the stored neutral shape at rest, and reading leaves nothing behind."""

import json
import struct

import bpy
import numpy as np
import pytest
from evenfold.core.errors import NothingToCheckError, UnreadableError
from evenfold.core.figure import Figure
from evenfold.host.files import open_input
from evenfold.host.nearest import KDFinder
from evenfold.host.read import FigureSource, find_figures, read_figure
from evenfold.host.read.mesh import fan_triangles
from evenfold.host.read.vrm import humanoid_of, read_json_chunk
from host.scenes import BOX, add_box, add_rig, counts, deform, empty_scene, enter, pose
from mathutils import Matrix


@pytest.fixture(autouse=True)
def scene():
    return empty_scene()


def sources_of(scene: bpy.types.Scene) -> list[FigureSource]:
    scene.view_layers[0].update()
    return find_figures(scene)


def read_only() -> Figure:
    (source,) = sources_of(bpy.context.scene)
    return read_figure(source, bpy.context.scene)


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


def half_box() -> bpy.types.Object:
    box = add_box("Body", points=[(max(x, 0.0), y, z) for x, y, z in BOX])
    for name, weight in (("Arm.L", 1.0), ("Arm.R", 0.0)):
        group = box.vertex_groups.new(name=name)
        if weight:
            group.add([4, 5, 6, 7], weight, "REPLACE")
    box.modifiers.new("Mirror", "MIRROR")
    return box


def test_a_live_mirror_is_evaluated_for_measuring_and_leaves_no_trace():
    box = half_box()
    box.shape_key_add(name="Basis")
    box.shape_key_add(name="Smile").value = 1.0
    before = counts()
    figure = read_only()
    assert counts() == before
    (part,) = figure.parts
    assert part.how == "Mirror"
    assert len(figure.surfaces[0].positions) == 8
    assert part.points[:, 0].min() == pytest.approx(-1.0)
    right = part.points[:, 0] < -0.5
    np.testing.assert_allclose(part.weights.of_groups({"Arm.R"}, len(part.points)), right * 1.0)
    (mirror,) = figure.surfaces[0].mirrors
    np.testing.assert_allclose(mirror.plane_normal, (1, 0, 0))


def test_mirror_about_another_object_uses_that_objects_plane(scene):
    box = half_box()
    pivot = bpy.data.objects.new("Pivot", None)
    scene.collection.objects.link(pivot)
    pivot.location.x = 2.0
    pivot.rotation_euler.z = 0.3
    box.modifiers[0].mirror_object = pivot
    figure = read_only()
    (mirror,) = figure.surfaces[0].mirrors
    np.testing.assert_allclose(mirror.plane_point, (2, 0, 0))
    np.testing.assert_allclose(mirror.plane_normal, (np.cos(0.3), np.sin(0.3), 0), atol=1e-6)
    points = figure.parts[0].points
    reflected = points - 2 * ((points - mirror.plane_point) @ mirror.plane_normal)[:, None] * mirror.plane_normal
    distances, _ = KDFinder(points).query(reflected, 1)
    assert distances.max() < 1e-5


def test_mirror_and_subdivision_are_evaluated_but_armature_is_not():
    rig, box = add_rig("Keeper"), half_box()
    deform(box, rig)
    box.modifiers.new("Smooth", "SUBSURF").levels = 1
    straight = read_only().parts[0]
    pose(rig)
    before = counts()
    (part,) = read_only().parts
    assert counts() == before
    assert part.how == "Mirror, Subdivision"
    assert len(part.points) > 16
    np.testing.assert_array_equal(part.points, straight.points)


def test_a_failure_while_evaluating_leaves_no_trace(monkeypatch):
    from evenfold.host.read import part

    half_box()
    before = counts()
    monkeypatch.setattr(part, "read_weights", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        read_only()
    assert counts() == before


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
    corners = np.array([0, 1, 2, 3, 4, 5, 6, 7])
    triangles, faces = fan_triangles(corners, np.array([0, 3, 8]))
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


def test_nothing_written_in_a_file_is_run(tmp_path):
    mark = tmp_path / "ran"
    text = bpy.data.texts.new("start.py")
    text.write(f"open({str(mark)!r}, 'w').close()")
    text.use_module = True
    add_box("Body")
    file = tmp_path / "scripted.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(file))
    open_input(file)
    assert "start.py" in bpy.data.texts
    assert not mark.exists()


@pytest.mark.parametrize("content", [None, b"", b"BLENDER-v402 cut", b"no file of Blender's"])
def test_a_bad_file_is_refused_and_does_not_leave_the_last_one_open(tmp_path, content):
    add_box("Body")
    file = tmp_path / "bad.blend"
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(UnreadableError, match=r"bad\.blend"):
        open_input(file)
    assert "Body" not in bpy.data.objects or content in (None, b"")


def glb(tree: dict) -> bytes:
    body = json.dumps(tree).encode()
    body += b" " * (-len(body) % 4)
    return struct.pack("<4sIIII", b"glTF", 2, 20 + len(body), len(body), 0x4E4F534A) + body


NODES = [{"name": "Hip"}, {"name": "Skull"}]


@pytest.mark.parametrize("extension", [
    {"VRM": {"humanoid": {"humanBones": [{"bone": "head", "node": 1}, {"bone": "jaw", "node": 9}]}}},
    {"VRMC_vrm": {"humanoid": {"humanBones": {"head": {"node": 1}, "jaw": {}}}}},
])
def test_avatar_bones_are_read_in_both_versions(tmp_path, extension):
    file = tmp_path / "keeper.vrm"
    file.write_bytes(glb({"nodes": NODES, "extensions": extension}))
    assert humanoid_of(read_json_chunk(file)) == {"head": "Skull"}


def test_a_binary_gltf_that_is_cut_short_is_refused(tmp_path):
    file = tmp_path / "keeper.glb"
    file.write_bytes(glb({"nodes": NODES})[:-8])
    with pytest.raises(UnreadableError, match="cut short"):
        open_input(file)


def test_the_tree_gives_nearest_first_and_pads_what_is_missing():
    finder = KDFinder(np.array([[0.0, 0, 0], [1, 0, 0]]))
    distances, indices = finder.query(np.array([[0.9, 0, 0]]), 3)
    assert indices.tolist() == [[1, 0, -1]]
    np.testing.assert_allclose(distances, [[0.1, 0.9, np.inf]])
    none, missing = KDFinder(np.zeros((0, 3))).query(np.zeros((1, 3)), 1)
    assert none.tolist() == [[np.inf]] and missing.tolist() == [[-1]]
