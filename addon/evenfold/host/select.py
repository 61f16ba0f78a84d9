"""Selecting exactly the elements of findings, from whatever mode the artist is in."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import cast

import bmesh
import bpy

from ..core.errors import EvenfoldError
from ..core.figure import IntArray


class SelectionError(EvenfoldError):
    """Nothing could be selected."""


@dataclass(frozen=True)
class Wanted:
    """Vertex numbers (k,) of a stored mesh, and how many vertices it had when they were found."""

    vertices: IntArray
    mesh_size: int


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
    usable: list[bpy.types.Object] = []
    refused: list[str] = []
    for name, entry in wanted.items():
        reason = _refusal(context, name, entry)
        if reason is None:
            usable.append(context.view_layer.objects[name])
        else:
            refused.append(reason)
    if not usable:
        raise SelectionError(" ".join(refused) or "There is nothing to select here.")
    _enter_edit_mode(context, usable)
    count = hidden = 0
    for item in usable:
        chosen, unseen = _select_in(item, wanted[item.name].vertices)
        count += chosen
        hidden += unseen
    return Selected(count, hidden, tuple(refused))


def _refusal(context: bpy.types.Context, name: str, entry: Wanted) -> str | None:
    item = context.view_layer.objects.get(name)
    if item is None:
        return f"{name} is not in this view layer any more: check again."
    if item.library is not None or item.data.library is not None:
        return f"{name} is linked from another file: open that file to select in it."
    if item.hide_select:
        return f"{name} is set unselectable: allow selecting it in the outliner first."
    if not item.visible_get():
        return f"{name} is hidden: show it first."
    item.update_from_editmode()
    if len(item.data.vertices) != entry.mesh_size:
        return f"{name} was changed since the check: check again."
    return None


def _enter_edit_mode(context: bpy.types.Context, items: list[bpy.types.Object]) -> None:
    active = context.view_layer.objects.active
    if active is not None and active.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    for item in list(context.view_layer.objects):
        item.select_set(False)
    for item in items:
        item.select_set(True)
    context.view_layer.objects.active = items[0]
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_mode(type="VERT")
    bpy.ops.mesh.select_all(action="DESELECT")


def _select_in(item: bpy.types.Object, vertices: IntArray) -> tuple[int, int]:
    mesh = cast("bpy.types.Mesh", item.data)
    if not mesh.is_editmode:
        return 0, 0
    edit = bmesh.from_edit_mesh(mesh)
    edit.verts.ensure_lookup_table()
    edit.select_mode = {"VERT"}
    chosen = hidden = 0
    for index in sorted(set(vertices.tolist())):
        vertex = edit.verts[index]
        hidden += vertex.hide
        if not vertex.hide:
            vertex.select = True
            chosen += 1
    edit.select_flush_mode()
    bmesh.update_edit_mesh(mesh, loop_triangles=False, destructive=False)
    return chosen, hidden
