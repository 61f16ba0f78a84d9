"""Selecting exactly the elements of findings, from whatever mode the artist is in."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, cast

import bmesh
import bpy

from ..core.errors import EvenfoldError
from ..core.figure import IntArray
from .named import find

SelectMode = Literal["VERT", "EDGE", "FACE"]
MODES: dict[str, SelectMode] = {"edge": "EDGE", "face": "FACE"}
"""The select mode that shows elements of a kind; vertices for all others."""


class SelectionError(EvenfoldError):
    """Nothing could be selected."""


@dataclass(frozen=True)
class Wanted:
    """Numbers (k,) in a stored mesh, and how many vertices it had when they were found.

    ``kind`` is "vertex", "edge" or "face"; ``vertices`` holds the numbers of that kind.
    """

    vertices: IntArray
    mesh_size: int
    kind: str = "vertex"


@dataclass(frozen=True)
class Selected:
    """How many vertices were selected, how many are hidden, and sentences on objects left out."""

    count: int
    hidden: int
    refused: tuple[str, ...]


def select_vertices(context: bpy.types.Context, wanted: Mapping[str, Wanted]) -> Selected:
    """Enter edit mode on the objects concerned and select these vertices and no others.

    Hidden elements are counted, not revealed. Raises SelectionError, before anything is
    changed, when no object can be entered.
    """
    usable: dict[str, bpy.types.Object] = {}
    refused: list[str] = []
    for name, entry in wanted.items():
        item = find(context.view_layer.objects, name)
        reason = _refusal(item, name, entry)
        if reason is None and item is not None:
            usable[name] = item
        elif reason is not None:
            refused.append(reason)
    if not usable:
        raise SelectionError(" ".join(refused) or "There is nothing to select here.")
    _enter_edit_mode(context, list(usable.values()), _mode_for(wanted[name].kind for name in usable))
    count = hidden = 0
    for name, item in usable.items():
        chosen, unseen = _select_in(item, wanted[name])
        count += chosen
        hidden += unseen
    return Selected(count, hidden, tuple(refused))


def _refusal(item: bpy.types.Object | None, name: str, entry: Wanted) -> str | None:
    if item is None:
        return f"{name} is not in this view layer any more: check again."
    if not isinstance(item.data, bpy.types.Mesh):
        return f"{name} is no mesh any more: check again."
    if item.library is not None or item.data.library is not None:
        return f"{name} is linked from another file: open that file to select in it."
    if item.hide_select:
        return f"{name} is set unselectable: allow selecting it in the outliner first."
    if not item.visible_get():
        return f"{name} is hidden: show it first."
    item.update_from_editmode()
    if len(item.data.vertices) != entry.mesh_size or not _all_there(item.data, entry):
        return f"{name} was changed since the check: check again."
    return None


def _all_there(mesh: bpy.types.Mesh, entry: Wanted) -> bool:
    """Whether the mesh has every number that is wanted."""
    counts = {"edge": len(mesh.edges), "face": len(mesh.polygons)}
    count = counts.get(entry.kind, len(mesh.vertices))
    numbers = entry.vertices
    return not len(numbers) or bool(numbers.min() >= 0 and numbers.max() < count)


def _mode_for(kinds: Iterable[str]) -> SelectMode:
    """The select mode that shows them all: edges or faces only when there is nothing else."""
    found = set(kinds)
    return MODES.get(found.pop(), "VERT") if len(found) == 1 else "VERT"


def _enter_edit_mode(
    context: bpy.types.Context, items: list[bpy.types.Object], mode: SelectMode = "VERT"
) -> None:
    active = context.view_layer.objects.active
    if active is not None and active.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    for item in list(context.view_layer.objects):
        item.select_set(False)
    for item in items:
        item.select_set(True)
    context.view_layer.objects.active = items[0]
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_mode(type=mode)
    bpy.ops.mesh.select_all(action="DESELECT")


def _select_in(item: bpy.types.Object, wanted: Wanted) -> tuple[int, int]:
    mesh = cast("bpy.types.Mesh", item.data)
    if not mesh.is_editmode:
        return 0, 0
    edit = bmesh.from_edit_mesh(mesh)
    sequences: dict[str, Any] = {"edge": edit.edges, "face": edit.faces}
    sequence = sequences.get(wanted.kind, edit.verts)
    sequence.ensure_lookup_table()
    edit.select_mode = {MODES.get(wanted.kind, "VERT")}
    chosen = hidden = 0
    for index in sorted(set(wanted.vertices.tolist())):
        element = sequence[index]
        hidden += element.hide
        if not element.hide:
            element.select_set(True)
            chosen += 1
    edit.select_flush_mode()
    bmesh.update_edit_mesh(mesh, loop_triangles=False, destructive=False)
    return chosen, hidden


def select_bones(context: bpy.types.Context, name: str, bones: Iterable[str]) -> Selected:
    """Enter pose mode on the armature and select these bones and no others.

    Raises SelectionError, before anything is changed, when the armature cannot be entered.
    """
    rig = find(context.view_layer.objects, name)
    if rig is None or rig.type != "ARMATURE":
        raise SelectionError(f"{name} is not in this view layer any more: check again.")
    if not rig.visible_get():
        raise SelectionError(f"{name} is hidden: show it first.")
    active = context.view_layer.objects.active
    if active is not None and active.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    for item in list(context.view_layer.objects):
        item.select_set(item == rig)
    context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="POSE")
    wanted = set(bones)
    chosen = hidden = 0
    for bone in rig.pose.bones:
        unseen = bool(bone.bone.hide) or bool(getattr(bone, "hide", False))
        pick = bone.name in wanted
        hidden += pick and unseen
        chosen += pick and not unseen
        _set_selected(bone, pick and not unseen)
    first = next((bone for bone in rig.pose.bones if bone.name in wanted), None)
    if first is not None:
        rig.data.bones.active = first.bone
    gone = len(wanted) - chosen - hidden
    refused = (f"{gone} bones are gone: check again.",) if gone else ()
    return Selected(chosen, hidden, refused)


def select_objects(context: bpy.types.Context, names: Iterable[str]) -> Selected:
    """Leave any mode and select these objects and no others; the first one becomes active.

    Raises SelectionError, before anything is changed, when none of them can be selected.
    """
    wanted = list(dict.fromkeys(names))
    items = [find(context.view_layer.objects, name) for name in wanted]
    usable = [item for item in items if item is not None and item.visible_get() and not item.hide_select]
    hidden = sum(item is not None and item not in usable for item in items)
    if not usable:
        raise SelectionError(f"{wanted[0]} is hidden or not in this view layer: show it first.")
    active = context.view_layer.objects.active
    if active is not None and active.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    for item in list(context.view_layer.objects):
        item.select_set(item in usable)
    context.view_layer.objects.active = usable[0]
    return Selected(len(usable), hidden, ())


def _set_selected(bone: bpy.types.PoseBone, chosen: bool) -> None:
    """Selection stands on the pose bone from 5.0 on, on the bone before."""
    if hasattr(bone, "select"):
        bone.select = chosen
    else:
        bone.bone.select = chosen


def show_key(context: bpy.types.Context, name: str, key: str) -> None:
    """Make a shape key the active one. Raises SelectionError when it is gone."""
    item = find(context.view_layer.objects, name)
    keys = item.data.shape_keys if item is not None and item.type == "MESH" else None
    index = keys.key_blocks.find(key) if keys is not None else -1
    if index < 0:
        raise SelectionError(f"{name} has no shape key {key} any more: check again.")
    item.active_shape_key_index = index


def show_group(context: bpy.types.Context, name: str, group: str) -> None:
    """Make a vertex group the active one. Raises SelectionError when it is gone."""
    item = find(context.view_layer.objects, name)
    index = item.vertex_groups.find(group) if item is not None and item.type == "MESH" else -1
    if index < 0:
        raise SelectionError(f"{name} has no vertex group {group} any more: check again.")
    item.vertex_groups.active_index = index
