"""Writing UV coordinates and seam marks in bulk; nothing else of the mesh is touched."""

import bpy
import numpy as np

from ...core.repair.changes import SeamsSet, UVMoved
from ..read.mesh import mesh_of

STALE = "{} was changed since the check: check again."


def write_uv_moved(item: bpy.types.Object, change: UVMoved) -> None:
    """New coordinates of some face corners in one map."""
    mesh = mesh_of(item)
    layer = mesh.uv_layers[change.uv_map].uv
    places = np.zeros(len(mesh.loops) * 2, np.float32)
    layer.foreach_get("vector", places)
    places.reshape(-1, 2)[change.corners] = change.places
    layer.foreach_set("vector", places)


def write_seams(item: bpy.types.Object, change: SeamsSet) -> None:
    """Seams made or taken off some edges."""
    mesh = mesh_of(item)
    marked = np.zeros(len(mesh.edges), np.bool_)
    mesh.edges.foreach_get("use_seam", marked)
    marked[change.edges] = change.seam
    mesh.edges.foreach_set("use_seam", marked)


def refuse_uv_moved(item: bpy.types.Object, change: UVMoved) -> str | None:
    """A sentence where the UVs must not be written."""
    if not isinstance(item.data, bpy.types.Mesh):
        return f"{item.name} is no mesh any more: check again."
    if item.data.uv_layers.get(change.uv_map) is None:
        return f"{item.name} has no UV map {change.uv_map} any more: check again."
    return STALE.format(item.name) if _beyond(change.corners, len(item.data.loops)) else None


def refuse_seams(item: bpy.types.Object, change: SeamsSet) -> str | None:
    """A sentence where the seams must not be written."""
    if not isinstance(item.data, bpy.types.Mesh):
        return f"{item.name} is no mesh any more: check again."
    return STALE.format(item.name) if _beyond(change.edges, len(item.data.edges)) else None


def _beyond(numbers: np.ndarray, count: int) -> bool:
    return bool(len(numbers)) and int(numbers.max()) >= count
