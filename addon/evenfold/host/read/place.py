"""Where objects stand when every armature is in its rest pose, and how long a scene unit is."""

import bpy
import numpy as np
from mathutils import Matrix

from ...core.figure import FloatArray


def metres_per_unit(scene: bpy.types.Scene) -> float:
    """How long a scene unit is; one metre where the scene has no unit system, whatever its scale."""
    units = scene.unit_settings
    return 1.0 if units.system == "NONE" else float(units.scale_length)


def rest_world(item: bpy.types.Object) -> Matrix:
    """The object's world matrix with all armatures above it at rest.

    Worked out from the object's own values, so it does not wait for the scene's update.
    Constrained objects and those parented to vertices stand where the host last put them.
    """
    if len(item.constraints) or item.parent_type in {"VERTEX", "VERTEX_3", "LATTICE"}:
        return item.matrix_world.copy()
    if item.parent is None:
        return item.matrix_basis.copy()
    above = rest_world(item.parent)
    if item.parent_type == "BONE":
        above = above @ _bone_tail(item)
    return above @ item.matrix_parent_inverse @ item.matrix_basis


def _bone_tail(item: bpy.types.Object) -> Matrix:
    """The rest frame at the tail of the bone an object hangs on, in the armature's space."""
    armature = item.parent
    bone = armature.data.bones.get(item.parent_bone) if armature.type == "ARMATURE" else None
    if bone is None or bone.use_relative_parent:
        return Matrix.Identity(4)
    return bone.matrix_local @ Matrix.Translation((0.0, bone.length, 0.0))


def bone_parent(item: bpy.types.Object) -> str | None:
    """The bone that carries the object or one of its parents, if any."""
    current: bpy.types.Object | None = item
    while current is not None:
        if current.parent is not None and current.parent_type == "BONE":
            return current.parent_bone or None
        current = current.parent
    return None


def as_array(matrix: Matrix) -> FloatArray:
    """The (4, 4) array of a host matrix."""
    return np.array([row[:] for row in matrix], np.float64)
