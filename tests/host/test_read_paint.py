"""What colour faces are painted is read from materials: set colours, images, attributes, mixes and groups of nodes."""

import os

import bpy
import numpy as np
import pytest
from evenfold.host.fingerprint import fingerprint
from evenfold.host.read.pixels import to_linear
from host.scenes import add_box, counts, empty_scene, read_only

RED, BLUE = (0.8, 0.05, 0.05), (0.05, 0.1, 0.7)


@pytest.fixture(autouse=True)
def scene():
    return empty_scene()


def painted_box():
    """A box with a material whose output shades one colour input, and that input."""
    box = add_box("Body")
    material = bpy.data.materials.new("Skin")
    if material.node_tree is None:
        material.use_nodes = True
    box.data.materials.append(material)
    shader = next(node for node in material.node_tree.nodes if node.bl_idname == "ShaderNodeBsdfPrincipled")
    return box, material.node_tree, shader.inputs["Base Color"]


def paint():
    (part,) = read_only().parts
    return part.paint


def with_map(box):
    """A UV map that puts the first three faces into an image's left half and the others into its right."""
    places = np.repeat(np.where(np.arange(6) < 3, 0.25, 0.75), 4)
    box.data.uv_layers.new(name="UVMap").uv.foreach_set("vector", np.column_stack([places, np.full(24, 0.5)]).astype(np.float32).ravel())


def halves(left, right, **more):
    """An image of two halves."""
    image = bpy.data.images.new("Coat", 8, 4, **more)
    pixels = np.ones((4, 8, 4), np.float32)
    pixels[:, :4, :3], pixels[:, 4:, :3] = left, right
    image.pixels.foreach_set(pixels.ravel())
    return image


def image_node(tree, image):
    node = tree.nodes.new("ShaderNodeTexImage")
    node.image = image
    return node


def test_a_set_colour_is_every_faces():
    _, _, base = painted_box()
    base.default_value = (*RED, 1.0)
    np.testing.assert_allclose(paint(), np.tile(RED, (12, 1)), rtol=1e-6)


def test_each_face_has_its_own_materials_colour():
    box, _, base = painted_box()
    base.default_value = (*RED, 1.0)
    plain = bpy.data.materials.new("Coat")
    plain.diffuse_color = (*BLUE, 1.0)
    if plain.node_tree is not None:
        plain.node_tree.links.clear()
    box.data.materials.append(plain)
    box.data.polygons[2].material_index = 1
    expected = np.tile(RED, (12, 1))
    expected[4:6] = BLUE
    np.testing.assert_allclose(paint(), expected, rtol=1e-6)


def test_an_image_is_looked_up_where_the_faces_lie_in_linear_light():
    """sRGB by IEC 61966-2-1: 0.5 encoded is 0.214 in linear light (a worked value of the standard's formula)."""
    box, tree, base = painted_box()
    with_map(box)
    tree.links.new(image_node(tree, halves((0.5, 0.5, 0.5), (1.0, 0.0, 0.5))).outputs["Color"], base)
    np.testing.assert_allclose(paint()[:6], np.full((6, 3), 0.2140), atol=2e-3)
    np.testing.assert_allclose(paint()[6:], np.tile([1.0, 0.0, 0.2140], (6, 1)), atol=2e-3)


def test_to_linear_follows_the_standard_on_both_sides_of_its_knee():
    """IEC 61966-2-1: a twelfth of small values; 1 stays 1."""
    np.testing.assert_allclose(to_linear(np.array([0.0, 0.02, 0.04045, 1.0], np.float32)), [0.0, 0.02 / 12.92, 0.0031308, 1.0], rtol=1e-3)


def test_an_image_that_was_not_loaded_is_not_left_loaded(tmp_path):
    box, tree, base = painted_box()
    with_map(box)
    image = halves(RED, BLUE)
    image.filepath_raw, image.file_format = str(tmp_path / "coat.png"), "PNG"
    image.save()
    bpy.data.images.remove(image)
    kept = bpy.data.images.load(str(tmp_path / "coat.png"))
    tree.links.new(image_node(tree, kept).outputs["Color"], base)
    assert not kept.has_data
    before = counts()
    np.testing.assert_allclose(paint()[0], to_linear(np.array(RED, np.float32)), atol=5e-3)
    assert not kept.has_data and counts() == before
    (tmp_path / "coat.png").unlink()
    kept.reload()
    assert len(paint()) == 0, "an image that is gone tells nothing"


