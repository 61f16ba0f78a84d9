"""What an engine or a stage will stumble over, apart from the halves."""

import bpy

from ...core.findings import FigureResult
from .. import state
from ..once import handed_off
from .shared import OfResults, say, say_once

ICONS = {"error": "CANCEL", "warning": "ERROR", "note": "INFO"}


class EVENFOLD_PT_ready(OfResults, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_ready"
    bl_label = "Before Hand-off"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 2

    def draw(self, context: bpy.types.Context) -> None:
        results = state.of(context.scene)
        if results is None or results.check is None:
            say(self.layout, context, "Not checked yet: press Check Symmetry.")
            return
        self.layout.active = not results.stale
        draw_ready(self.layout, context, results.check)


def draw_ready(
    layout: bpy.types.UILayout, context: bpy.types.Context, result: FigureResult
) -> None:
    told = handed_off(result.readiness)
    if not told:
        say(layout, context, f"{result.name}: nothing stands in the way", "CHECKMARK")
        return
    for number, entry in enumerate(told):
        row = layout.box().row(align=True)
        say_once(row.column(align=True), context, entry, ICONS[entry.level], beside=bool(entry.places))
        if entry.places:
            row.operator("evenfold.show_ready", text="", icon="RESTRICT_SELECT_OFF").number = number


CLASSES = (EVENFOLD_PT_ready,)
