"""A cheap mark of an object's shape, to tell whether a result is out of date."""

import zlib
from typing import Any, cast

import bmesh
import bpy
import numpy as np

from .allowances import KEY as ALLOWANCES_KEY
from .baselines import KEY as BASELINE_KEY
from .bone_map import BONE_MAP_KEY
from .read.mesh import mirrors_mark
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
        return _of_bones(cast("bpy.types.Armature", item.data), where)
    if item.type != "MESH":
        return (0, 0, 0, where, 0)
    where = zlib.crc32(mirrors_mark(item).encode(), where)
    mesh = cast("bpy.types.Mesh", item.data)
    if mesh.is_editmode:
        return _of_edit_mesh(mesh, where)
    places = np.zeros(len(mesh.vertices) * 3, np.float32)
    if mesh.shape_keys is not None:
        mesh.shape_keys.reference_key.points.foreach_get("co", places)
    else:
        mesh.vertices.foreach_get("co", places)
    return (
        len(mesh.vertices), len(mesh.edges), len(mesh.polygons),
        zlib.crc32(places.tobytes(), where), _of_layers(item, mesh),
    )


def _of_layers(item: bpy.types.Object, mesh: bpy.types.Mesh) -> int:
    """A mark of keys, UV maps, seams, materials, groups, painted values and weights; never 0."""
    names = [slot.material.name if slot.material is not None else "" for slot in item.material_slots]
    names += [f"{group.name}/{group.lock_weight}" for group in item.vertex_groups]
    mark = zlib.crc32("/".join(names).encode(), 1)
    faces = np.zeros(len(mesh.polygons), np.int32)
    mesh.polygons.foreach_get("material_index", faces)
    mark = zlib.crc32(faces.tobytes(), mark)
    for attribute in mesh.attributes:
        mark = _of_attribute(attribute, mark)
    if mesh.shape_keys is not None:
        points = np.zeros(len(mesh.vertices) * 3, np.float32)
        for key in mesh.shape_keys.key_blocks:
            key.points.foreach_get("co", points)
            said = f"{key.name}/{key.relative_key.name}/{key.mute}/{key.vertex_group}"
            mark = zlib.crc32(points.tobytes(), zlib.crc32(said.encode(), mark))
    for layer in mesh.uv_layers:
        places = np.zeros(len(mesh.loops) * 2, np.float32)
        layer.uv.foreach_get("vector", places)
        mark = zlib.crc32(places.tobytes(), mark)
    seams = np.zeros(len(mesh.edges), np.bool_)
    mesh.edges.foreach_get("use_seam", seams)
    mark = zlib.crc32(seams.tobytes(), mark)
    if len(mesh.vertices) > LARGEST_WEIGHTED:
        return mark
    weights = [
        value for vertex in mesh.vertices for entry in vertex.groups
        for value in (entry.group, entry.weight)
    ]
    return zlib.crc32(np.array(weights, np.float32).tobytes(), mark)


PAINTED: dict[str, tuple[str, int, Any]] = {
    "FLOAT": ("value", 1, np.float32), "FLOAT_COLOR": ("color", 4, np.float32),
    "BYTE_COLOR": ("color", 4, np.float32), "INT16_2D": ("value", 2, np.int32),
}
"""Kinds of attributes that hold painted masks and custom normals: field, width and type."""


def _of_attribute(attribute: bpy.types.Attribute, mark: int) -> int:
    if attribute.data_type not in PAINTED or attribute.domain not in ("POINT", "CORNER"):
        return mark
    field, width, kind = PAINTED[attribute.data_type]
    values = np.zeros(len(attribute.data) * width, kind)
    attribute.data.foreach_get(field, values)
    return zlib.crc32(values.tobytes(), zlib.crc32(attribute.name.encode(), mark))


def _of_bones(data: bpy.types.Armature, where: int) -> Fingerprint:
    """Ends of bones in every mode; axes, parents and deforming where the rest bones can be read."""
    if data.is_editmode:
        ends = [(*bone.head, *bone.tail) for bone in data.edit_bones]
        return (len(ends), 0, 0, zlib.crc32(np.array(ends, np.float32).tobytes(), where), 0)
    ends = [(*bone.head_local, *bone.tail_local) for bone in data.bones]
    mark = 1
    for bone in data.bones:
        parent = bone.parent.name if bone.parent is not None else ""
        said = f"{bone.name}/{parent}/{bone.use_deform}/{bone.use_connect}/{bone.matrix_local[:]}"
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
