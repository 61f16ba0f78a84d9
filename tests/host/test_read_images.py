"""Mask images are found in materials and sampled where the corners lie."""

import bpy
import numpy as np
import pytest
from evenfold.core.check import check_figure
from evenfold.core.settings import Settings
from evenfold.host.nearest import KDFinder
from evenfold.host.read import find_figures, read_figure
from evenfold.host.read.images import bilinear, picture_of
from evenfold.host.read.layers import read_layers
from figures.layered import layered
from host.layered_mesh import add_layered, picture
from host.scenes import add_box, empty_scene


@pytest.fixture(autouse=True)
def scene():
    return empty_scene()


def box_with_picture(name="Rim width", **more):
    box = add_box("Body")
    rng = np.random.default_rng(0)
    box.data.uv_layers.new(name="UVMap").uv.foreach_set("vector", rng.uniform(-1, 2, 48).astype(np.float32))
    for one in ("Skin", "Coat"):
        box.data.materials.append(bpy.data.materials.new(one))
    return box, picture(box, name, **more)


def test_images_are_sampled_between_their_pixels_on_their_materials_faces():
    rng = np.random.default_rng(1)
    pixels = rng.uniform(size=(4, 8, 4)).astype(np.float32)
    box, _ = box_with_picture(pixels=pixels)
    box.data.polygons[2].material_index = 1
    (mask,) = read_layers(box, None).masks
    assert (mask.name, mask.domain, mask.source, mask.uv_map) == ("Rim width", "corner", "image", "UVMap")
    places = read_layers(box, None).uv_maps[0].places
    for corner in range(24):
        if corner // 4 == 2:
            assert np.isnan(mask.values[corner]).all()
            continue
        x, y = places[corner] * [8, 4] - 0.5
        i, j = int(np.floor(x)), int(np.floor(y))
        plain = sum(
            pixels[(j + b) % 4, (i + a) % 8] * (a * (x - i) + (1 - a) * (1 - x + i)) * (b * (y - j) + (1 - b) * (1 - y + j))
            for a in (0, 1) for b in (0, 1)
        )
        np.testing.assert_allclose(mask.values[corner], plain, atol=1e-5)


def test_a_mirrored_image_gives_mirrored_values_exactly_enough():
    rng = np.random.default_rng(2)
    half = rng.uniform(size=(16, 8, 1)).astype(np.float32)
    whole = np.concatenate([half, half[:, ::-1]], axis=1)
    places = rng.uniform(0, 1, (500, 2)).astype(np.float32)
    across = places * np.float32([-1, 1]) + np.float32([1, 0])
    np.testing.assert_allclose(bilinear(whole, places, True), bilinear(whole, across, True), atol=1e-5)


def test_clamped_images_keep_their_border():
    pixels = np.arange(8, dtype=np.float32).reshape(1, 8, 1)
    assert bilinear(pixels, np.float32([[-1, 0], [2, 0]]), False).ravel().tolist() == [0, 7]


@pytest.mark.parametrize(
    ("name", "space", "taken"),
    [("Face", "Non-Color", True), ("Face", "sRGB", False), ("OutlineWidth", "sRGB", True), ("hair_MASK.001", "sRGB", True),
     ("Face_normal", "Non-Color", False), ("Unmasked", "sRGB", False)],
)
def test_which_images_are_masks(name, space, taken):
    box, node = box_with_picture(name)
    node.image.colorspace_settings.name = space
    assert bool(read_layers(box, None).masks) == taken


def test_images_that_bend_normals_are_no_masks():
    box, node = box_with_picture("Face")
    tree = box.material_slots[0].material.node_tree
    bend = tree.nodes.new("ShaderNodeNormalMap")
    tree.links.new(node.outputs["Color"], bend.inputs["Color"])
    assert read_layers(box, None).masks == ()


def test_the_uv_map_an_image_uses_and_images_inside_groups():
    box, node = box_with_picture()
    second = np.random.default_rng(3).uniform(size=48).astype(np.float32)
    box.data.uv_layers.new(name="Second").uv.foreach_set("vector", second)
    box.data.uv_layers["UVMap"].active_render = True
    tree = box.material_slots[0].material.node_tree
    assert read_layers(box, None).masks[0].uv_map == "UVMap"
    chooser = tree.nodes.new("ShaderNodeUVMap")
    chooser.uv_map = "Second"
    tree.links.new(chooser.outputs["UV"], node.inputs["Vector"])
    assert read_layers(box, None).masks[0].uv_map == "Second"
    mapping = tree.nodes.new("ShaderNodeMapping")
    tree.links.new(mapping.outputs["Vector"], node.inputs["Vector"])
    read = read_layers(box, None)
    assert read.masks == () and "not placed by a UV map" in read.notes[0]
    inner = bpy.data.node_groups.new("Inside", "ShaderNodeTree")
    inner.nodes.new("ShaderNodeTexImage").image = bpy.data.images.new("Deep mask", 4, 4)
    tree.nodes.new("ShaderNodeGroup").node_tree = inner
    assert [mask.name for mask in read_layers(box, None).masks] == ["Deep mask"]


