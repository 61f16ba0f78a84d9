"""Writing rest bones: in edit mode, which is the only way to them, and out again as it was."""

from collections.abc import Iterator
from contextlib import contextmanager

import bpy
import numpy as np
from mathutils import Matrix, Vector

from ...core.errors import EvenfoldError
from ...core.repair.changes import BoneSet, BonesSet
from ..named import find, holds, unique_name
from .mode import object_mode

SAME_AXIS = 1e-5
"""Rest axes closer than this (radians) are left as they are stored."""

OWN = frozenset(
    {"name", "head", "tail", "roll", "length", "matrix", "parent", "use_connect", "use_deform", "select",
     "select_head", "select_tail", "hide", "hide_select", "lock"}
)
"""What a made bone does not take from the one it mirrors."""

SIDED = ("bbone_rollin", "bbone_rollout", "bbone_curveinx", "bbone_curveoutx")
"""Settings that change their sign in the mirror."""


def write_bones(item: bpy.types.Object, change: BonesSet) -> None:
    """Set all bones of a change at once, so that connected chains hold.

    Objects that hang on a bone stay where they are at rest. Afterwards mode, active object,
    selection, active bone and X-mirror are as before; the pose is not touched.
    """
    hanging = _hanging(item, {one.bone for one in change.bones})
    with _edit_mode(item) as bones:
        for one in change.bones:
            if one.like is not None:
                _make(bones, one)
        for one in change.bones:
            bones[one.bone].use_connect = False
        for one in change.bones:
            _set(bones, one)
        for one in change.bones:
            bones[one.bone].use_connect = one.connected
    for one in change.bones:
        if one.like is not None:
            item.pose.bones[one.bone].rotation_mode = item.pose.bones[one.like].rotation_mode
    for name, inverse in hanging.items():
        child = find(bpy.data.objects, name)
        child.matrix_parent_inverse = _tail(item.data.bones[child.parent_bone]).inverted() @ inverse


def refuse_bones(item: bpy.types.Object, change: BonesSet) -> str | None:
    """A sentence where the bones must not be written."""
    if item.type != "ARMATURE":
        return f"{item.name} is no armature any more: check again."
    bones = item.data.edit_bones if item.data.is_editmode else item.data.bones
    made = {one.bone for one in change.bones}
    for one in change.bones:
        if (one.like or one.bone) not in bones:
            return f"{item.name} has no bone {one.like or one.bone} any more: check again."
        if one.like is not None and one.bone in bones:
            return f"{item.name} has a bone {one.bone} already: check again."
        if one.parent is not None and one.parent not in bones and one.parent not in made:
            return f"{item.name} has no bone {one.parent} any more: check again."
    if any(child.library or child.override_library for child in _on_bones(item, {one.bone for one in change.bones})):
        return f"Something linked hangs on a bone of {item.name}, and would move with it: repair it by hand."
    return _unreachable(item)


def _unreachable(item: bpy.types.Object) -> str | None:
    """Rest bones can be written only in Edit Mode, which hidden armatures do not let in."""
    told = (
        f"{item.name} is hidden, or its collection is switched off: show it first, because rest "
        "bones can only be changed in Edit Mode."
    )
    if not holds(bpy.context.view_layer.objects, item):
        return told
    if item.mode == "EDIT" or item.visible_get():
        return None
    if item.hide_get():
        item.hide_set(False)
        shown = item.visible_get()
        item.hide_set(True)
        if shown:
            return None
    return told


@contextmanager
def _edit_mode(item: bpy.types.Object) -> Iterator[bpy.types.ArmatureEditBones]:
    """The armature's edit bones, alone in edit mode and without X-mirror.

    An override of the context does not do here: measured in 4.2, 4.5 and 5.2, the mode operator
    then ends without an error and without edit mode.
    """
    layer = bpy.context.view_layer
    with object_mode([other for other in layer.objects if other.mode == "EDIT"]):
        active, mode, shown = layer.objects.active, item.mode, item.data.bones.active
        active_bone = shown.name if shown is not None else None
        chosen = [unique_name(other) for other in layer.objects if other.select_get()]
        alike = [unique_name(other) for other in layer.objects if other.mode == mode]
        mirrored = item.data.use_mirror_x
        for other in layer.objects:
            other.select_set(other == item)
        layer.objects.active = item
        item.data.use_mirror_x = False
        try:
            bpy.ops.object.mode_set(mode="EDIT")
            if item.mode != "EDIT":
                raise EvenfoldError(f"{item.name} does not go into Edit Mode: make it local and visible.")
            yield item.data.edit_bones
        finally:
            bpy.ops.object.mode_set(mode="OBJECT")
            if mode != "OBJECT":
                for other in layer.objects:
                    other.select_set(unique_name(other) in alike)
                bpy.ops.object.mode_set(mode=mode)
            item.data.use_mirror_x = mirrored
            item.data.bones.active = item.data.bones[active_bone] if active_bone is not None else None
            for other in layer.objects:
                other.select_set(unique_name(other) in chosen)
            layer.objects.active = active


def _make(bones: bpy.types.ArmatureEditBones, one: BoneSet) -> None:
    """A new bone with the settings, collections and numbers of the one it mirrors."""
    like, made = bones[one.like], bones.new(one.bone)
    made.head, made.tail = one.head.tolist(), one.tail.tolist()
    for entry in like.bl_rna.properties:
        name = entry.identifier
        if entry.type not in {"POINTER", "COLLECTION"} and not entry.is_readonly and name not in OWN:
            setattr(made, name, getattr(like, name))
    for name in SIDED:
        setattr(made, name, -getattr(like, name))
    for collection in like.collections:
        collection.assign(made)
    for key, value in like.items():
        made[key] = value
    made.select = made.select_head = made.select_tail = False
    made.hide = like.hide


def _set(bones: bpy.types.ArmatureEditBones, one: BoneSet) -> None:
    """Only what differs is written, so that the rest stays as it is stored."""
    bone = bones[one.bone]
    bone.use_deform = one.deform
    parent = bones[one.parent] if one.parent is not None else None
    if bone.parent != parent:
        bone.parent = parent
    ends = np.array([bone.head[:], bone.tail[:]], np.float32)
    wanted = np.array([one.head, one.tail], np.float32)
    moved = not np.array_equal(ends, wanted)
    if moved:
        bone.head, bone.tail = wanted[0].tolist(), wanted[1].tolist()
    z_axis = Vector(one.z_axis.tolist())
    if moved or one.like is not None or bone.z_axis.angle(z_axis, 0.0) > SAME_AXIS:
        bone.align_roll(z_axis)


def _on_bones(item: bpy.types.Object, names: set[str]) -> list[bpy.types.Object]:
    return [
        child for child in bpy.data.objects
        if child.parent == item and child.parent_type == "BONE" and child.parent_bone in names
    ]


def _hanging(item: bpy.types.Object, names: set[str]) -> dict[str, Matrix]:
    """What hangs on these bones and moves with them, with its place at rest in the armature's space."""
    bones = item.data.bones
    return {
        unique_name(child): _tail(bones[child.parent_bone]) @ child.matrix_parent_inverse
        for child in _on_bones(item, names)
        if child.parent_bone in bones and not bones[child.parent_bone].use_relative_parent
    }


def _tail(bone: bpy.types.Bone) -> Matrix:
    return bone.matrix_local @ Matrix.Translation((0.0, bone.length, 0.0))
