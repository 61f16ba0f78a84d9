"""Further landmarks with their evidence, and the humanoid bone map."""

import bpy

from ...core.findings import Proportion
from ...core.humanoid_table import BONES, FINGERS, HumanoidBone, label
from ...host import bone_map, named
from .. import state
from ..language import tr
from ..rig_choice import last_troubles, rig_of
from ..words import HOWS
from .evidence import draw_evidence, opener
from .heads import COUNTED, ruler_of
from .shared import OfResults, Sidebar, fact, say

_DIGITS = ("Thumb", *FINGERS)


class EVENFOLD_PT_landmarks(OfResults, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_landmarks"
    bl_label = "Landmarks"
    bl_parent_id = "EVENFOLD_PT_heads"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 2

    def draw(self, context: bpy.types.Context) -> None:
        results = state.of(context.scene)
        found = results.proportion if results is not None else None
        if results is None or found is None or not found.landmarks:
            say(self.layout, context, "Measure the figure to see its landmarks.", "INFO")
            return
        self.layout.active = not results.stale
        draw_landmarks(self.layout, context, found)
        draw_spans(self.layout, context, found)


def _measures(context: bpy.types.Context, found: Proportion, size: float) -> str:
    """A length as the panel shows it and, where the head is known, in heads."""
    text = ruler_of(context, found)(size)
    return f"{text}, {size / found.head_height:.2f} heads" if found.head_height else text


def draw_landmarks(
    layout: bpy.types.UILayout, context: bpy.types.Context, found: Proportion
) -> None:
    """Those the count does not rest on; the others stand beside the count."""
    further = {name: entry for name, entry in found.landmarks.items() if name not in COUNTED}
    if not further:
        return
    layout.label(text="Further heights above the sole")
    column = layout.column(align=True)
    for name, entry in sorted(further.items(), key=lambda item: -item[1].height):
        if opener(column, context, name, _measures(context, found, entry.height)):
            draw_evidence(column.box(), context, entry, ruler_of(context, found))


def draw_spans(layout: bpy.types.UILayout, context: bpy.types.Context, found: Proportion) -> None:
    if not found.spans:
        return
    layout.label(text="Widths and lengths")
    column = layout.column(align=True)
    for name, span in found.spans.items():
        if opener(column, context, name, _measures(context, found, span.length)):
            box = column.box()
            fact(box, "How", HOWS.get(span.how, span.how))
            say(box, context, f"{span.evidence[:1].upper()}{span.evidence[1:]}.", "BLANK1")


class EVENFOLD_PT_humanoid(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_humanoid"
    bl_label = "Humanoid Bones"
    bl_parent_id = "EVENFOLD_PT_heads"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 3

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        rig = rig_of(context)
        if rig is None:
            say(layout, context, "Click the figure's armature, or a mesh it deforms, first.", "INFO")
            return
        kept = bone_map.stored_map(rig)
        layout.label(text=named.unique_name(rig), icon="ARMATURE_DATA", translate=False)
        if kept is None:
            say(layout, context, "The bones are guessed when measuring. Guess them here to keep and correct them.", "INFO")
            draw_guess(layout, context, rig)
        column = layout.column(align=True)
        column.operator("evenfold.guess_bones", text="Guess Bones" if kept is None else "Guess Again", icon="BONE_DATA")
        column.operator("evenfold.read_bone_map", text="From Avatar File", icon="IMPORT")
        if kept is not None:
            column.operator("evenfold.clear_bones", text="Clear", icon="X")
            draw_map(layout, context, rig, kept)


def _listed(entry: HumanoidBone, shown: str) -> bool:
    if shown == "BODY":
        return not any(digit in entry.name for digit in _DIGITS)
    return entry.required or shown == "ALL"


def draw_guess(layout: bpy.types.UILayout, context: bpy.types.Context, rig: bpy.types.Object) -> None:
    """The bones the last measuring of this armature guessed; nothing is kept of them."""
    results = state.of(context.scene)
    if results is None or named.unique_name(rig) not in results.marks or not results.humanoid:
        return
    box = layout.box().column(align=True)
    box.label(text="Guessed when last measured", icon="BONE_DATA")
    for entry in BONES:
        if entry.name in results.humanoid:
            fact(box, label(entry.name), results.humanoid[entry.name], own=True)


def draw_map(
    layout: bpy.types.UILayout, context: bpy.types.Context, rig: bpy.types.Object, kept: dict[str, str]
) -> None:
    """The kept map, a bone a line; what is missing or wrong is marked."""
    shown = context.scene.evenfold_landmarks
    layout.row().prop(shown, "bones", expand=True)
    wrong = {one.bone for one in last_troubles(rig)}
    column = layout.column(align=True)
    for entry in BONES:
        if not _listed(entry, shown.bones):
            continue
        bone = kept.get(entry.name, "")
        lacking = entry.required and not bone
        row = column.row(align=True)
        row.alert = lacking or entry.name in wrong or bool(bone and bone not in rig.data.bones)
        split = row.split(factor=0.45, align=True)
        split.label(text=tr(label(entry.name)))
        words = bone or ("required" if lacking else "none")
        split.operator("evenfold.map_bone", text=words, icon="ERROR" if row.alert else "NONE").standard = entry.name
        button = row.operator("evenfold.map_bone", text="", icon="EYEDROPPER")
        button.standard, button.use_active = entry.name, True
    gone = [label(name).lower() for name, bone in kept.items() if bone and bone not in rig.data.bones]
    if gone:
        say(layout, context, f"No longer in {rig.name}: the bones chosen for {', '.join(gone)}. Choose them again.", "ERROR")
    for trouble in last_troubles(rig):
        if trouble.bone in kept:
            say(layout, context, trouble.sentence, "ERROR")


CLASSES = (EVENFOLD_PT_landmarks, EVENFOLD_PT_humanoid)
