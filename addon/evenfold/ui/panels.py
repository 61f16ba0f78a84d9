"""The sidebar. Draws what is known; computes nothing."""

from typing import Any

import bpy

from ..core.findings import NOTE_CODES, FigureResult, Proportion
from ..host import store
from . import state
from .choice import choice_of, missing
from .words import HOWS, PLANES, finding_size, finding_text, length, room, wrapped


def say(layout: bpy.types.UILayout, context: bpy.types.Context, text: str, icon: Any = "NONE") -> None:
    """A sentence, wrapped to the sidebar's width, its icon on the first line."""
    column = layout.column(align=True)
    for number, line in enumerate(wrapped(text, room(context))):
        first: Any = icon if number == 0 else ("NONE" if icon == "NONE" else "BLANK1")
        column.label(text=line, icon=first)


def fact(layout: bpy.types.UILayout, name: str, value: str) -> None:
    row = layout.split(factor=0.45)
    row.label(text=name)
    row.label(text=value)


class _Sidebar:
    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Evenfold"


class EVENFOLD_PT_figure(_Sidebar, bpy.types.Panel):
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
        if choice is None:
            say(layout, context, missing(context), "INFO")
        else:
            icon: dict[str, Any] = {"ARMATURE": "ARMATURE_DATA", "COLLECTION": "OUTLINER_COLLECTION"}
            layout.label(text=choice.name, icon=icon.get(choice.kind, "MESH_DATA"))
        limits = layout.column()
        limits.use_property_split = True
        limits.use_property_decorate = False
        row = limits.row(heading="Target")
        row.prop(panel, "has_target", text="")
        field = row.row()
        field.enabled = panel.has_target
        field.prop(panel, "target_heads", text="")
        limits.prop(panel, "tolerance", text="Tolerance")
        if panel.tolerance == 0:
            limits.label(text="0 means height / 10,000", icon="BLANK1")
        limits.prop(panel, "plane", text="Mirror")
        buttons = layout.column(align=True)
        buttons.scale_y = 1.3
        buttons.operator("evenfold.measure", text="Measure", icon="DRIVER_DISTANCE")
        buttons.operator("evenfold.check_symmetry", text="Check Symmetry", icon="MOD_MIRROR")


def _warn_stale(layout: bpy.types.UILayout, context: bpy.types.Context, stale: bool) -> None:
    if stale:
        box = layout.box()
        box.alert = True
        say(box, context, "Out of date: the figure was changed since. Run it again.", "ERROR")


