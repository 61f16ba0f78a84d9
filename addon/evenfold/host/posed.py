"""Whether armatures are shown in another pose than the rest pose that is measured."""

from collections.abc import Iterable

import bpy

SLIGHT = 0.01
"""A bone turned by less than this, or moved by less than this share of its length, rests; our choice."""


def any_posed(items: Iterable[bpy.types.Object]) -> bool:
    """True where one of the armatures among ``items`` shows a pose."""
    return any(
        item.type == "ARMATURE" and item.data.pose_position == "POSE" and item.pose is not None
        and any(_moved(bone) for bone in item.pose.bones)
        for item in items
    )


def _moved(bone: bpy.types.PoseBone) -> bool:
    rest, shown = bone.bone.matrix_local, bone.matrix
    turned = any(abs(shown[i][j] - rest[i][j]) > SLIGHT for i in range(3) for j in range(3))
    return turned or bool((shown.translation - rest.translation).length > SLIGHT * bone.bone.length)
