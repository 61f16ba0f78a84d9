"""What colour a mesh's faces are painted, as far as its materials tell."""

from typing import Any, cast

import bpy
import numpy as np

from ...core.figure import IntArray
from ...core.layers import Float32Array
from .images import all_nodes
from .node_colour import Faces, colour_of


def read_paint(
    item: bpy.types.Object, mesh: bpy.types.Mesh, corners: IntArray, slots: IntArray
) -> Float32Array:
    """(t, 3) colours in linear light of triangles with ``corners`` (t, 3) and ``slots`` (t,); NaN where nothing tells.

    (0, 3) where no triangle has one.
    """
    paint = np.full((len(corners), 3), np.nan, np.float32)
    slots = np.clip(slots, 0, max(len(item.material_slots) - 1, 0))
    for number in np.unique(slots):
        rows = np.flatnonzero(slots == number)
        material = item.material_slots[int(number)].material if len(item.material_slots) else None
        found = colour_of(material, Faces(mesh, corners[rows]))
        if found is not None:
            paint[rows] = found
    return paint if np.isfinite(paint).any() else np.zeros((0, 3), np.float32)


def paint_mark(item: bpy.types.Object) -> str:
    """What tells the materials' colours, without loading an image."""
    slots = [slot.material for slot in item.material_slots]
    return repr([None if one is None else (one.name_full, tuple(cast("Any", one.diffuse_color)), _nodes_mark(one)) for one in slots])


def _nodes_mark(material: bpy.types.Material) -> list[tuple[Any, ...]]:
    """The images of a material and the colours set in its nodes, in groups too."""
    said: list[tuple[Any, ...]] = []
    nodes: Any = all_nodes(material.node_tree) if material.node_tree is not None else ()
    for node in nodes:
        sockets = node.outputs if node.bl_idname == "ShaderNodeRGB" else node.inputs
        said += [tuple(one.default_value) for one in sockets if one.type == "RGBA"]
        image = node.image if node.bl_idname == "ShaderNodeTexImage" else None
        if image is not None:
            said.append((image.name_full, image.filepath, image.is_dirty))
    return said
