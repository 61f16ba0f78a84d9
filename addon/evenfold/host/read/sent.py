"""What an engine gets of a mesh: read from the shape as it is exported, Mirror and Subdivision on."""

import bpy
import numpy as np

from ...core.figure import IntArray
from ...core.layers import Float32Array
from ...core.size import Sent, sent_of


def read_sent(mesh: bpy.types.Mesh, corners: IntArray, starts: IntArray, slots: IntArray) -> Sent:
    """The size of ``mesh``, whose attributes are filled; ``corners``, ``starts`` and ``slots`` are its own."""
    return sent_of(corners, starts, slots, [*_normals(mesh), *_uv_places(mesh)])


def _normals(mesh: bpy.types.Mesh) -> list[Float32Array]:
    """The corners' normals (c, 3), none where every vertex has only one."""
    if mesh.normals_domain == "POINT":
        return []
    normals = np.zeros(len(mesh.loops) * 3, np.float32)
    mesh.corner_normals.foreach_get("vector", normals)
    return [normals.reshape(-1, 3)]


def _uv_places(mesh: bpy.types.Mesh) -> list[Float32Array]:
    """The corners' place (c, 2) in each UV map."""
    found = []
    for layer in mesh.uv_layers:
        places = np.zeros(len(mesh.loops) * 2, np.float32)
        layer.uv.foreach_get("vector", places)
        found.append(places.reshape(-1, 2))
    return found
