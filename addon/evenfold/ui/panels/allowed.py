"""Deliberate asymmetry: what is excused, and why; and the baseline of a bought base."""

from typing import Any

import bpy

from ...host import allowances, baselines
from .. import state
from ..choice import choice_of
from ..language import tr
from ..operators.allowed import LAYER_NAMES, NAMED_KINDS
from ..words import uses_by_mark
from .shared import Sidebar, figure_items, say

_ICONS: dict[str, Any] = {
    "selection": "VERTEXSEL", "group": "GROUP_VERTEX", "material": "MATERIAL",
    "object": "OBJECT_DATA", "bones": "BONE_DATA", "bone": "BONE_DATA", "key": "SHAPEKEY_DATA", "layer": "RENDERLAYERS",
}


class EVENFOLD_PT_allowed(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_allowed"
    bl_label = "Meant to Differ"
    bl_parent_id = "EVENFOLD_PT_symmetry"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 2

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        column = layout.column(align=True)
        column.operator("evenfold.allow_selection", icon="VERTEXSEL")
        column.operator_menu_enum("evenfold.allow_named", "kind", text="Excuse Active", icon="ADD")
        column.operator_menu_enum("evenfold.allow_layer", "layer", icon="RENDERLAYERS")
        if choice_of(context) is None:
            return
        results = state.of(context.scene)
        used = uses_by_mark(results.check) if results is not None and results.check else {}
        items = figure_items(context)
        shown = False
        for item in items:
            for row in allowances.stored_on(item):
                draw_allowance(layout, context, row, used.get((row.mark, "" if row.whole else row.owner)))
                shown = True
        if not shown:
            say(layout, context, "Nothing is excused.")


def draw_allowance(
    layout: bpy.types.UILayout,
    context: bpy.types.Context,
    row: allowances.StoredAllowance,
    count: int | None,
) -> None:
    box = layout.box().column(align=True)
    head = box.row(align=True)
    head.label(text=title_of(row), icon=_ICONS.get(row.kind, "NONE"), translate=False)
    if row.kind not in ("key", "layer") and not (row.code and row.kind == "group"):
        button = head.operator("evenfold.show_allowance", text="", icon="RESTRICT_SELECT_OFF")
        button.object_name, button.mark = row.owner, row.mark
    button = head.operator("evenfold.forget_allowance", text="", icon="X")
    button.object_name, button.mark = row.owner, row.mark
    say(box, context, row.reason or "No reason given.", "BLANK1", own=bool(row.reason))
    if count is None:
        return
    if count:
        box.label(text=tr(f"excuses {count:,}"), icon="BLANK1")
    else:
        say(box, context, "Covers no difference any more: it can go.", "INFO")


def title_of(row: allowances.StoredAllowance) -> str:
    """What an allowance covers, in a few words."""
    if row.kind == "layer":
        return tr(LAYER_NAMES.get(row.subject, (row.subject, ""))[0])
    if row.kind == "selection":
        return tr(f"{row.subject} on {row.owner}" if row.subject else f"Vertices of {row.owner}")
    labels = {entry[0]: entry[1] for entry in NAMED_KINDS} | {"bone": "Bone"}
    return f"{tr(labels.get(row.kind, row.kind))} {row.subject or row.owner}"


class EVENFOLD_PT_baseline(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_baseline"
    bl_label = "Baseline"
    bl_parent_id = "EVENFOLD_PT_symmetry"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 3

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        kept = any(item.get(baselines.KEY) is not None for item in figure_items(context))
        if kept:
            say(layout, context, "New differences are told apart from inherited ones.", "CHECKMARK")
        else:
            say(layout, context, "Save what a base came with, to see later what is new.", "INFO")
        column = layout.column(align=True)
        column.operator("evenfold.save_baseline", icon="FILE_TICK")
        if kept:
            column.operator("evenfold.forget_baseline", icon="X")


CLASSES = (EVENFOLD_PT_allowed, EVENFOLD_PT_baseline)
