"""Repairs for what the check found."""

import bpy

from ...core.repair import REPAIRS
from .. import state
from ..language import tr
from .shared import Sidebar, say


class EVENFOLD_PT_repair(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_repair"
    bl_label = "Repairs"
    bl_parent_id = "EVENFOLD_PT_symmetry"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        results = state.of(context.scene)
        if results is None or results.check is None:
            say(layout, context, "Check the symmetry first.")
            return
        counts: dict[str, int] = {}
        for entry in results.check.objects:
            for finding in entry.findings:
                counts[finding.code] = counts.get(finding.code, 0) + finding.count
        kinds = [code for code in REPAIRS if counts.get(code)]
        if not kinds:
            say(layout, context, "Nothing here that could be repaired.", "CHECKMARK")
            return
        layout.prop(context.scene.evenfold_repair, "way", expand=True)
        column = layout.column(align=True)
        column.operator("evenfold.repair_all", icon="TOOL_SETTINGS").code = ""
        for code in kinds:
            text = f"{tr(REPAIRS[code].title)} ({counts[code]:,})"
            column.operator("evenfold.repair_all", text=text).code = code
        say(layout, context, "Keep a backup; one undo step per repair.", "INFO")


CLASSES = (EVENFOLD_PT_repair,)
