"""The reference drawing beside the model."""

from collections.abc import Callable

import bpy

from ...core.drawing import DrawnRow
from ...core.report.plan_text import SAME_HEADS
from ...core.spoken import landmark_words
from ..language import tr
from ..sheet import Sheet, sheet_of
from ..words import ruler
from .shared import Sidebar, higher_or_lower, say, table

SAME_HEIGHT = 5e-4
"""A share of a height by which two heights are shown alike."""


class EVENFOLD_PT_drawing(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_drawing"
    bl_label = "Reference Drawing"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, context.scene.evenfold_drawing
        row = layout.row(align=True)
        row.prop(chosen, "item", text="")
        row.operator("evenfold.load_drawing", text="", icon="FILE_FOLDER")
        sheet = sheet_of(context.scene)
        if sheet is None:
            say(layout, context, "Choose the empty that shows the drawing, or load a picture.", "INFO")
            return
        if sheet.fault:
            say(layout, context, sheet.fault, "ERROR")
            return
        draw_marking(layout, context, sheet)
        if sheet.refusal:
            say(layout, context, sheet.refusal, "INFO")
        if sheet.drawn is not None:
            draw_count(layout, context, sheet)
            draw_matching(layout, context)


def draw_marking(layout: bpy.types.UILayout, context: bpy.types.Context, sheet: Sheet) -> None:
    chosen = context.scene.evenfold_drawing
    row = layout.row(align=True)
    row.prop(chosen, "landmark", text="")
    row.operator("evenfold.mark_drawing", text="Mark", icon="EYEDROPPER")
    row.operator("evenfold.mark_drawing_cursor", text="", icon="PIVOT_CURSOR")
    row.prop(chosen, "show", text="", icon="HIDE_OFF" if chosen.show else "HIDE_ON")
    column = layout.column(align=True)
    for name in sorted(sheet.places, key=lambda one: -sheet.places[one][1]):
        row = column.row(align=True)
        heads = "" if sheet.drawn is None else f", {sheet.above_sole(name):.2f} heads up"
        row.label(text=tr(landmark_words(name)) + tr(heads), icon="DOT")
        row.operator("evenfold.unmark_drawing", text="", icon="X").landmark = name


def draw_count(layout: bpy.types.UILayout, context: bpy.types.Context, sheet: Sheet) -> None:
    """The drawing's count, and beside it the model's with every landmark both have."""
    box = layout.box().column(align=True)
    box.label(text=tr(f"Drawing: {sheet.drawn.heads_tall:.2f} heads tall"), icon="IMAGE_REFERENCE")
    if sheet.model_heads is None:
        say(box, context, "Measure the figure to see it beside the drawing.", "INFO")
        return
    box.label(text=tr(f"Model: {sheet.model_heads:.2f} heads tall"), icon="USER")
    more = sheet.model_heads - sheet.drawn.heads_tall
    if abs(more) >= SAME_HEADS:
        text = f"{more:.2f} heads more than drawn" if more > 0 else f"{-more:.2f} heads fewer than drawn"
        box.label(text=tr(text), icon="BLANK1")
    table(box, [("Heads above sole", "Drawn", "Model", "The model's is"), *(heads_cells(row) for row in sheet.rows if row.name != "sole")])
    box.separator(factor=0.5)
    metres = ruler(context.scene, [row.height_here for row in sheet.rows], 3)
    heights = [height_cells(row, metres) for row in sheet.rows]
    table(box, [("At matched size", "Drawn", "Model", "The model's is"), *heights])


def heads_cells(row: DrawnRow) -> tuple[str, str, str, str]:
    """One landmark in heads above each one's sole."""
    words = "the same"
    if abs(row.difference) >= SAME_HEADS:
        words = higher_or_lower(f"{abs(row.difference):.2f}", up=row.difference > 0)
    return landmark_words(row.name), f"{row.heads_there:.2f}", f"{row.heads_here:.2f}", words


def height_cells(row: DrawnRow, metres: Callable[[float], str]) -> tuple[str, str, str, str]:
    """One landmark's height above the model's sole, the drawing matched to the model."""
    here, there = row.height_here, row.height_there
    words = "the same"
    if abs(here - there) > SAME_HEIGHT * max(abs(here), abs(there)):
        words = higher_or_lower(metres(abs(here - there)), up=here > there)
    return landmark_words(row.name), metres(there), metres(here), words


def draw_matching(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    chosen = context.scene.evenfold_drawing
    column = layout.column(align=True)
    column.row(align=True).prop(chosen, "way", expand=True)
    row = column.row(align=True)
    row.prop(chosen, "sideways", toggle=True)
    row.prop(chosen, "straighten", toggle=True)
    column.operator("evenfold.match_drawing", icon="FULLSCREEN_ENTER")


CLASSES = (EVENFOLD_PT_drawing,)
