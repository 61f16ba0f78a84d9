"""What a mesh carries is read exactly, in any mode, and the file stays as it was."""

import zlib

import bpy
import numpy as np
import pytest
from evenfold.core.check import check_figure
from evenfold.core.settings import Settings
from evenfold.host.nearest import KDFinder
from evenfold.host.read import figures as read_figures
from evenfold.host.read import read_figure
from evenfold.host.read.layers import read_layers
from figures.layered import layered
from figures.layered_parts import corner_twins
from host.layered_mesh import add_layered, picture
from host.scenes import add_box, add_rig, counts, deform, empty_scene, enter, sources_of

ALL_BLOCKS = ("objects", "meshes", "scenes", "collections", "shape_keys", "images", "materials", "node_groups", "armatures", "attributes")


@pytest.fixture(autouse=True)
def scene():
    return empty_scene()


def read_with_layers():
    (source,) = sources_of(bpy.context.scene)
    return read_figure(source, bpy.context.scene, layers=True)


def checked():
    """Findings of every layer on the open figure."""
    result = check_figure(read_with_layers(), Settings(), KDFinder)
    return [finding for one in result.objects for finding in one.findings]


def state(mesh: bpy.types.Mesh) -> dict[str, int]:
    """A checksum of every attribute, key and selection flag of a mesh."""
    found = {}
    for attribute in mesh.attributes:
        for field, size in (("value", 1), ("vector", 2), ("vector", 3), ("color", 4)):
            values = np.zeros(len(attribute.data) * size, np.float32)
            try:
                attribute.data.foreach_get(field, values)
            except (AttributeError, TypeError, RuntimeError):
                continue
            found[f"{attribute.name} {field}"] = zlib.crc32(values.tobytes())
    for key in mesh.shape_keys.key_blocks if mesh.shape_keys else ():
        places = np.zeros(len(key.points) * 3, np.float32)
        key.points.foreach_get("co", places)
        found[f"key {key.name} {key.value}"] = zlib.crc32(places.tobytes())
    for name in ("vertices", "edges", "polygons"):
        flags = np.zeros(len(getattr(mesh, name)), bool)
        getattr(mesh, name).foreach_get("select", flags)
        found[name] = zlib.crc32(flags.tobytes())
    return found


def same_layers(one, other):
    """Every number and name of two readings is the same."""
    for field in ("seams", "face_material", "corner_normals", "triangles", "triangle_face"):
        np.testing.assert_array_equal(getattr(one, field), getattr(other, field), field)
    for field in ("vertex", "group", "weight"):
        np.testing.assert_array_equal(getattr(one.weights, field), getattr(other.weights, field))
    for field in ("materials", "locked_groups", "deform_groups", "notes"):
        assert getattr(one, field) == getattr(other, field)
    assert len(one.uv_maps) == len(other.uv_maps) and len(one.masks) == len(other.masks)
    for mine, its in zip(one.uv_maps, other.uv_maps, strict=True):
        assert mine.name == its.name
        np.testing.assert_array_equal(mine.places, its.places)
    for mine, its in zip(one.masks, other.masks, strict=True):
        assert (mine.name, mine.domain, mine.source, mine.uv_map) == (its.name, its.domain, its.source, its.uv_map)
        np.testing.assert_array_equal(mine.values, its.values)
    for mine, its in zip(one.keys.keys, other.keys.keys, strict=True):
        assert mine.name == its.name
        np.testing.assert_array_equal(mine.points, its.points)


def test_every_layer_is_read_as_it_was_built():
    made = layered(0)
    item = add_layered(made)
    read = read_layers(item, None)
    built = made.layers
    np.testing.assert_array_equal(read.uv_maps[0].places, built.uv_maps[0].places)
    np.testing.assert_array_equal(read.face_material, built.face_material)
    assert read.materials == built.materials and read.deform_groups is None
    assert [mask.name for mask in read.masks] == ["Outline", "Shade"]
    for mine, its in zip(read.masks, built.masks, strict=True):
        assert mine.domain == its.domain
        np.testing.assert_array_equal(mine.values, its.values)
    order = np.lexsort((built.weights.group, built.weights.vertex))
    np.testing.assert_array_equal(read.weights.weight, built.weights.weight[order])
    np.testing.assert_array_equal(read.weights.vertex, built.weights.vertex[order])
    np.testing.assert_allclose(read.corner_normals, built.corner_normals, atol=0.01)
    assert read.keys.reference == "Basis" and read.keys.relative
    for mine, its in zip(read.keys.keys, built.keys.keys, strict=True):
        assert (mine.name, mine.relative_to) == (its.name, its.relative_to)
        np.testing.assert_array_equal(mine.points, its.points)
    ends = np.array([edge.vertices for edge in item.data.edges])
    marked = made.surface.edges[built.seams]
    assert {frozenset(e) for e in ends[read.seams].tolist()} == {frozenset(e) for e in marked.tolist()}
    np.testing.assert_array_equal(np.bincount(read.triangle_face), [len(f) - 2 for f in made.faces])
    assert (made.corner_face[read.triangles] == read.triangle_face[:, None]).all()


