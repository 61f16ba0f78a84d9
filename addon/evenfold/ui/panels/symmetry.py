"""What does not match between the halves."""

from collections.abc import Collection, Sequence
from functools import partial
from typing import Any

import bpy

from ...core.allowances import LAYER_OF_CODE
from ...core.findings import NOTE_CODES, FigureResult, Finding, ObjectResult, ways
from ...core.marks import step_text
from ...core.plane import PLANES, doubt
from ...core.repair import REPAIRS
from ...core.report.wording import IN_MOTION, counted
from .. import looking, state
from ..language import tr
from ..once import about, noted
from ..words import amount, finding_size, length
from .shared import (
    ASKED_OTHERWISE,
    OfResults,
    asked_otherwise,
    fact,
    say,
    say_once,
    shortened,
    warn,
)

SIDE_ROWS = (("LISTED", "PARTNERS", "BOTH"), ("LEFT", "RIGHT"))
LAYER_ICONS = {
    "surface": "VERTEXSEL", "topology": "EDGESEL", "normals": "NORMALS_VERTEX", "uv": "UV",
    "materials": "MATERIAL", "weights": "MOD_VERTEX_WEIGHT", "shape_keys": "SHAPEKEY_DATA",
    "masks": "BRUSH_DATA", "bones": "BONE_DATA", "physics": "PHYSICS",
}


