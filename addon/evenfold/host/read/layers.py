"""What an object carries besides its shape, read once and in bulk."""

import bpy

from ...core.layers import SurfaceLayers


def read_layers(item: bpy.types.Object, armature: bpy.types.Object | None) -> SurfaceLayers | None:
    """Weights, keys, UV maps, masks and the rest of a mesh object, in its stored numbers."""
    del item, armature
    return None
