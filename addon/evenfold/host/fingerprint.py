"""A cheap mark of an object's shape, to tell whether a result is out of date."""

import zlib
from typing import Any, cast

import bmesh
import bpy
import numpy as np

from .allowances import KEY as ALLOWANCES_KEY
from .baselines import KEY as BASELINE_KEY
from .bone_map import BONE_MAP_KEY
from .read.armature import numbers_on
from .read.images import images_mark
from .read.mesh import material_names, mirrors_mark, neutral_positions
from .read.paint import paint_mark
from .read.part import shaping_mark
from .store import HEAD_KEY, PINS_KEY, WORN_KEY

LARGEST_EDITED = 200_000
"""Vertices up to which a mesh in edit mode is compared place by place, not by counts alone."""

LARGEST_WEIGHTED = 60_000
"""Vertices up to which weights are part of the mark; the host has no bulk way to read them."""

SAID = (PINS_KEY, WORN_KEY, HEAD_KEY, BONE_MAP_KEY, ALLOWANCES_KEY, BASELINE_KEY)
"""The custom properties in which the artist's word is kept."""

Fingerprint = tuple[int, int, int, int, int]
"""Counts of vertices, edges and faces; a mark of places; one of the layers, 0 where not read."""


def fingerprint(item: bpy.types.Object) -> Fingerprint:
    """Counts of vertices, edges and faces, and a checksum of places and of what the artist said."""
    said = "".join(str(item.get(key, "")) for key in SAID)
    where = zlib.crc32(np.array(item.matrix_world, np.float32).tobytes(), zlib.crc32(said.encode()))
    if item.type == "ARMATURE":
        return _of_bones(item, where)
    if item.type != "MESH":
        return (0, 0, 0, where, 0)
    where = zlib.crc32(f"{mirrors_mark(item)}/{shaping_mark(item)}".encode(), where)
    mesh = cast("bpy.types.Mesh", item.data)
    if mesh.is_editmode:
        return _of_edit_mesh(mesh, where)
    return (
        len(mesh.vertices), len(mesh.edges), len(mesh.polygons),
        zlib.crc32(neutral_positions(mesh).tobytes(), where), _of_layers(item, mesh),
    )


def _of_layers(item: bpy.types.Object, mesh: bpy.types.Mesh) -> int:
    """A mark of what is joined to what and of all that the mesh carries; never 0."""
    said = [*material_names(item), images_mark(item), paint_mark(item)]
    said += [f"{group.name}/{group.lock_weight}" for group in item.vertex_groups]
    said += [f"{layer.name}/{layer.active_render}" for layer in mesh.uv_layers]
    mark = zlib.crc32("/".join(said).encode(), 1)
    for attribute in sorted(mesh.attributes, key=lambda one: one.name):
        mark = _of_attribute(attribute, mark)
    if mesh.has_custom_normals and "custom_normal" not in mesh.attributes:
        normals = np.zeros(len(mesh.loops) * 3, np.float32)
        mesh.corner_normals.foreach_get("vector", normals)
        mark = zlib.crc32(normals.tobytes(), mark)
    if mesh.shape_keys is not None:
        mark = zlib.crc32(f"{mesh.shape_keys.use_relative}".encode(), mark)
        for key in mesh.shape_keys.key_blocks:
            points = np.zeros(len(key.points) * 3, np.float32)
            key.points.foreach_get("co", points)
            words = f"{key.name}/{key.relative_key.name}/{key.mute}/{key.vertex_group}/{key.slider_min}/{key.slider_max}"
            mark = zlib.crc32(points.tobytes(), zlib.crc32(words.encode(), mark))
    if len(mesh.vertices) > LARGEST_WEIGHTED:
        return mark
    weights = [
        value for vertex in mesh.vertices for entry in vertex.groups
        for value in (entry.group, entry.weight)
    ]
    return zlib.crc32(np.array(weights, np.float32).tobytes(), mark)


