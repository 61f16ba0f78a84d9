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
WIDE = 1.25
"""A range whose ends lie further apart than this is called wide; our choice."""


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


def draw_count(
    box: bpy.types.UILayout, context: bpy.types.Context, name: str, found: Proportion
) -> None:
    """The count with its range and its target, or why there is none."""
    if found.heads_tall is None:
        say(box, context, f"{name}: no count. {found.refusal or ''}", "ERROR")
        if found.refusal and "pin " in found.refusal:
            say(box, context, "Pins are set under Pins and Headwear, further down.", "BLANK1")
        return
    box.label(text=tr(f"{name}: {found.heads_tall:.2f} heads tall"), icon="USER")
    if found.low is not None and found.high is not None:
        box.label(text=tr(f"between {found.low:.2f} and {found.high:.2f}"), icon="BLANK1")
    if found.hair_shows:
        say(box, context, f"counted by skull; {found.heads_with_hair:.2f} with hair and ears", "BLANK1")
    else:
        say(box, context, "counted by skull", "BLANK1")
    if is_wide(found):
        say(box, context, "The range is wide: look at the guides, and pin crown or chin where its line stands wrong.", "INFO")
    draw_target(box, context, found)


def draw_proportion(
    layout: bpy.types.UILayout, context: bpy.types.Context, name: str, found: Proportion
) -> None:
    draw_count(layout.box().column(align=True), context, name, found)
    column = layout.column(align=True)
    scene = context.scene
    worn = found.full_height if _rises(found) else None
    for label, value in (("Head", found.head_height), ("Height", found.height), ("With hair, hat", worn)):
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


def is_wide(found: Proportion) -> bool:
    """Whether the count's range is too wide to plan with."""
    return found.low is not None and found.high is not None and found.high > WIDE * found.low


def _rises(found: Proportion) -> bool:
    """Whether hair or a hat stands above the crown."""
    return found.full_height is not None and (found.height is None or found.full_height > found.height * 1.001)


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