def test_a_clean_figure_made_in_the_host_reports_nothing():
    add_layered(layered(1))
    assert checked() == []


def test_reading_leaves_no_trace():
    item = add_layered(layered(2))
    picture(item, "Rim mask")
    item.active_shape_key_index = 2
    before, blocks = state(item.data), {kind: len(getattr(bpy.data, kind, ())) for kind in ALL_BLOCKS}
    dirty = bpy.data.is_dirty
    read_layers(item, None)
    assert state(item.data) == before
    assert {kind: len(getattr(bpy.data, kind, ())) for kind in ALL_BLOCKS} == blocks
    assert bpy.data.is_dirty == dirty
    assert item.active_shape_key_index == 2


def test_an_open_edit_session_is_read_as_the_stored_mesh_is():
    item = add_layered(layered(3))
    picture(item, "Rim mask")
    stored = read_layers(item, None)
    enter(item)
    blocks = counts()
    same_layers(read_layers(item, None), stored)
    assert counts() == blocks and item.data.is_editmode
    bpy.ops.object.mode_set(mode="OBJECT")
    same_layers(read_layers(item, None), stored)


def test_edits_of_the_session_count():
    import bmesh

    item = add_layered(layered(4))
    enter(item)
    edit = bmesh.from_edit_mesh(item.data)
    edit.edges.ensure_lookup_table()
    edit.edges[7].seam = not edit.edges[7].seam
    was = read_layers(item, None).seams
    assert was[7] == edit.edges[7].seam


def test_groups_locked_and_following_a_deforming_bone():
    rig, box = add_rig("Keeper"), add_box("Body")
    deform(box, rig)
    box.vertex_groups.new(name="Outline").lock_weight = True
    box.vertex_groups.new(name="Spine")
    rig.data.bones["Spine"].use_deform = False
    read = read_layers(box, rig)
    assert read.deform_groups == {"Head"} and read.locked_groups == {"Outline"}
    enter(rig)
    rig.data.edit_bones["Spine"].use_deform = True
    assert read_layers(box, rig).deform_groups == {"Head", "Spine"}


def test_weight_zero_is_a_membership_and_weights_are_read_once(monkeypatch):
    from evenfold.host.read import layers, part, weights

    rig, box = add_rig("Keeper"), add_box("Body")
    deform(box, rig)
    box.vertex_groups["Head"].add([3], 0.0, "REPLACE")
    calls = []

    def counted(mesh, groups):
        calls.append(mesh.name)
        return weights.read_weights(mesh, groups)

    monkeypatch.setattr(layers, "read_weights", counted)
    monkeypatch.setattr(part, "read_weights", counted)
    figure = read_with_layers()
    assert len(calls) == 1
    assert figure.parts[0].weights is figure.surfaces[0].layers.weights
    found = figure.parts[0].weights
    assert found.weight[found.vertex == 3].tolist() == [0.0]
    assert read_figures.read_layers is layers.read_layers


def test_keys_with_all_that_is_set_on_them():
    box = add_box("Body")
    box.vertex_groups.new(name="Face")
    for name in ("Basis", "Smile", "Wide"):
        box.shape_key_add(name=name)
    smile, wide = (box.data.shape_keys.key_blocks[name] for name in ("Smile", "Wide"))
    smile.slider_min, smile.slider_max, smile.value, smile.mute = -0.5, 2.0, 1.5, True
    smile.vertex_group, wide.relative_key = "Face", smile
    read = read_layers(box, None).keys
    key = read.named("Smile")
    assert (key.value, key.low, key.high, key.muted, key.mask_group) == (1.5, -0.5, 2.0, True, "Face")
    assert read.named("Wide").relative_to == "Smile" and read.reference == "Basis"
    box.data.shape_keys.use_relative = False
    assert not read_layers(box, None).keys.relative


