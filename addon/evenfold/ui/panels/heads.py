"""How many heads tall the figure is."""

import bpy

from ...core.findings import Proportion
from .. import state
from ..language import tr
from ..left_out import told_apart
from ..words import length
from .evidence import draw_evidence, opener
from .figure import draw_left_out
from .shared import Sidebar, fact, say, warn_stale

COUNTED = ("crown", "chin", "sole")
"""The landmarks the count rests on; all others have a panel of their own."""


class EVENFOLD_PT_heads(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_heads"
    bl_label = "Heads Tall"
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        results = state.of(context.scene)
        if results is None or results.proportion is None:
            say(self.layout, context, "Not measured yet.")
            return
        warn_stale(self.layout, context, results.stale)
        draw_proportion(self.layout, context, results.figure_name, results.proportion)
        for note in results.notes:
            say(self.layout, context, note, "INFO")


def draw_proportion(
    layout: bpy.types.UILayout, context: bpy.types.Context, name: str, found: Proportion
) -> None:
    if found.heads_tall is None:
        box = layout.box().column(align=True)
        say(box, context, f"{name}: no count. {found.refusal or ''}", "ERROR")
    else:
        box = layout.box().column(align=True)
        box.label(text=tr(f"{name}: {found.heads_tall:.2f} heads tall"), icon="USER")
        if found.low is not None and found.high is not None:
            box.label(text=tr(f"between {found.low:.2f} and {found.high:.2f}"), icon="BLANK1")
        if found.heads_with_hair is None:
            say(box, context, "counted by skull", "BLANK1")
        else:
            say(box, context, f"counted by skull; {found.heads_with_hair:.2f} with hair and ears", "BLANK1")
        draw_target(box, context, found)
    column = layout.column(align=True)
    scene = context.scene
    for label, value in (
        ("Head", found.head_height), ("Height", found.height), ("With hair, hat", found.full_height)
    ):
        if value is not None:
            fact(column, label, length(scene, value))
    counted = {key: found.landmarks[key] for key in COUNTED if key in found.landmarks}
    if counted:
        layout.label(text="Landmarks above the sole")
        column = layout.column(align=True)
        for key, landmark in sorted(counted.items(), key=lambda item: -item[1].height):
            pinned = f", {tr('pinned')}" if landmark.how == "pinned" else ""
            if opener(column, context, key, f"{length(scene, landmark.height)}{pinned}"):
                draw_evidence(column.box(), context, landmark)
    named, others = told_apart(found.guesses)
    for one in named:
        draw_left_out(layout, context, one)
    for sentence in others:
        say(layout, context, sentence, "INFO")


def draw_target(
    layout: bpy.types.UILayout, context: bpy.types.Context, found: Proportion
) -> None:
    if found.target is None or found.heads_tall is None:
        return
    if found.within_target:
        say(layout, context, f"On target ({found.target:.2f})", "CHECKMARK")
        return
    gap = found.target - found.heads_tall
    if gap > 0:
        say(layout, context, f"{gap:.2f} heads short of the target {found.target:.2f}", "ERROR")
    else:
        say(layout, context, f"{-gap:.2f} heads over the target {found.target:.2f}", "ERROR")


CLASSES = (EVENFOLD_PT_heads,)
