"""Rest bones in world space."""

import bpy
import numpy as np
from mathutils import Matrix

from ...core.figure import Armature, Bone, FloatArray, transform_points
from .place import as_array


def read_armature(item: bpy.types.Object, world: Matrix) -> Armature:
    """The rest bones of an armature object that stands at ``world``."""
    if item.data.is_editmode:
        item.update_from_editmode()
    matrix = as_array(world)
    bones = tuple(_read_bone(bone, matrix) for bone in item.data.bones)
    return Armature(item.name, bones, matrix)


def _read_bone(bone: bpy.types.Bone, world: FloatArray) -> Bone:
    ends = np.array([bone.head_local[:], bone.tail_local[:]], np.float64)
    head, tail = transform_points(world, ends)
    axes = (world[:3, :3] @ as_array(bone.matrix_local)[:3, :3]).T
    lengths = np.linalg.norm(axes, axis=1, keepdims=True)
    axes = axes / np.where(lengths > 0.0, lengths, 1.0)
    parent = bone.parent.name if bone.parent is not None else None
    return Bone(bone.name, parent, head, tail, axes, bone.use_deform, bone.use_connect)
