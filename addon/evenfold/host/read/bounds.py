"""How far a figure reaches, from its objects' boxes."""

import bpy
import numpy as np

from ...core.figure import FloatArray
from ..named import found
from .place import as_array


def corners_of(scene: bpy.types.Scene, names: tuple[str, ...]) -> FloatArray:
    """(8 n, 3) world corners of the boxes around the meshes of these names in the scene.

    As the host last drew them, pose and modifiers included; empty if there are none.
    """
    boxes = [np.zeros((0, 3))]
    for item in found(scene.objects, names):
        if item.type == "MESH":
            matrix = as_array(item.matrix_world)
            box = np.array([corner[:] for corner in item.bound_box], float)
            if np.isfinite(box).all() and np.ptp(box, axis=0).max() > 0:
                boxes.append(box @ matrix[:3, :3].T + matrix[:3, 3])
    return np.concatenate(boxes)
