"""Shape keys, each read whole."""

import bpy
import numpy as np

from ...core.layers import ShapeKey, ShapeKeys


def read_keys(mesh: bpy.types.Mesh) -> tuple[ShapeKeys | None, tuple[str, ...]]:
    """All keys of a mesh in their order, None without any; and notes on keys left out."""
    block = mesh.shape_keys
    if block is None or not len(block.key_blocks):
        return None, ()
    found: list[ShapeKey] = []
    notes: list[str] = []
    for key in block.key_blocks:
        if len(key.points) == len(mesh.vertices):
            found.append(_key(key))
        else:
            notes.append(
                f"The key {key.name} holds {len(key.points):,} vertices, the mesh "
                f"{len(mesh.vertices):,}: it is left out. Leave Edit Mode once to renew it."
            )
    keys = ShapeKeys(block.reference_key.name, tuple(found), bool(block.use_relative))
    return keys, tuple(notes)


def _key(key: bpy.types.ShapeKey) -> ShapeKey:
    points = np.zeros(len(key.points) * 3, np.float32)
    key.points.foreach_get("co", points)
    return ShapeKey(
        key.name,
        points.reshape(-1, 3),
        key.relative_key.name,
        float(key.value),
        float(key.slider_min),
        float(key.slider_max),
        bool(key.mute),
        key.vertex_group,
    )
