"""The armature of the figure the panel means, and what was last found wrong in its bone map."""

import bpy

from ..core.humanoid_table import MapTrouble, troubles
from ..host import bone_map
from ..host.named import find
from ..host.read import armature_of
from .choice import choice_of

_found: dict[int, tuple[str, tuple[MapTrouble, ...]]] = {}
"""By armature object: the kept map as text, and the troubles found in it, for this session."""


def rig_of(context: bpy.types.Context) -> bpy.types.Object | None:
    """The armature object of the figure the panel means; cheap enough for drawing."""
    choice = choice_of(context)
    if choice is None:
        return None
    if choice.kind == "COLLECTION":
        items = list(bpy.data.collections[choice.name].all_objects)
    else:
        items = [find(context.scene.objects, choice.name)]
    for item in items:
        if item is None:
            continue
        rig = item if item.type == "ARMATURE" else armature_of(item)
        if rig is not None:
            return rig
    return None


def look_over(item: bpy.types.Object) -> tuple[MapTrouble, ...]:
    """Find and remember what is wrong in the kept map; nothing where none is kept."""
    kept = bone_map.stored_map(item)
    found = () if kept is None else troubles(kept, bone_map.rest_bones(item))
    _found[item.session_uid] = (_text(item), found)
    return found


def last_troubles(item: bpy.types.Object) -> tuple[MapTrouble, ...]:
    """What was last found wrong, if the map is still the same."""
    text, found = _found.get(item.session_uid, ("", ()))
    return found if text == _text(item) else ()


def _text(item: bpy.types.Object) -> str:
    return str(item.get(bone_map.BONE_MAP_KEY, ""))
