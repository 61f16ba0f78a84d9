"""The reference drawing beside the model."""

import bpy

from ...core.proportion.compare import CompareRow
from .. import state
from ..sheet import Sheet, sheet_of
from ..words import length
from .shared import Sidebar, say


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
        heads = "" if sheet.drawn is None else f", {sheet.drawn.levels[name]:.2f} heads down"
        row.label(text=f"{_title(name)}{heads}", icon="DOT")
        row.operator("evenfold.unmark_drawing", text="", icon="X").landmark = name


def draw_count(layout: bpy.types.UILayout, context: bpy.types.Context, sheet: Sheet) -> None:
    """The drawing's count, and beside it the model's with every landmark both have."""
    box, found = layout.box(), sheet.comparison
    box.label(text=f"Drawing: {sheet.drawn.heads_tall:.2f} heads tall", icon="IMAGE_REFERENCE")
    if found is None:
        say(box, context, "Measure the figure to see it beside the drawing.", "INFO")
        return
    box.label(text=f"Model: {found.heads_here:.2f} heads tall", icon="USER")
    more = found.heads_here - found.heads_there
    if abs(more) >= 0.005:
        words = "more" if more > 0 else "fewer"
        box.label(text=f"{abs(more):.2f} heads {words} than drawn", icon="BLANK1")
    _columns(layout, "From crown", "Drawing", "Model")
    column = layout.column(align=True)
    for row in found.rows:
        _columns(column, _title(row.name), f"{row.there:.2f}", f"{row.here:.2f}")
        _columns(column, "", difference_of(row, context.scene))


def draw_matching(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    chosen, results = context.scene.evenfold_drawing, state.of(context.scene)
    column = layout.column(align=True)
    column.row(align=True).prop(chosen, "way", expand=True)
    row = column.row(align=True)
    row.prop(chosen, "sideways", toggle=True)
    row.prop(chosen, "straighten", toggle=True)
    row = column.row(align=True)
    row.enabled = results is not None and results.proportion is not None
    row.operator("evenfold.match_drawing", icon="FULLSCREEN_ENTER")


def difference_of(row: CompareRow, scene: bpy.types.Scene) -> str:
    """How the model differs from the drawing in one row."""
    if abs(row.difference) < 0.005:
        return "the same"
    words = "higher" if row.difference > 0 else "lower"
    return f"model {abs(row.difference):.2f} {words}, {length(scene, abs(row.metres))}"


def _columns(layout: bpy.types.UILayout, name: str, *values: str) -> None:
    row = layout.split(factor=0.45 if len(values) > 1 else 0.15)
    row.label(text=name)
    for value in values:
        row.label(text=value)


def _title(name: str) -> str:
    return name.replace("_", " ").capitalize()


CLASSES = (EVENFOLD_PT_drawing,)
