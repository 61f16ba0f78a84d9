"""Painted masks kept as attributes of the mesh."""

import bpy
import numpy as np

from ...core.layers import Mask

DOMAINS = {"POINT": "vertex", "CORNER": "corner"}
FIELDS = {"FLOAT_COLOR": ("color", 4), "BYTE_COLOR": ("color_srgb", 4), "FLOAT": ("value", 1)}
"""The kinds of attribute read as masks: property and channels. Byte colours as they are stored."""
MODELLING = frozenset({"crease_vert", "bevel_weight_vert"})
"""Values of the host's modelling tools, which nobody paints."""
OWN = "evenfold"


def read_masks(mesh: bpy.types.Mesh) -> tuple[Mask, ...]:
    """Colour and number attributes that people paint, on vertices or face corners, by name."""
    painted = [one for one in mesh.attributes if _painted(one)]
    return tuple(_mask(one) for one in sorted(painted, key=lambda one: one.name))


def _painted(attribute: bpy.types.Attribute) -> bool:
    name = attribute.name
    if name.startswith((".", OWN)) or name in MODELLING or attribute.is_internal:
        return False
    return attribute.domain in DOMAINS and attribute.data_type in FIELDS


def _mask(attribute: bpy.types.Attribute) -> Mask:
    field, channels = FIELDS[attribute.data_type]
    values = np.zeros(len(attribute.data) * channels, np.float32)
    attribute.data.foreach_get(field, values)
    return Mask(attribute.name, DOMAINS[attribute.domain], values.reshape(-1, channels))
