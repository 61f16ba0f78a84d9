"""How many heads tall the figure is."""

from collections.abc import Callable

import bpy

from ...core.findings import Proportion
from .. import state
from ..language import tr
from ..left_out import told_apart
from ..once import Once, about
from ..words import ruler
from .evidence import draw_evidence, opener
from .figure import draw_left_out
from .shared import OfResults, Sidebar, fact, say, say_once, shortened

COUNTED = ("crown", "chin", "sole")
"""The landmarks the count rests on; all others, and they alone, are in a panel of their own."""
WIDE = 1.25
"""A range whose ends lie further apart than this is called wide; our choice."""


class EVENFOLD_PT_heads(OfResults, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_heads"
    bl_label = "Heads Tall"
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        results = state.of(context.scene)
        if results is None or results.proportion is None:
            say(self.layout, context, "Not measured yet.")
            return
        self.layout.active = not results.stale
        draw_proportion(self.layout, context, results.figure_name, results.proportion)


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


def ruler_of(context: bpy.types.Context, found: Proportion) -> Callable[[float], str]:
    """All lengths of a figure in the unit that suits its height."""
    others = [one.height for one in found.landmarks.values()]
    return ruler(context.scene, [found.height] if found.height else others)


def draw_proportion(
    layout: bpy.types.UILayout, context: bpy.types.Context, name: str, found: Proportion
) -> None:
    draw_count(layout.box().column(align=True), context, name, found)
    column = layout.column(align=True)
    worn = found.full_height if _rises(found) else None
    counted = {key: found.landmarks[key] for key in COUNTED if key in found.landmarks}
    metres = ruler_of(context, found)
    for label, value in (("Head", found.head_height), ("Height", found.height), ("With hair, hat", worn)):
        if value is not None:
            fact(column, label, metres(value))
    if counted:
        layout.label(text="Landmarks above the sole")
        column = layout.column(align=True)
        for key, landmark in sorted(counted.items(), key=lambda item: -item[1].height):
            pinned = f", {tr('pinned')}" if landmark.how == "pinned" else ""
            if opener(column, context, key, f"{metres(landmark.height)}{pinned}"):
                draw_evidence(column.box(), context, landmark, metres)
    named, _ = told_apart(found.guesses)
    shortened(layout, context, "left_out", named, lambda one: draw_left_out(layout, context, one))


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


def notes_of(results: state.SceneResults) -> list[Once]:
    """What was uncertain in taking the figure together and in measuring it."""
    others = told_apart(results.proportion.guesses)[1] if results.proportion is not None else ()
    return about((*results.notes, *others), results.marks)


class EVENFOLD_PT_notes(Sidebar, bpy.types.Panel):
    """Named by how many there are, so that it can stay closed."""

    bl_idname = "EVENFOLD_PT_notes"
    bl_label = ""
    bl_parent_id = "EVENFOLD_PT_heads"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 4

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        results = state.of(context.scene)
        return results is not None and bool(notes_of(results))

    def draw_header(self, context: bpy.types.Context) -> None:
        count = len(notes_of(state.of(context.scene)))
        self.layout.label(text=tr("1 note" if count == 1 else f"{count} notes"), translate=False)

    def draw(self, context: bpy.types.Context) -> None:
        for one in notes_of(state.of(context.scene)):
            say_once(self.layout, context, one)


CLASSES = (EVENFOLD_PT_heads, EVENFOLD_PT_notes)
