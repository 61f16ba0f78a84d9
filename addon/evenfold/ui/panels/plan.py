"""What to change to reach the target, and the figure beside a canon or another figure."""

import bpy

from ...core.proportion.compare import Comparison
from ...core.proportion.plan import Plan
from ...core.report.plan_text import (
    SPAN_WORDS,
    compare_difference,
    landmark_words,
    span_change,
)
from .. import state
from ..words import length
from .shared import Sidebar, fact, say


def _missed(context: bpy.types.Context) -> bool:
    results = state.of(context.scene)
    found = results.proportion if results is not None else None
    return found is not None and found.within_target is False


class _PlanPanel(Sidebar):
    bl_label = "Plan to Target"
    bl_parent_id = "EVENFOLD_PT_heads"
    bl_order = 0

    def draw(self, context: bpy.types.Context) -> None:
        layout, scene = self.layout, context.scene
        results = state.of(scene)
        column = layout.column()
        column.use_property_split = True
        column.use_property_decorate = False
        column.row().prop(scene.evenfold_plan, "keep", expand=True)
        column.prop(scene.evenfold_plan, "canon", text="Inner")
        if not scene.evenfold.has_target:
            say(layout, context, "Set a target for the figure to see what to change.", "INFO")
        elif results is None or results.proportion is None:
            say(layout, context, "Measure the figure to see what to change.", "INFO")
        elif results.plan is None:
            say(layout, context, results.plan_refusal, "ERROR")
        else:
            draw_plan(layout, context, results.plan)
            layout.operator("evenfold.copy_plan", text="Copy as Text", icon="COPYDOWN")


class EVENFOLD_PT_plan_missed(_PlanPanel, bpy.types.Panel):
    """Stands open while the target is missed."""

    bl_idname = "EVENFOLD_PT_plan_missed"

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return _missed(context)


class EVENFOLD_PT_plan(_PlanPanel, bpy.types.Panel):
    """Closed until asked for while there is no target or it is reached."""

    bl_idname = "EVENFOLD_PT_plan"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return not _missed(context)


def draw_plan(layout: bpy.types.UILayout, context: bpy.types.Context, plan: Plan) -> None:
    def metres(value: float) -> str:
        return length(context.scene, value)

    box = layout.box()
    box.label(text=f"{plan.heads:.2f} to {plan.target:.2f} heads", icon="DRIVER_DISTANCE")
    column = box.column(align=True)
    fact(column, "Height", f"{metres(plan.height_before)} to {metres(plan.height_after)}")
    column = layout.column(align=True)
    for span in plan.spans:
        fact(column, SPAN_WORDS.get(span.name, span.name), span_change(span, metres))
        fact(column, "", f"{span.heads_before:.2f} to {span.heads_after:.2f} heads")
    layout.label(text="New heights above the sole")
    column = layout.column(align=True)
    for name, height in sorted(plan.after.items(), key=lambda item: -item[1]):
        if name != "sole":
            fact(column, landmark_words(name), f"{metres(height)}, was {metres(plan.before[name])}")
    for caution in plan.cautions:
        say(layout, context, caution, "ERROR")


class EVENFOLD_PT_compare(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_compare"
    bl_label = "Compare"
    bl_parent_id = "EVENFOLD_PT_heads"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        layout, scene = self.layout, context.scene
        wanted, results = scene.evenfold_plan, state.of(scene)
        layout.prop(wanted, "compare_with", text="")
        if results is None or results.proportion is None:
            say(layout, context, "Measure the figure to compare it.", "INFO")
        elif results.comparison is not None:
            draw_comparison(layout, context, results.comparison)
        elif results.comparison_refusal:
            say(layout, context, results.comparison_refusal, "ERROR")
        column = layout.column(align=True)
        column.prop(wanted, "other", text="")
        column.operator("evenfold.measure_other", icon="ARROW_LEFTRIGHT")
        row = layout.row(align=True)
        row.operator("evenfold.remember_figure", icon="BOOKMARKS")
        row.operator("evenfold.forget_figures", text="", icon="X")
        column = layout.column(align=True)
        column.prop(wanted, "profile", text="")
        row = column.row(align=True)
        row.operator("evenfold.load_profile", icon="IMPORT")
        row.operator("evenfold.save_canon", icon="EXPORT")
        if wanted.limits:
            say(column, context, "A profile's limits are in force beyond those shown.", "INFO")
            column.operator("evenfold.drop_limits", icon="X")


def draw_comparison(
    layout: bpy.types.UILayout, context: bpy.types.Context, found: Comparison
) -> None:
    def metres(value: float) -> str:
        return length(context.scene, value)

    box = layout.box()
    box.label(text=found.name)
    fact(box, "Heads tall", f"{found.heads_here:.2f}, there {found.heads_there:.2f}")
    layout.label(text="In heads down from the crown")
    column = layout.column(align=True)
    for row in found.rows:
        unit = " wide" if row.width else ""
        fact(column, landmark_words(row.name), f"{row.here:.2f}{unit}, there {row.there:.2f}")
        fact(column, "", compare_difference(row, metres))
        if row.height_there is not None:
            fact(column, "", f"{metres(row.height_here)}, there {metres(row.height_there)}")
    for note in found.notes:
        say(layout, context, note, "INFO")


CLASSES = (EVENFOLD_PT_plan_missed, EVENFOLD_PT_plan, EVENFOLD_PT_compare)
