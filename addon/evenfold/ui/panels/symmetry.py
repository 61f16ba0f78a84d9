"""What does not match between the halves."""

import bpy

from ...core.findings import NOTE_CODES, FigureResult
from .. import state
from ..words import PLANES, finding_size, finding_text, length
from .shared import Sidebar, fact, say, warn_stale


class EVENFOLD_PT_symmetry(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_symmetry"
    bl_label = "Symmetry"
    bl_order = 2

    def draw(self, context: bpy.types.Context) -> None:
        results = state.of(context.scene)
        if results is None or results.check is None:
            say(self.layout, context, "Not checked yet.")
            return
        warn_stale(self.layout, context, results.stale)
        draw_check(self.layout, context, results.check)


def draw_check(
    layout: bpy.types.UILayout, context: bpy.types.Context, result: FigureResult
) -> None:
    side = context.scene.evenfold.side
    unmatched = sum(
        f.count for o in result.objects for f in o.findings if f.code not in NOTE_CODES
    )
    if unmatched:
        say(layout, context, f"{result.name}: the halves differ", "ERROR")
        layout.prop(context.scene.evenfold, "side", expand=True)
        button = layout.operator(
            "evenfold.select_asymmetric", text="Select All Asymmetric", icon="RESTRICT_SELECT_OFF"
        )
        button.side = side
    else:
        say(layout, context, f"{result.name}: both halves match", "CHECKMARK")
    for number, entry in enumerate(result.objects):
        box = layout.box()
        good = not any(f.code not in NOTE_CODES for f in entry.findings)
        box.label(text=entry.name, icon="CHECKMARK" if good else "MESH_DATA")
        box.label(text=f"{entry.pairs:,} pairs, {entry.centre:,} on the middle", icon="BLANK1")
        for place, finding in enumerate(entry.findings):
            text = finding_text(finding.code, finding.count)
            row = box.row(align=True)
            row.label(text=text)
            button = row.operator("evenfold.select_finding", text="", icon="RESTRICT_SELECT_OFF")
            button.object_index, button.finding_index, button.side = number, place, side
            about = finding_size(context.scene, finding)
            if about:
                box.label(text=about, icon="BLANK1")
        for note in entry.notes:
            say(box, context, note, "INFO")
    fact(layout, "Mirror", PLANES.get(result.plane.how, result.plane.how))
    fact(layout, "Tolerance", length(context.scene, result.tolerance))
    for note in result.notes:
        say(layout, context, note, "INFO")


CLASSES = (EVENFOLD_PT_symmetry,)