def test_what_is_painted_anew_is_read_anew(tmp_path):
    box, tree, base = painted_box()
    with_map(box)
    image = halves((1, 1, 1), (0, 0, 0))
    tree.links.new(image_node(tree, image).outputs["Color"], base)
    assert paint()[0, 0] == 1.0
    image.pixels.foreach_set(np.zeros(128, np.float32))
    assert paint()[0, 0] == 0.0, "painted on, not saved"
    image.filepath_raw, image.file_format = str(tmp_path / "coat.png"), "PNG"
    image.save()
    assert paint()[0, 0] == 0.0
    other = halves((0, 0, 0), (1, 1, 1))
    other.filepath_raw, other.file_format = str(tmp_path / "other.png"), "PNG"
    other.save()
    os.utime(tmp_path / "other.png", ns=(1, 1))
    (tmp_path / "other.png").replace(tmp_path / "coat.png")
    image.reload()
    assert paint()[6, 0] == 1.0, "the file was changed by another program"


def test_pictures_that_are_kept_are_few():
    from evenfold.host.read import pixels

    box, tree, base = painted_box()
    with_map(box)
    node = image_node(tree, None)
    tree.links.new(node.outputs["Color"], base)
    for number in range(pixels.KEPT + 4):
        node.image = halves((number / 255.0, 0, 0), (0, 0, 0))
        node.image.pack()
        node.image.source = "FILE"
        assert len(paint()) == 12
    assert len(pixels._kept) == pixels.KEPT


def test_a_colour_attribute_is_read_on_corners_and_on_points():
    box, tree, base = painted_box()
    rows = box.data.color_attributes.new("Coat", "FLOAT_COLOR", "CORNER")
    values = np.ones((24, 4), np.float32)
    values[:12, :3], values[12:, :3] = RED, BLUE
    rows.data.foreach_set("color", values.ravel())
    node = tree.nodes.new("ShaderNodeVertexColor")
    node.layer_name = "Coat"
    tree.links.new(node.outputs["Color"], base)
    np.testing.assert_allclose(paint(), np.repeat([RED, BLUE], 6, axis=0), rtol=1e-5)
    box.data.materials.clear()
    np.testing.assert_allclose(paint(), np.repeat([RED, BLUE], 6, axis=0), rtol=1e-5, err_msg="without a material, what is rendered")
    box.data.color_attributes.remove(rows)
    points = box.data.color_attributes.new("Points", "FLOAT_COLOR", "POINT")
    points.data.foreach_set("color", np.tile([*BLUE, 1.0], 8).astype(np.float32))
    np.testing.assert_allclose(paint(), np.tile(BLUE, (12, 1)), rtol=1e-5)


def test_a_tinted_image_is_the_product_of_both():
    """As an importer of the open scene format builds a texture with a colour factor."""
    box, tree, base = painted_box()
    with_map(box)
    mix = tree.nodes.new("ShaderNodeMix")
    mix.data_type, mix.blend_type = "RGBA", "MULTIPLY"
    mix.inputs["Factor"].default_value = 1.0
    first, second = (one for one in mix.inputs if one.type == "RGBA" and one.enabled)
    tree.links.new(image_node(tree, halves((1, 1, 1), (0, 0, 0))).outputs["Color"], first)
    second.default_value = (*RED, 1.0)
    tree.links.new(next(one for one in mix.outputs if one.type == "RGBA" and one.enabled), base)
    np.testing.assert_allclose(paint(), np.repeat([RED, (0, 0, 0)], 6, axis=0), atol=1e-5)


def in_group(inner):
    """A group with a colour input that goes through its own reroute to a shader's output; ``inner`` adds to it."""
    group = bpy.data.node_groups.new("Toon", "ShaderNodeTree")
    group.interface.new_socket("Lit", in_out="INPUT", socket_type="NodeSocketColor")
    group.interface.new_socket("Shader", in_out="OUTPUT", socket_type="NodeSocketShader")
    start, end, glow = (group.nodes.new(kind) for kind in ("NodeGroupInput", "NodeGroupOutput", "ShaderNodeEmission"))
    group.links.new(glow.outputs["Emission"], end.inputs["Shader"])
    inner(group, start, glow)
    return group


@pytest.mark.parametrize("linked", [True, False])
def test_groups_of_nodes_are_followed_inside_and_out_again(linked):
    box, tree, _ = painted_box()
    with_map(box)
    group = in_group(lambda inside, start, glow: inside.links.new(start.outputs["Lit"], glow.inputs["Color"]))
    node = tree.nodes.new("ShaderNodeGroup")
    node.node_tree = group
    output = next(one for one in tree.nodes if one.bl_idname == "ShaderNodeOutputMaterial")
    tree.links.new(node.outputs["Shader"], output.inputs["Surface"])
    node.inputs["Lit"].default_value = (*BLUE, 1.0)
    if linked:
        tree.links.new(image_node(tree, halves((1, 1, 1), (0, 0, 0))).outputs["Color"], node.inputs["Lit"])
    np.testing.assert_allclose(paint(), np.repeat([(1, 1, 1), (0, 0, 0)], 6, axis=0) if linked else np.tile(BLUE, (12, 1)), atol=1e-5)