class EVENFOLD_PT_symmetry(OfResults, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_symmetry"
    bl_label = "Symmetry"
    bl_order = 2

    def draw(self, context: bpy.types.Context) -> None:
        results = state.of(context.scene)
        if results is None or results.check is None:
            say(self.layout, context, "Not checked yet.")
            return
        if not results.stale and asked_otherwise(context.scene, results):
            warn(self.layout, context, ASKED_OTHERWISE)
        self.layout.active = not results.stale
        draw_check(self.layout, context, results.check, results.notes)


def draw_check(
    layout: bpy.types.UILayout, context: bpy.types.Context, result: FigureResult, told_above: Collection[str] = ()
) -> None:
    """The verdict, each object's findings and what is to be noted; not again what is ``told_above``."""
    differing = differences(result)
    say(layout, context, verdict(result.name, differing), "ERROR" if differing else "CHECKMARK")
    if doubtful := doubt(result.plane):
        say(layout.box(), context, doubtful, "ERROR")
    if differing:
        draw_selecting(layout, context)
    excused = sum(entry.allowed for entry in result.objects)
    if excused:
        say(layout, context, f"{excused:,} excused as meant to differ", "INFO")
    if excused or any(entry.findings for entry in result.objects):
        draw_showing(layout, context)
    shared, alone = noted(result.objects)
    for number, entry in enumerate(result.objects):
        draw_object(layout, context, number, entry, alone.get(entry.name, ()))
    column = layout.column(align=True)
    fact(column, "Mirror", PLANES.get(result.plane.how, result.plane.how))
    fact(column, "Tolerance", length(context.scene, result.tolerance, 2))
    shared += about((note for note in result.notes if note not in told_above), (entry.name for entry in result.objects))
    shortened(layout, context, "symmetry_notes", shared, lambda one: say_once(layout, context, one))


def draw_selecting(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """Which side the buttons select, and buttons for all differences and for one kind of them."""
    panel = context.scene.evenfold
    column = layout.column(align=True)
    column.label(text="Selecting takes:")
    for names in SIDE_ROWS:
        row = column.row(align=True)
        for name in names:
            row.prop_enum(panel, "side", name)
    button = column.operator(
        "evenfold.select_asymmetric", text="Select All Differences", icon="RESTRICT_SELECT_OFF"
    )
    button.side = panel.side
    column.operator_menu_enum("evenfold.select_kind", "code", icon="RESTRICT_SELECT_OFF").side = panel.side


def draw_showing(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """The switch for marks on the model, and which of them."""
    chosen, space = context.scene.evenfold_findings, context.space_data
    column = layout.column(align=True)
    column.prop(chosen, "show", toggle=True, icon="HIDE_OFF" if chosen.show else "HIDE_ON")
    if chosen.show:
        column.row(align=True).prop(chosen, "kinds", expand=True)
        if space is not None and space.type == "VIEW_3D" and not space.overlay.show_overlays:
            say(layout, context, "Overlays are off in this view: turn them on to see the marks.", "INFO")


def differences(result: FigureResult) -> list[Finding]:
    """All findings but notes."""
    return [one for entry in result.objects for one in entry.findings if one.code not in NOTE_CODES]


def verdict(name: str, differing: list[Finding]) -> str:
    """How far the halves differ, new apart from inherited where a baseline tells."""
    if not differing:
        return f"{name}: both halves match"
    if any(finding.new is not None for finding in differing):
        new = sum(finding.count for finding in differing if finding.new is not False)
        old = sum(finding.count for finding in differing if finding.new is False)
        if new == 1:
            return f"{name}: 1 new difference, {old:,} inherited"
        return f"{name}: {new:,} new differences, {old:,} inherited"
    kinds = ways(differing)
    if kinds == 1:
        return f"{name}: the halves differ in 1 way"
    return f"{name}: the halves differ in {kinds} ways"


def draw_object(
    layout: bpy.types.UILayout, context: bpy.types.Context, number: int, entry: ObjectResult,
    notes: Sequence[str] = (),
) -> None:
    box = layout.box().column(align=True)
    good = not any(finding.code not in NOTE_CODES for finding in entry.findings)
    icon: Any = "ARMATURE_DATA" if entry.kind == "armature" else "MESH_DATA"
    row = box.row(align=True)
    row.label(text=entry.name, icon=icon if not good else "CHECKMARK", translate=False)
    opened = looking.is_open(context.scene, entry)
    if entry.findings:
        plain = row.row()
        plain.emboss = "NONE"
        toggle = plain.operator(
            "evenfold.fold_object", text="",
            icon="DISCLOSURE_TRI_DOWN" if opened else "DISCLOSURE_TRI_RIGHT",
        )
        toggle.object_index = number
    if entry.kind == "mesh":
        box.label(text=tr(f"{entry.pairs:,} pairs, {entry.centre:,} on the middle"), icon="BLANK1")
    if opened:
        for place, finding in enumerate(entry.findings):
            box.separator(factor=0.7)
            draw_finding(box, context, (number, place), finding)
    elif entry.findings:
        kinds = len(entry.findings)
        text = "1 kind of findings, folded" if kinds == 1 else f"{kinds} kinds of findings, folded"
        box.label(text=tr(text), icon="BLANK1")
    if entry.allowed:
        box.label(text=tr(f"{entry.allowed:,} excused"), icon="BLANK1")
    for note in notes:
        say(box, context, note, "INFO")


def draw_finding(
    box: bpy.types.UILayout, context: bpy.types.Context, at: tuple[int, int], finding: Finding
) -> None:
    """What it is; on what and by how much, with its buttons; the step, if it is looked at."""
    column = box.column(align=True)
    icon = LAYER_ICONS.get(LAYER_OF_CODE.get(finding.code, ""), "DOT")
    say(column, context, counted(finding.code, finding.count), icon)
    if finding.whose:
        say(column, context, finding.whose, "BLANK1", own=True)
    seen = state.of(context.scene).looking
    here = seen is not None and seen.at == at
    row = column.row(align=True)
    row.label(text=finding_size(context.scene, finding) or " ", icon="BLANK1")
    for name, button_icon in buttons_of(finding, here):
        own = row.row(align=True)
        own.enabled = name != "evenfold.repair_finding" or not state.of(context.scene).stale
        button = own.operator(name, text="", icon=button_icon)
        button.object_index, button.finding_index = at
        if name == "evenfold.select_finding":
            button.side = context.scene.evenfold.side
    if finding.advice:
        say(column, context, finding.advice, "BLANK1")
    if here:
        draw_step(column, context, at, finding)


def buttons_of(finding: Finding, here: bool) -> list[tuple[str, Any]]:
    """The operators a finding offers, with their icons."""
    names: list[tuple[str, Any]] = [("evenfold.select_finding", "RESTRICT_SELECT_OFF")]
    if finding.code in REPAIRS:
        names.append(("evenfold.repair_finding", "TOOL_SETTINGS"))
    if finding.code not in NOTE_CODES:
        names.append(("evenfold.allow_finding", "CHECKMARK"))
    return names if here else [*names, ("evenfold.step_finding", "VIEWZOOM")]


def draw_step(
    column: bpy.types.UILayout, context: bpy.types.Context, at: tuple[int, int], finding: Finding
) -> None:
    """Back and forth with where one is, what to do with it, and what it looks like in motion."""
    seen = state.of(context.scene).looking
    laid = seen.laid.objects[at[0]][at[1]]
    row = column.row(align=True)
    back = row.operator("evenfold.step_finding", text="", icon="TRIA_LEFT")
    row.label(text=tr(step_text(finding, laid, seen.step, partial(amount, context.scene))))
    forth = row.operator("evenfold.step_finding", text="", icon="TRIA_RIGHT")
    for button, direction in ((back, "PREVIOUS"), (forth, "NEXT")):
        button.object_index, button.finding_index = at
        button.direction = direction
    row = column.row(align=True)
    row.operator("evenfold.select_step", icon="RESTRICT_SELECT_OFF")
    row.operator("evenfold.select_island", text="Island", icon="STICKY_UVS_LOC")
    row.operator("evenfold.stop_stepping", text="", icon="X")
    if finding.code in IN_MOTION:
        say(column, context, IN_MOTION[finding.code], "PLAY")


CLASSES = (EVENFOLD_PT_symmetry,)
