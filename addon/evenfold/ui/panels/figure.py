"""Which figure is meant, against which limits, and what is guessed of it."""

from typing import Any

import bpy

from ...core.plane import PLANES, doubt
from .. import first, state
from ..choice import choice_of, missing
from ..language import tr
from ..left_out import LeftOut, listed
from .shared import ASKED_OTHERWISE, Sidebar, asked_otherwise, fact, say, shortened
from .symmetry import differences, verdict

ICONS: dict[str, Any] = {
    "ARMATURE": "ARMATURE_DATA", "COLLECTION": "OUTLINER_COLLECTION", "INSTANCE": "OUTLINER_OB_GROUP_INSTANCE",
}


class EVENFOLD_PT_figure(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_figure"
    bl_label = "Figure"
    bl_order = 0

    def draw(self, context: bpy.types.Context) -> None:
        layout, panel = self.layout, context.scene.evenfold
        column = layout.column(align=True)
        column.prop(panel, "figure_from", text="")
        if panel.figure_from == "ARMATURE":
            column.prop(panel, "armature", text="")
        elif panel.figure_from == "COLLECTION":
            column.prop(panel, "collection", text="")
        choice = choice_of(context)
        if choice is not None:
            layout.label(text=choice.name, icon=ICONS.get(choice.kind, "MESH_DATA"), translate=False)
        draw_first(layout, context)
        draw_limits(layout, panel)
        buttons = layout.column(align=True)
        buttons.scale_y = 1.3
        buttons.operator("evenfold.measure", text="Measure", icon="DRIVER_DISTANCE")
        buttons.operator("evenfold.check_symmetry", text="Check Symmetry", icon="MOD_MIRROR")
        draw_outcome(layout, context)


def draw_outcome(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """In short what came of the buttons: the panels with all of it may be out of sight."""
    results = state.of(context.scene)
    if results is None or (results.proportion is None and results.check is None):
        return
    box = layout.box().column(align=True)
    if not results.stale and asked_otherwise(context.scene, results):
        say(box, context, ASKED_OTHERWISE, "ERROR")
        return
    heads = results.proportion.heads_tall if results.proportion is not None else None
    if results.stale:
        box.label(text="Out of date: run it again", icon="ERROR")
        box = box.column(align=True)
        box.active = False
    elif heads is None:
        say(box, context, "No count could be made.", "ERROR")
    else:
        box.label(text=tr(f"{heads:.2f} heads tall"), icon="USER")
    if results.check is not None:
        differing = differences(results.check)
        say(box, context, verdict(results.check.name, differing), "ERROR" if differing else "CHECKMARK")
        if doubt(results.check.plane):
            say(box, context, "Hardly anything matches about the mirror plane: see Symmetry.", "ERROR")
        elif differing:
            say(box, context, "What and where is listed under Symmetry.", "BLANK1")


def draw_limits(layout: bpy.types.UILayout, panel: bpy.types.PropertyGroup) -> None:
    limits = layout.column()
    limits.use_property_split = True
    limits.use_property_decorate = False
    row = limits.row(heading=tr("Target"))
    row.prop(panel, "has_target", text="")
    field = row.row()
    field.enabled = panel.has_target
    field.prop(panel, "target_heads", text="")
    limits.prop(panel, "tolerance", text="Tolerance")
    if panel.tolerance == 0:
        limits.label(text="0 means height / 10,000", icon="BLANK1")
    limits.prop(panel, "plane", text="Mirror")


def draw_first(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """What stands in the way or is unusual, figures to choose from, and what to press first."""
    found, choice = first.look(context), choice_of(context)
    if choice is None and found is None:
        say(layout, context, missing(context), "INFO")
        return
    results = state.of(context.scene)
    begun = results is not None and choice is not None and results.figure_name == choice.name
    if found is not None and (found.said or found.others) and not begun:
        box = layout.box().column(align=True)
        for one in found.said:
            say(box, context, one.text, "ERROR" if one.grave else "INFO")
        if found.others:
            box.separator(factor=0.5)
            box.label(text="Figures in this scene:", icon="BLANK1")
        for name in found.others:
            box.operator("evenfold.choose_figure", text=name, translate=False, icon="RESTRICT_SELECT_OFF").name = name
    if results is None and choice is not None and (found is None or not any(one.grave for one in found.said)):
        say(layout, context, "First press Measure to count the heads, or Check Symmetry to do both.", "FORWARD")


class EVENFOLD_PT_guesses(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_guesses"
    bl_label = "Guesses"
    bl_parent_id = "EVENFOLD_PT_figure"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 0

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return choice_of(context) is not None and _begun(context)

    def draw(self, context: bpy.types.Context) -> None:
        draw_guesses(self.layout, context)


class EVENFOLD_PT_first_guesses(Sidebar, bpy.types.Panel):
    """Stands open until the figure has been measured or checked."""

    bl_idname = "EVENFOLD_PT_first_guesses"
    bl_label = "Guesses"
    bl_parent_id = "EVENFOLD_PT_figure"
    bl_order = 0

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return choice_of(context) is not None and not _begun(context)

    def draw(self, context: bpy.types.Context) -> None:
        draw_guesses(self.layout, context)


def _begun(context: bpy.types.Context) -> bool:
    results = state.of(context.scene)
    return results is not None and (results.proportion is not None or results.check is not None)


def draw_guesses(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """Figure, head bone, middle and what is left out of the count, each with a way to correct it."""
    found = first.look(context)
    if found is None:
        say(layout, context, "Looking at the figure…", "INFO")
        return
    if not found.meshes:
        say(layout, context, "Nothing to guess from yet.", "INFO")
        return
    column = layout.column(align=True)
    single = len(found.meshes) == 1
    fact(column, "Meshes", found.meshes[0] if single else f"{len(found.meshes)} meshes", own=single)
    if len(found.meshes) > 1:
        say(column, context, listed(found.meshes), "BLANK1", own=True)
    fact(column, "Armature", found.armature or "none", own=bool(found.armature))
    if found.armature is not None:
        row = column.row(align=True)
        fact(row, "Head bone", found.head_bone or "not found", own=bool(found.head_bone))
        row.operator("evenfold.choose_head_bone", text="", icon="EYEDROPPER")
    fact(column, "Mirror", PLANES.get(found.middle, found.middle))
    shortened(layout, context, "guessed_left_out", found.left_out, lambda one: draw_left_out(layout, context, one))
    if not found.left_out:
        say(layout, context, "No hair, ears or hat are known by name: all counts as head and body.", "BLANK1")
    say(layout, context, "These are guesses from names. Correct them here, at the top of the panel, or under Pins and Headwear.", "INFO")


def draw_left_out(layout: bpy.types.UILayout, context: bpy.types.Context, one: LeftOut) -> None:
    """What is left out of the count by its name, and a button to count it after all."""
    row = layout.row(align=True)
    say(row, context, one.sentence, "REMOVE", beside=1)
    button = row.operator("evenfold.count_as_body", text="", icon="ADD")
    button.kind, button.names = one.kind, "\n".join(one.names)


CLASSES = (EVENFOLD_PT_figure, EVENFOLD_PT_guesses, EVENFOLD_PT_first_guesses)
