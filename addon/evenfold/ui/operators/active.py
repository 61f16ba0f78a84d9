"""The active object and what is active on it."""

import bpy

from ...core.errors import EvenfoldError
from ..language import tr

LABELS = {
    "object": "object", "group": "vertex group", "material": "material", "key": "shape key",
    "bone": "bone", "bones": "bone",
}


class NeedsActive:
    """Mix-in for operators that work on the active mesh or armature."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        active = context.view_layer.objects.active
        if active is None or active.type not in ("MESH", "ARMATURE"):
            cls.poll_message_set(tr("Click a mesh or armature of the figure first."))
            return False
        return True


def active_name(item: bpy.types.Object, kind: str) -> str:
    """The name of the active thing of a kind of LABELS. Raises EvenfoldError when there is none."""
    mesh = item.type == "MESH"
    named = {
        "object": item,
        "group": item.vertex_groups.active if mesh else None,
        "material": item.active_material,
        "key": item.active_shape_key if mesh else None,
        "bone": _active_bone(item),
        "bones": _active_bone(item),
    }[kind]
    if named is None:
        raise EvenfoldError(f"{item.name} has no active {LABELS[kind]}: choose one first.")
    return str(named.name)


def _active_bone(item: bpy.types.Object) -> bpy.types.Bone | bpy.types.EditBone | None:
    if item.type != "ARMATURE":
        return None
    return item.data.edit_bones.active if item.mode == "EDIT" else item.data.bones.active
