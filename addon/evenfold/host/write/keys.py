"""Writing shape keys: moving vertices in one, and making a new one."""

import bpy
import numpy as np

from ...core.layers import ShapeKeys
from ...core.repair.changes import KeyMade
from ..read.mesh import mesh_of


def write_keys(mesh: bpy.types.Mesh, before: ShapeKeys, after: ShapeKeys) -> None:
    """The points of the keys that differ; keys that are the same record are not touched."""
    for old, new in zip(before.keys, after.keys, strict=False):
        if new is not old:
            points = np.ascontiguousarray(new.points, np.float32).ravel()
            mesh.shape_keys.key_blocks[new.name].points.foreach_set("co", points)


def write_key_made(item: bpy.types.Object, change: KeyMade) -> None:
    """A new key at the end of the list, at value 0; the active key stays active."""
    mesh = mesh_of(item)
    shown = item.active_shape_key_index
    blocks = mesh.shape_keys.key_blocks
    like = blocks[change.like]
    made = item.shape_key_add(name=change.key, from_mix=False)
    made.points.foreach_set("co", np.ascontiguousarray(change.points, np.float32).ravel())
    made.relative_key = blocks[change.relative_to]
    made.slider_max, made.slider_min = like.slider_max, like.slider_min
    made.value = 0.0
    made.mute = like.mute
    made.interpolation = like.interpolation
    made.vertex_group = change.mask_group
    item.active_shape_key_index = shown
