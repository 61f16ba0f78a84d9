"""What an engine gets of a figure, against the host's own exporter of glTF 2.0. All figures are invented.

The exporter works in a process of its own that ends at once: that of 4.2 spoils the memory of one that goes on.
"""

import json
import struct
import subprocess
import sys

import bpy
import numpy as np
import pytest
from evenfold.core.size import Sent, size_of
from evenfold.host.read import read_figure
from figures.layered import layered
from host.layered_mesh import add_layered
from host.scenes import BOX, add_box, add_rig, counts, deform, empty_scene, sources_of

EXPORT = """
import os
import bpy
bpy.ops.wm.open_mainfile(filepath={file!r})
bpy.ops.export_scene.gltf(filepath={path!r}, **{options!r})
os._exit(0)
"""


@pytest.fixture(autouse=True)
def scene():
    return empty_scene()


def read_size():
    (source,) = sources_of(bpy.context.scene)
    return size_of(read_figure(source, bpy.context.scene, layers=True))


def told(item):
    (one,) = [one for one in read_size().objects if one.name == item.name]
    return Sent(one.triangles, one.vertices, one.materials)


def exported(item, folder):
    """Triangles, vertices and primitives of the object in a binary glTF file, modifiers applied."""
    file, path = folder / "figure.blend", folder / "figure.glb"
    bpy.ops.wm.save_as_mainfile(filepath=str(file), copy=True)
    options = {"export_format": "GLB", "export_animations": False, "export_apply": item.data.shape_keys is None}
    subprocess.run([sys.executable, "-c", EXPORT.format(file=str(file), path=str(path), options=options)], check=True, capture_output=True)
    content = path.read_bytes()
    found = json.loads(content[20 : 20 + struct.unpack("<I", content[12:16])[0]])
    (mesh,) = [found["meshes"][node["mesh"]] for node in found["nodes"] if node["name"] == item.name]
    counted = [one["count"] for one in found["accessors"]]
    pieces = mesh["primitives"]
    places = {piece["attributes"]["POSITION"] for piece in pieces}
    return Sent(sum(counted[piece["indices"]] // 3 for piece in pieces), sum(counted[one] for one in places), len(pieces))


def smooth(item, value=True):
    item.data.polygons.foreach_set("use_smooth", np.full(len(item.data.polygons), value))


def flat(item):
    smooth(item, value=False)


def sharp_edge(item):
    smooth(item)
    for edge in item.data.edges[:5]:
        edge.use_edge_sharp = True


def own_normals(item):
    smooth(item)
    rng = np.random.default_rng(3)
    normals = rng.normal(size=(len(item.data.loops), 3))
    item.data.normals_split_custom_set((normals / np.linalg.norm(normals, axis=1)[:, None]).tolist())


def unfolded(item):
    smooth(item)
    places = np.arange(len(item.data.loops) * 2, dtype=np.float32) % 7 / 7
    item.data.uv_layers.new(name="Map").uv.foreach_set("vector", places)


def two_maps(item):
    unfolded(item)
    corner = np.array([loop.vertex_index for loop in item.data.loops], np.float32)
    item.data.uv_layers.new(name="Second").uv.foreach_set("vector", np.column_stack([corner % 3, corner % 2]).ravel())


def two_materials(item):
    smooth(item)
    for name in ("Skin", "Coat", "Unused"):
        item.data.materials.append(bpy.data.materials.new(name))
    item.data.polygons[0].material_index = item.data.polygons[1].material_index = 1


def mirrored(item):
    smooth(item)
    item.modifiers.new("Mirror", "MIRROR")


def smoothed(item):
    mirrored(item)
    unfolded(item)
    item.modifiers.new("Subdivision", "SUBSURF").levels = 2


@pytest.mark.parametrize("change", [
    smooth, flat, sharp_edge, own_normals, unfolded, two_maps, two_materials, mirrored, smoothed,
])
def test_as_many_as_the_exporter_writes(change, tmp_path):
    item = add_box("Body", points=[(x + 1.0, y, z) for x, y, z in BOX])
    change(item)
    bpy.context.view_layer.update()
    assert told(item) == exported(item, tmp_path)


def test_a_figure_with_every_layer(tmp_path):
    item = add_layered(layered(5))
    sent = exported(item, tmp_path)
    assert told(item) == sent and sent.vertices > len(item.data.vertices)


def test_a_subdivision_that_is_not_evaluated_is_reckoned(tmp_path):
    """Measuring stops at level 3. One level more makes V + E + F vertices, of a closed mesh of quads 4 V - 6 (Euler)."""
    item = add_box("Body")
    smooth(item)
    item.modifiers.new("Subdivision", "SUBSURF").levels = 4
    sent = exported(item, tmp_path)
    here = told(item)
    assert here.triangles == sent.triangles and here.vertices == pytest.approx(sent.vertices, rel=0.03)


def test_bones_and_keys_are_counted_and_nothing_is_left():
    rig, item = add_rig("Rig"), add_box("Body")
    deform(item, rig)
    for name in ("Basis", "Blink", "Smile"):
        item.shape_key_add(name=name)
    add_box("Empty").data.clear_geometry()
    bpy.context.view_layer.update()
    before = counts()
    size = read_size()
    assert (size.bones, size.keys, size.meshes) == (2, 2, 1) and counts() == before