def test_transparent_layers_hide_no_colour():
    """As importers build shadeless materials: a glow beside something transparent."""
    _, tree, _ = painted_box()
    glow, clear, mix = (tree.nodes.new(f"ShaderNode{kind}") for kind in ("Emission", "BsdfTransparent", "MixShader"))
    glow.inputs["Color"].default_value = (*RED, 1.0)
    shaders = [one for one in mix.inputs if one.type == "SHADER"]
    tree.links.new(clear.outputs[0], shaders[0])
    tree.links.new(glow.outputs[0], shaders[1])
    output = next(one for one in tree.nodes if one.bl_idname == "ShaderNodeOutputMaterial")
    tree.links.new(mix.outputs[0], output.inputs["Surface"])
    np.testing.assert_allclose(paint(), np.tile(RED, (12, 1)), rtol=1e-5)


def test_a_ring_of_groups_ends():
    _, tree, base = painted_box()
    group = bpy.data.node_groups.new("Round", "ShaderNodeTree")
    group.interface.new_socket("In", in_out="INPUT", socket_type="NodeSocketColor")
    group.interface.new_socket("Out", in_out="OUTPUT", socket_type="NodeSocketColor")
    mixes = [group.nodes.new("ShaderNodeHueSaturation") for _ in range(2)]
    end = group.nodes.new("NodeGroupOutput")
    for one, other in (mixes, mixes[::-1]):
        group.links.new(one.outputs["Color"], other.inputs["Color"])
    group.links.new(mixes[0].outputs["Color"], end.inputs["Out"])
    node = tree.nodes.new("ShaderNodeGroup")
    node.node_tree = group
    tree.links.new(node.outputs["Out"], base)
    assert len(paint()) in (0, 12)


@pytest.mark.parametrize("mode", ["EDIT", "WEIGHT_PAINT", "VERTEX_PAINT", "SCULPT", "TEXTURE_PAINT"])
@pytest.mark.parametrize("source", ["image", "attribute"])
@pytest.mark.parametrize("shaped", [False, True])
def test_colours_are_the_same_in_every_mode(mode, source, shaped):
    box, tree, base = painted_box()
    if shaped:
        box.modifiers.new("Subdivision", "SUBSURF")
    with_map(box)
    if source == "image":
        node = image_node(tree, halves((1, 1, 1), (0, 0, 0)))
    else:
        rows = box.data.color_attributes.new("Coat", "FLOAT_COLOR", "CORNER")
        rows.data.foreach_set("color", np.repeat([1.0, 0.0], 48).astype(np.float32))
        node = tree.nodes.new("ShaderNodeVertexColor")
    tree.links.new(node.outputs["Color"], base)
    before = paint()
    np.testing.assert_allclose(before[[0, -1], 0], [1.0, 0.0])
    bpy.context.view_layer.objects.active = box
    box.select_set(True)
    bpy.ops.object.mode_set(mode=mode)
    try:
        np.testing.assert_allclose(paint(), before)
    finally:
        bpy.ops.object.mode_set(mode="OBJECT")


def test_a_mesh_without_colours_has_none():
    add_box("Body")
    assert paint().shape == (0, 3)


def test_painting_a_material_otherwise_is_a_change():
    box, tree, base = painted_box()
    before = fingerprint(box)
    base.default_value = (*RED, 1.0)
    set_now = fingerprint(box)
    assert set_now != before
    image_node(tree, halves(RED, BLUE))
    pictured = fingerprint(box)
    assert pictured != set_now
    plain = tree.nodes.new("ShaderNodeRGB")
    with_plain = fingerprint(box)
    plain.outputs[0].default_value = (*RED, 1.0)
    pictured = fingerprint(box)
    assert pictured != with_plain, "the colour of a node that holds nothing else"
    group = in_group(lambda *_: None)
    tree.nodes.new("ShaderNodeGroup").node_tree = group
    grouped = fingerprint(box)
    next(one for one in group.nodes if one.bl_idname == "ShaderNodeEmission").inputs["Color"].default_value = (*BLUE, 1.0)
    assert grouped not in (pictured, fingerprint(box)), "a colour inside a group of nodes"
