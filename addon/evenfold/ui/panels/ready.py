"""What an engine or a stage will stumble over, apart from the halves."""

import bpy

from ...core.findings import FigureResult, Readiness
from .. import state
from .shared import Sidebar, say, warn_stale

ICONS = {"error": "CANCEL", "warning": "ERROR", "note": "INFO"}
ORDER = tuple(ICONS)


class EVENFOLD_PT_ready(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_ready"
    bl_label = "Before Hand-off"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 2

    def draw(self, context: bpy.types.Context) -> None:
        results = state.of(context.scene)
        if results is None or results.check is None:
            say(self.layout, context, "Not checked yet: press Check Symmetry.")
            return
        warn_stale(self.layout, context, results.stale)
        draw_ready(self.layout, context, results.check)


def entries(result: FigureResult) -> list[Readiness]:
    """What concerns the hand-off, the gravest first, else in the order of the check."""
    told = [entry for entry in result.readiness if entry.code.startswith("ready-")]
    return sorted(told, key=lambda entry: ORDER.index(entry.level))


def draw_ready(
    layout: bpy.types.UILayout, context: bpy.types.Context, result: FigureResult
) -> None:
    told = entries(result)
    if not told:
        say(layout, context, f"{result.name}: nothing stands in the way", "CHECKMARK")
        return
    for entry in told:
        say(layout.box(), context, entry.message, ICONS[entry.level])


CLASSES = (EVENFOLD_PT_ready,)
