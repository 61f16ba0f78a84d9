"""What does not match between the halves."""

import bpy

from ...core.allowances import LAYER_OF_CODE
from ...core.findings import NOTE_CODES, FigureResult, Finding, ObjectResult
from ...core.repair import REPAIRS
from .. import state
from ..words import PLANES, finding_size, finding_text, length
from .shared import Sidebar, fact, say, warn_stale

LAYER_ICONS = {
    "surface": "VERTEXSEL", "topology": "EDGESEL", "normals": "NORMALS_VERTEX", "uv": "UV",
    "materials": "MATERIAL", "weights": "MOD_VERTEX_WEIGHT", "shape_keys": "SHAPEKEY_DATA",
    "masks": "BRUSH_DATA", "bones": "BONE_DATA", "physics": "PHYSICS",
}


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
    differing = [
        f for entry in result.objects for f in entry.findings if f.code not in NOTE_CODES
    ]
    if differing:
        say(layout, context, f"{result.name}: {verdict(differing)}", "ERROR")
        layout.prop(context.scene.evenfold, "side", expand=True)
        button = layout.operator(
            "evenfold.select_asymmetric", text="Select All Asymmetric", icon="RESTRICT_SELECT_OFF"
        )
        button.side = context.scene.evenfold.side
    else:
        say(layout, context, f"{result.name}: both halves match", "CHECKMARK")
    excused = sum(entry.allowed for entry in result.objects)
    if excused:
        say(layout, context, f"{excused:,} excused as meant to differ", "INFO")
    for number, entry in enumerate(result.objects):
        draw_object(layout, context, number, entry)
    fact(layout, "Mirror", PLANES.get(result.plane.how, result.plane.how))
    fact(layout, "Tolerance", length(context.scene, result.tolerance))
    for note in result.notes:
        say(layout, context, note, "INFO")


def verdict(differing: list[Finding]) -> str:
    """How far the halves differ, new apart from inherited where a baseline tells."""
    if any(finding.new is not None for finding in differing):
        new = sum(finding.count for finding in differing if finding.new is not False)
        old = sum(finding.count for finding in differing if finding.new is False)
        return f"{new:,} new {'difference' if new == 1 else 'differences'}, {old:,} inherited"
    kinds = len({(finding.code, finding.subject) for finding in differing})
    return f"the halves differ in {kinds} {'way' if kinds == 1 else 'ways'}"


def draw_object(
    layout: bpy.types.UILayout, context: bpy.types.Context, number: int, entry: ObjectResult
) -> None:
    box = layout.box()
    good = not any(finding.code not in NOTE_CODES for finding in entry.findings)
    icon = "ARMATURE_DATA" if entry.kind == "armature" else "MESH_DATA"
    box.label(text=entry.name, icon="CHECKMARK" if good else icon)
    if entry.kind == "mesh":
        box.label(text=f"{entry.pairs:,} pairs, {entry.centre:,} on the middle", icon="BLANK1")
    for place, finding in enumerate(entry.findings):
        draw_finding(box, context, (number, place), finding)
    if entry.allowed:
        box.label(text=f"{entry.allowed:,} excused", icon="BLANK1")
    for note in entry.notes:
        say(box, context, note, "INFO")


def draw_finding(
    box: bpy.types.UILayout, context: bpy.types.Context, at: tuple[int, int], finding: Finding
) -> None:
    """Two lines: what it is with its buttons; on what and by how much."""
    column = box.column(align=True)
    row = column.row(align=True)
    icon = LAYER_ICONS.get(LAYER_OF_CODE.get(finding.code, ""), "DOT")
    row.label(text=finding_text(finding.code, finding.count), icon=icon)
    button = row.operator("evenfold.select_finding", text="", icon="RESTRICT_SELECT_OFF")
    button.object_index, button.finding_index = at
    button.side = context.scene.evenfold.side
    if finding.code in REPAIRS:
        button = row.operator("evenfold.repair_finding", text="", icon="TOOL_SETTINGS")
        button.object_index, button.finding_index = at
    if finding.code not in NOTE_CODES:
        button = row.operator("evenfold.allow_finding", text="", icon="HIDE_ON")
        button.object_index, button.finding_index = at
    subject = finding.subject or ", ".join(finding.names[:3])
    about = ", ".join(text for text in (subject, finding_size(context.scene, finding)) if text)
    if about:
        column.label(text=about, icon="BLANK1")
    if finding.advice:
        say(column, context, finding.advice, "BLANK1")


CLASSES = (EVENFOLD_PT_symmetry,)