def test_a_box_without_anything_reads_empty():
    read = read_layers(add_box("Body"), None)
    assert read.keys is None and read.corner_normals is None
    assert read.uv_maps == read.masks == read.notes == read.materials == ()
    assert not read.seams.any() and not len(read.weights.vertex) and len(read.triangles) == 12


def test_only_painted_attributes_count_and_byte_colours_are_read_as_stored():
    box = add_box("Body")
    add = box.data.attributes.new
    for name, kind, domain in (
        (".inside", "FLOAT", "POINT"), ("evenfold_pin", "FLOAT", "POINT"), ("crease_vert", "FLOAT", "POINT"),
        ("Sharp", "BOOLEAN", "EDGE"), ("Per face", "FLOAT", "FACE"), ("Number", "INT", "POINT"),
    ):
        add(name, kind, domain)
    add("Paint", "BYTE_COLOR", "CORNER").data[2].color_srgb = (128 / 255, 0.0, 1.0, 1.0)
    add("Width", "FLOAT", "POINT").data[5].value = 0.75
    paint, width = read_layers(box, None).masks
    assert (paint.name, paint.domain, paint.values.shape) == ("Paint", "corner", (24, 4))
    np.testing.assert_allclose(paint.values[2], [128 / 255, 0, 1, 1], atol=1e-6)
    assert width.values[:, 0].tolist() == [0, 0, 0, 0, 0, 0.75, 0, 0]


def test_an_image_painted_on_one_side_is_found():
    made = layered(5)
    item = add_layered(made)
    picture(item, "Rim mask", np.full((64, 64, 4), 0.5), size=(64, 64))
    assert checked() == []
    pixels = np.full((64, 64, 4), 0.5)
    pixels[:, :20] = 0.9
    picture(item, "Glow mask", pixels, size=(64, 64))
    (found,) = checked()
    assert (found.code, found.subject, found.kind) == ("mask-drifted", "Glow mask", "corner")
    assert found.worst == pytest.approx(0.4, abs=1e-5)


def test_normals_cleared_on_one_cheek_are_those_corners():
    made = layered(6)
    item = add_layered(made)
    twins = corner_twins(made)
    normals = read_layers(item, None).corner_normals.copy()
    rng = np.random.default_rng(6)
    rows = np.flatnonzero(made.face_piece[made.corner_face] == 2)
    rows = rng.choice(rows, 10, replace=False)
    normals[rows] = normals[rows] @ np.array([[1, 0, 0], [0, 0.8, -0.6], [0, 0.6, 0.8]], np.float32)
    item.data.normals_split_custom_set(normals.tolist())
    (found,) = checked()
    assert found.code == "normal-drifted"
    near = found.partners[found.sizes > 5]
    assert set(near.tolist()) <= set(rows.tolist()) and set(found.elements) == set(twins[found.partners])


def flat(made):
    """With each face's corners sharing one normal, so that an export splits every vertex."""
    normals = made.layers.corner_normals.astype(float)
    total = np.add.reduceat(normals, made.surface.face_starts[:-1])[made.corner_face]
    return made.changed(corner_normals=total / np.linalg.norm(total, axis=1, keepdims=True))


@pytest.mark.parametrize("shading", ["smooth", "flat"])
@pytest.mark.parametrize("seed", range(2))
def test_a_split_export_brought_back_gives_no_false_findings(tmp_path, seed, shading):
    made = layered(seed, hexagons=False)
    item = add_layered(made if shading == "smooth" else flat(made))
    path = str(tmp_path / "keeper.glb")
    bpy.ops.export_scene.gltf(filepath=path, export_format="GLB")
    uvs = item.data.uv_layers[0].uv
    for corner in np.flatnonzero(made.face_piece[made.corner_face] == 2):
        uvs[int(corner)].vector.y += 0.01
    bpy.ops.export_scene.gltf(filepath=path + ".moved.glb", export_format="GLB")
    split = brought_back(path)
    assert (len(split.data.vertices) > 2 * len(made.partner)) == (shading == "flat")
    assert checked() == []
    brought_back(path + ".moved.glb")
    (found,) = checked()
    assert (found.code, found.worst) == ("uv-drifted", pytest.approx(0.01, abs=1e-5))
    triangles = sum(len(face) - 2 for face, piece in zip(made.faces, made.face_piece, strict=True) if piece == 2)
    assert found.count == 3 * triangles


def brought_back(path):
    """The one mesh object of a .glb in an empty scene."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.ops.import_scene.gltf(filepath=path)
    (item,) = [one for one in bpy.context.scene.objects if one.type == "MESH"]
    return item
