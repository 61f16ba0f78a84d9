"""Writing vertex weights group by group; normals, keys and other groups are not touched."""

import bpy
import numpy as np

from ...core.repair.changes import Weighted


def write_weighted(item: bpy.types.Object, change: Weighted) -> None:
    """New weights of some vertices in one group, which is made if there is none of its name.

    Vertices of equal weight go in one call. The active group stays active.
    """
    group = item.vertex_groups.get(change.group) or _made(item, change.group)
    vertices = change.vertices
    weights = change.weights.astype(np.float32)
    gone = weights <= 0.0
    if gone.any():
        group.remove(vertices[gone].tolist())
    vertices, weights = vertices[~gone], weights[~gone]
    if not len(vertices):
        return
    order = np.argsort(weights, kind="stable")
    values, starts = np.unique(weights[order], return_index=True)
    for value, rows in zip(values.tolist(), np.split(vertices[order], starts[1:]), strict=True):
        group.add(rows.tolist(), value, "REPLACE")


def refuse_weighted(item: bpy.types.Object, change: Weighted) -> str | None:
    """A sentence where the weights must not be written."""
    if not isinstance(item.data, bpy.types.Mesh):
        return f"{item.name} is no mesh any more: check again."
    if len(change.vertices) and int(change.vertices.max()) >= len(item.data.vertices):
        return f"{item.name} was changed since the check: check again."
    group = item.vertex_groups.get(change.group)
    if group is not None and group.lock_weight:
        return f"{change.group} of {item.name} is locked: unlock it, or check again."
    return None


def _made(item: bpy.types.Object, name: str) -> bpy.types.VertexGroup:
    shown = item.vertex_groups.active_index
    made = item.vertex_groups.new(name=name)
    if len(item.vertex_groups) > 1:
        item.vertex_groups.active_index = shown
    return made