def test_missing_huge_and_moving_images_are_noted(monkeypatch):
    from evenfold.host.read import images

    box, node = box_with_picture("Gone mask")
    node.image.source = "FILE"
    node.image.filepath = "/nowhere/gone.png"
    tiles = picture(box, "Tiled mask")
    tiles.image.source = "TILED"
    picture(box, "Big mask", size=(16, 16))
    monkeypatch.setattr(images, "LARGEST", 100)
    read = read_layers(box, None)
    assert read.masks == ()
    assert len(read.notes) == 3
    for name, why in (("Gone mask", "is missing"), ("Tiled mask", "no single still"), ("Big mask", "larger")):
        assert any(name in note and why in note for note in read.notes)


def test_files_and_packed_images_are_read_and_let_go(tmp_path):
    box, node = box_with_picture(pixels=np.full((4, 8, 4), 0.5))
    image = node.image
    image.filepath_raw = str(tmp_path / "rim.png")
    image.file_format = "PNG"
    image.save()
    image.source = "FILE"
    image.buffers_free()
    assert not image.has_data
    assert np.nanmax(np.abs(read_layers(box, None).masks[0].values[:, :3] - 0.5)) < 0.01
    assert not image.has_data
    image.pack()
    assert np.nanmax(np.abs(read_layers(box, None).masks[0].values[:, :3] - 0.5)) < 0.01


def test_the_image_is_kept_with_the_channels_that_tell_something():
    rng = np.random.default_rng(4)
    pixels = np.ones((4, 8, 4), np.float32)
    pixels[:, :, 0] = pixels[:, :, 2] = rng.integers(0, 256, (4, 8)) / np.float32(255)
    pixels[:, :, 1] = 0.25
    kept = picture_of(pixels, True, whole=True)
    assert (kept.channels, kept.pixels.dtype, kept.repeat) == ((0,), np.uint8, True)
    np.testing.assert_allclose(kept.values(kept.rows)[:, 0], pixels[:, :, 0].ravel(), atol=1e-6)
    assert picture_of(np.full((4, 8, 4), 0.5, np.float32), True, whole=True) is None


def test_pixels_in_floating_point_are_kept_finely_enough():
    pixels = np.random.default_rng(5).uniform(-0.5, 3.0, (16, 16, 3)).astype(np.float32)
    kept = picture_of(pixels, False, whole=False)
    assert (kept.channels, kept.pixels.shape) == ((0, 1, 2), (16, 16, 4))
    np.testing.assert_allclose(kept.values(kept.rows), pixels.reshape(-1, 3), atol=1e-4)
    pixels[0, 0], pixels[1, 1, 0] = np.inf, np.nan
    kept = picture_of(pixels, False, whole=False)
    assert np.isfinite(kept.values(kept.rows)).all() and kept.low >= -8


def test_objects_share_the_pixels_of_an_image():
    box, node = box_with_picture(pixels=np.random.default_rng(6).uniform(size=(4, 8, 4)))
    first, second = (read_layers(box, None).masks[0] for _ in range(2))
    assert first.picture is second.picture is not None
    node.image.pixels[0] = 0.123
    assert read_layers(box, None).masks[0].picture is not first.picture


@pytest.mark.parametrize("exact", [True, False])
def test_an_area_painted_between_the_corners_is_found(exact):
    made = layered(2)
    body = add_layered(made)
    size = 512
    v, u = (np.mgrid[0:size, 0:size] + 0.5) / size
    pixels = np.ones((size, size, 4), np.float32)
    pixels[:, :, :3] = (0.5 + 0.3 * np.sin(9 * np.abs(u - 0.5)) * np.cos(7 * v))[:, :, None]
    node = picture(body, "Rim mask", size=(size, size))
    if not exact:
        node.image = bpy.data.images.new("Rim mask", size, size, is_data=True)
    node.image.pixels.foreach_set(pixels.ravel())
    assert checked() == []
    x = np.array([made.surface.positions[face, 0].mean() for face in made.faces])
    face = int(np.flatnonzero((x < -0.02) & (made.face_piece == 0) & (made.layers.face_material == 0))[7])
    rows = np.flatnonzero(made.corner_face == face)
    column, row = (made.layers.uv_maps[0].places[rows].mean(axis=0) * size).astype(int)
    pixels[row - 1 : row + 1, column - 1 : column + 1, :3] += 0.15
    node.image.pixels.foreach_set(pixels.ravel())
    (found,) = checked()
    assert (found.code, found.subject, found.kind) == ("mask-drifted", node.image.name, "corner")
    assert np.sort(found.partners).tolist() == rows.tolist()


def checked():
    """All findings on the only figure of the scene."""
    (source,) = find_figures(bpy.context.scene)
    result = check_figure(read_figure(source, bpy.context.scene, layers=True), Settings(), KDFinder)
    return [finding for entry in result.objects for finding in entry.findings]