class EVENFOLD_PT_heads(_Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_heads"
    bl_label = "Heads Tall"
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        results = state.of(context.scene)
        if results is None or results.proportion is None:
            say(self.layout, context, "Not measured yet.")
            return
        _warn_stale(self.layout, context, results.stale)
        draw_proportion(self.layout, context, results.figure_name, results.proportion)


def draw_proportion(
    layout: bpy.types.UILayout, context: bpy.types.Context, name: str, found: Proportion
) -> None:
    if found.heads_tall is None:
        box = layout.box()
        say(box, context, f"{name}: no count. " + (found.refusal or ""), "ERROR")
    else:
        box = layout.box()
        box.label(text=f"{name}: {found.heads_tall:.2f} heads tall", icon="USER")
        if found.low is not None and found.high is not None:
            box.label(text=f"between {found.low:.2f} and {found.high:.2f}", icon="BLANK1")
        draw_target(box, context, found)
    column = layout.column(align=True)
    scene = context.scene
    for label, value in (
        ("Head", found.head_height), ("Height", found.height), ("With hair, hat", found.full_height)
    ):
        if value is not None:
            fact(column, label, length(scene, value))
    if found.landmarks:
        layout.label(text="Landmarks above the sole")
        column = layout.column(align=True)
        for key, landmark in sorted(found.landmarks.items(), key=lambda item: -item[1].height):
            how = HOWS.get(landmark.how, landmark.how)
            label = key.replace("_", " ").capitalize()
            fact(column, label, f"{length(scene, landmark.height)}, {how}")
    for guess in found.guesses:
        say(layout, context, guess, "INFO")


def draw_target(
    layout: bpy.types.UILayout, context: bpy.types.Context, found: Proportion
) -> None:
    if found.target is None or found.heads_tall is None:
        return
    if found.within_target:
        say(layout, context, f"On target ({found.target:.2f})", "CHECKMARK")
        return
    gap = found.target - found.heads_tall
    words = "short of" if gap > 0 else "over"
    say(layout, context, f"{abs(gap):.2f} heads {words} the target {found.target:.2f}", "ERROR")


class EVENFOLD_PT_symmetry(_Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_symmetry"
    bl_label = "Symmetry"
    bl_order = 2

    def draw(self, context: bpy.types.Context) -> None:
        results = state.of(context.scene)
        if results is None or results.check is None:
            say(self.layout, context, "Not checked yet.")
            return
        _warn_stale(self.layout, context, results.stale)
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


class EVENFOLD_PT_told(_Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_told"
    bl_label = "Pins and Headwear"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 3

    def draw(self, context: bpy.types.Context) -> None:
        layout, panel = self.layout, context.scene.evenfold
        layout.label(text="Pin a landmark")
        column = layout.column(align=True)
        column.prop(panel, "landmark", text="")
        row = column.row(align=True)
        row.operator("evenfold.pin_vertex", text="Vertex", icon="VERTEXSEL").landmark = panel.landmark
        row.operator("evenfold.pin_cursor", text="Cursor", icon="CURSOR").landmark = panel.landmark
        layout.label(text="Not part of the head")
        layout.operator_menu_enum("evenfold.leave_out", "kind", text="Leave Out", icon="REMOVE")
        layout.operator("evenfold.name_head_bone", icon="BONE_DATA")
        choice = choice_of(context)
        if choice is not None:
            draw_told(layout, context, choice.name)


def draw_told(layout: bpy.types.UILayout, context: bpy.types.Context, name: str) -> None:
    """What is kept on the figure's objects, each with a button to forget it."""
    for item in store.members(context.scene, name):
        for pin in store.stored_pins(item):
            row = layout.row(align=True)
            kind = "vertex" if pin.tag else "cursor"
            landmark = pin.landmark.replace("_", " ").capitalize()
            row.label(text=f"{landmark} on {item.name}, {kind}", icon="PINNED")
            button = row.operator("evenfold.remove_pin", text="", icon="X")
            button.object_name, button.landmark = item.name, pin.landmark
        for entry in store.stored_worn(item):
            row = layout.row(align=True)
            words = "left out" if entry.excluded else "is body"
            row.label(text=f"{entry.name or item.name} {words}", icon="HIDE_ON")
            button = row.operator("evenfold.forget_left_out", text="", icon="X")
            button.object_name, button.kind, button.name = item.name, entry.kind, entry.name
        if item.get(store.HEAD_KEY):
            row = layout.row(align=True)
            row.label(text=f"Head bone: {item[store.HEAD_KEY]}", icon="BONE_DATA")
            row.operator("evenfold.name_head_bone", text="", icon="X").clear = True


def _menu(self: bpy.types.Menu, _context: bpy.types.Context) -> None:
    self.layout.separator()
    self.layout.operator("evenfold.measure")
    self.layout.operator("evenfold.check_symmetry")
    self.layout.operator("evenfold.select_asymmetric")


_MENUS = ("VIEW3D_MT_object", "VIEW3D_MT_edit_mesh", "VIEW3D_MT_pose")
"""The menus of the modes the panel works in; menu search finds only what is in a menu."""


def add_menu() -> None:
    for name in _MENUS:
        getattr(bpy.types, name).append(_menu)


def remove_menu() -> None:
    for name in _MENUS:
        getattr(bpy.types, name).remove(_menu)


CLASSES = (EVENFOLD_PT_figure, EVENFOLD_PT_heads, EVENFOLD_PT_symmetry, EVENFOLD_PT_told)
