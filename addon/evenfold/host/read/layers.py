"""What an object carries besides its shape, read once and in bulk; nothing is written."""

import bpy
import numpy as np

from ...core.figure import IntArray
from ...core.layers import BoolArray, Float32Array, SurfaceLayers, UVMap
from .images import read_images
from .keys import read_keys
from .masks import read_masks
from .mesh import face_materials, flush, material_names, mesh_of, readable
from .weights import read_weights


def read_layers(item: bpy.types.Object, armature: bpy.types.Object | None) -> SurfaceLayers:
    """Weights, keys, UV maps, masks and the rest of a mesh object, in its stored numbers.

    ``armature`` says which groups follow a deforming bone; None where there is none.
    """
    flush(item)
    keys, key_notes = read_keys(mesh_of(item))
    with readable(item) as mesh:
        maps = _uv_maps(mesh)
        faces = face_materials(mesh)
        triangles, owners = _triangles(mesh)
        images, image_notes = read_images(item, mesh, {one.name: one.places for one in maps}, faces)
        return SurfaceLayers(
            read_weights(mesh, item.vertex_groups),
            _seams(mesh),
            faces,
            material_names(item),
            frozenset(one.name for one in item.vertex_groups if one.lock_weight),
            None if armature is None else _deform_groups(item, armature),
            maps,
            keys,
            (*read_masks(mesh), *images),
            _custom_normals(mesh),
            triangles,
            owners,
            (*key_notes, *image_notes),
        )


def _seams(mesh: bpy.types.Mesh) -> BoolArray:
    marked = np.zeros(len(mesh.edges), np.bool_)
    mesh.edges.foreach_get("use_seam", marked)
    return marked


def _deform_groups(item: bpy.types.Object, armature: bpy.types.Object) -> frozenset[str]:
    data = armature.data
    bones = data.edit_bones if data.is_editmode else data.bones
    deforming = {bone.name for bone in bones if bone.use_deform}
    return frozenset(group.name for group in item.vertex_groups if group.name in deforming)


def _uv_maps(mesh: bpy.types.Mesh) -> tuple[UVMap, ...]:
    found = []
    for layer in mesh.uv_layers:
        places = np.zeros(len(mesh.loops) * 2, np.float32)
        layer.uv.foreach_get("vector", places)
        found.append(UVMap(layer.name, places.reshape(-1, 2)))
    return tuple(found)


def _custom_normals(mesh: bpy.types.Mesh) -> Float32Array | None:
    if not mesh.has_custom_normals:
        return None
    normals = np.zeros(len(mesh.loops) * 3, np.float32)
    mesh.corner_normals.foreach_get("vector", normals)
    return normals.reshape(-1, 3)


def _triangles(mesh: bpy.types.Mesh) -> tuple[IntArray, IntArray]:
    """The host's own split: corner numbers (t, 3) and the face of each (t,)."""
    mesh.calc_loop_triangles()
    corners = np.zeros(len(mesh.loop_triangles) * 3, np.int32)
    mesh.loop_triangles.foreach_get("loops", corners)
    owners = np.zeros(len(mesh.loop_triangles), np.int32)
    mesh.loop_triangles.foreach_get("polygon_index", owners)
    return corners.reshape(-1, 3).astype(np.int64), owners.astype(np.int64)
