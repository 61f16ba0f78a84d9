"""Whether a mesh's numbers point at what is there; in damaged files the host itself does not look."""

import bpy
import numpy as np


def is_sound(mesh: bpy.types.Mesh) -> bool:
    """False where an edge or a face names a vertex, edge or corner that the mesh does not have."""
    vertices, edges, corners = len(mesh.vertices), len(mesh.edges), len(mesh.loops)
    ends = np.zeros(edges * 2, np.int32)
    mesh.edges.foreach_get("vertices", ends)
    corner, along = np.zeros(corners, np.int32), np.zeros(corners, np.int32)
    mesh.loops.foreach_get("vertex_index", corner)
    mesh.loops.foreach_get("edge_index", along)
    starts = np.zeros(len(mesh.polygons), np.int32)
    mesh.polygons.foreach_get("loop_start", starts)
    bounds = np.concatenate([[0], starts, [corners]]) if len(starts) else np.zeros(1, np.int32)
    return bool(
        _within(ends, vertices) and _within(corner, vertices) and _within(along, edges)
        and (np.diff(bounds) >= 0).all()
    )


def _within(numbers: "np.ndarray[tuple[int, ...], np.dtype[np.int32]]", count: int) -> bool:
    return bool(((numbers >= 0) & (numbers < count)).all())