KINDS: dict[str, tuple[str, int, Any]] = {
    "FLOAT": ("value", 1, np.float32), "FLOAT_COLOR": ("color", 4, np.float32),
    "BYTE_COLOR": ("color", 4, np.float32), "INT16_2D": ("value", 2, np.int32),
    "FLOAT2": ("vector", 2, np.float32), "FLOAT_VECTOR": ("vector", 3, np.float32),
    "INT": ("value", 1, np.int32), "INT32_2D": ("value", 2, np.int32), "BOOLEAN": ("value", 1, np.bool_),
}
"""Kinds of attributes that are read: field, width and type."""

CARRIED = ("FLOAT", "FLOAT_COLOR", "BYTE_COLOR", "FLOAT2")
"""Kinds that hold painted masks and UV maps, on vertices and corners, whatever they are called."""

MEANT = frozenset({
    ".edge_verts", ".corner_vert", "material_index", "uv_seam", ".uv_seam", "custom_normal",
    "sharp_edge", "sharp_face", "crease_edge",
})
"""The host's own attributes that say what is joined to what and what the layers rest on; all zero
is the same as not there."""


def _of_attribute(attribute: bpy.types.Attribute, mark: int) -> int:
    painted = attribute.data_type in CARRIED and attribute.domain in ("POINT", "CORNER")
    if attribute.data_type not in KINDS or not (painted or attribute.name in MEANT):
        return mark
    field, width, kind = KINDS[attribute.data_type]
    values = np.zeros(len(attribute.data) * width, kind)
    attribute.data.foreach_get(field, values)
    if not painted and not values.any():
        return mark
    return zlib.crc32(values.tobytes(), zlib.crc32(attribute.name.encode(), mark))


def _of_bones(item: bpy.types.Object, where: int) -> Fingerprint:
    """Ends of bones in every mode; axes, parents, deforming and numbers where the rest bones can be read."""
    data = cast("bpy.types.Armature", item.data)
    if data.is_editmode:
        ends = [(*bone.head, *bone.tail) for bone in data.edit_bones]
        return (len(ends), 0, 0, zlib.crc32(np.array(ends, np.float32).tobytes(), where), 0)
    ends = [(*bone.head_local, *bone.tail_local) for bone in data.bones]
    mark = 1
    posed = item.pose.bones if item.pose is not None else {}
    for bone in data.bones:
        parent = bone.parent.name if bone.parent is not None else ""
        said = f"{bone.name}/{parent}/{bone.use_deform}/{bone.use_connect}/{bone.matrix_local[:]}"
        said += f"/{numbers_on(bone, posed.get(bone.name))}"
        mark = zlib.crc32(said.encode(), mark)
    return (len(ends), 0, 0, zlib.crc32(np.array(ends, np.float32).tobytes(), where), mark)


def _of_edit_mesh(mesh: bpy.types.Mesh, where: int) -> Fingerprint:
    edit = bmesh.from_edit_mesh(mesh)
    counts = (len(edit.verts), len(edit.edges), len(edit.faces))
    if counts[0] > LARGEST_EDITED:
        return (*counts, 0, 0)
    layer = None
    keys = mesh.shape_keys
    if keys is not None and edit_key_name(mesh) != keys.reference_key.name:
        layer = edit.verts.layers.shape.get(keys.reference_key.name)
    if layer is None:
        places = np.array([vertex.co[:] for vertex in edit.verts], np.float32)
    else:
        places = np.array([vertex[layer][:] for vertex in edit.verts], np.float32)
    return (*counts, zlib.crc32(places.tobytes(), where), 0)


def edit_key_name(mesh: bpy.types.Mesh) -> str:
    """The key shown in edit mode: the active one of an object that uses this mesh."""
    for item in bpy.data.objects:
        if item.data == mesh and item.mode == "EDIT" and item.active_shape_key is not None:
            return item.active_shape_key.name
    return mesh.shape_keys.reference_key.name


def same(old: Fingerprint, new: Fingerprint) -> bool:
    """Equal in counts and, where both have been read, in places and in layers."""
    marks = zip(old[3:], new[3:], strict=True)
    return old[:3] == new[:3] and all(one == other or 0 in (one, other) for one, other in marks)
