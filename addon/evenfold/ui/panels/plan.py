"""What to change to reach the target, and the figure beside a canon or another figure."""

from collections.abc import Callable

import bpy

from ...core.planning.compare import CompareRow, Comparison
from ...core.planning.plan import Plan, SpanChange
from ...core.report.plan_text import (
    SAME_HEADS,
    SPAN_WORDS,
    direction_words,
    range_words,
    row_words,
    span_ends,
)
from ...core.spoken import landmark_words
from .. import state
from ..language import tr
from ..shown import Shown, shown_of
from ..words import ruler
from .shared import OfResults, fact, higher_or_lower, say, table, warn


def _missed(context: bpy.types.Context) -> bool:
    results = state.of(context.scene)
    found = results.proportion if results is not None else None
    return found is not None and found.within_target is False


def _is_of_another(context: bpy.types.Context, shown: Shown) -> bool:
    """Whether another figure is kept current than was measured."""
    results = state.of(context.scene)
    return shown.how == "kept" and results is not None and results.figure_name != shown.figure


class _PlanPanel(OfResults):
    """Where the figure is kept current the plan follows it."""

    bl_label = "Plan to Target"
    bl_parent_id = "EVENFOLD_PT_heads"
    bl_order = 0

    @staticmethod
    def out_of_date(context: bpy.types.Context) -> bool:
        shown = shown_of(context.scene)
        return shown is not None and shown.how == "stale"

    def draw(self, context: bpy.types.Context) -> None:
        layout, scene = self.layout, context.scene
        shown = shown_of(scene)
        column = layout.column()
        column.use_property_split = True
        column.use_property_decorate = False
        column.row().prop(scene.evenfold_plan, "keep", expand=True)
        column.prop(scene.evenfold_plan, "canon", text="Body like")
        if not scene.evenfold.has_target:
            say(layout, context, "Set a target for the figure to see what to change.", "INFO")
        elif shown is None:
            say(layout, context, "Measure the figure to see what to change.", "INFO")
        elif shown.plan is None:
            say(layout, context, shown.refusal, "ERROR")
        else:
            column = layout.column()
            column.active = shown.how != "stale"
            if _is_of_another(context, shown):
                say(column, context, f"The plan of {shown.figure}, which is kept current.", "INFO")
            draw_plan(column, context, shown.plan)
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
    metres = ruler(context.scene, [plan.height_before], 3)
    box = layout.box().column(align=True)
    box.label(text=tr(f"{plan.heads:.2f} to {plan.target:.2f} heads"), icon="DRIVER_DISTANCE")
    box.label(text=tr(f"Height {metres(plan.height_before)} to {metres(plan.height_after)}"), icon="BLANK1")
    rows = [("Span", "Change", "", "Heads")]
    rows += [(SPAN_WORDS.get(span.name, span.name), *change_words(span, metres), heads_words(span)) for span in plan.spans]
    table(layout, rows)
    say(layout, context, span_ends(plan), "BLANK1")
    levels = [("Height of", "Now", "Then", "Heads")]
    head = plan.head_after
    levels += [
        (landmark_words(name), metres(plan.before[name]), metres(height), f"{height / head:.2f}")
        for name, height in sorted(plan.after.items(), key=lambda item: -item[1])
        if name != "sole"
    ]
    table(layout, levels)
    if (said := range_words(plan)) is not None:
        say(layout, context, said, "INFO")
    for note in plan.notes:
        say(layout, context, note, "INFO")
    for caution in plan.warnings:
        say(layout, context, caution, "ERROR")


def change_words(span: SpanChange, metres: Callable[[float], str]) -> tuple[str, str]:
    """By how much a span grows or shrinks: a length and percent."""
    if abs(span.change) <= 1e-6 * max(span.before, span.after):
        return "stays", ""
    return f"{'+' if span.change > 0 else '-'}{metres(abs(span.change))}", f"{span.percent:+.0f} %"


def heads_words(span: SpanChange) -> str:
    return f"{span.heads_before:.2f} to {span.heads_after:.2f}"


class EVENFOLD_PT_compare(OfResults, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_compare"
    bl_label = "Compare"
    bl_parent_id = "EVENFOLD_PT_heads"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        layout, scene = self.layout, context.scene
        wanted, results = scene.evenfold_plan, state.of(scene)
        row = layout.row(align=True)
        row.prop(wanted, "compare_with", text="")
        row.operator("evenfold.remove_canon", text="", icon="TRASH")
        if results is None or results.proportion is None:
            say(layout, context, "Measure the figure to compare it.", "INFO")
        elif results.comparison is not None:
            if results.other_stale:
                warn(layout, context, f"Out of date: {results.compared_with} was changed since. Measure it again.")
            shown = layout.column()
            shown.active = not results.stale
            draw_comparison(shown, context, results.comparison)
        elif results.comparison_refusal:
            say(layout, context, results.comparison_refusal, "ERROR")
        column = layout.column(align=True)
        column.prop(wanted, "other", text="")
        column.prop(wanted, "other_collection", text="")
        column.operator("evenfold.measure_other", icon="ARROW_LEFTRIGHT")
        row = layout.row(align=True)
        row.operator("evenfold.remember_figure", icon="BOOKMARKS")
        row.operator("evenfold.forget_figures", text="", icon="X")
        layout.operator("evenfold.save_canon", icon="EXPORT")


def draw_comparison(
    layout: bpy.types.UILayout, context: bpy.types.Context, found: Comparison
) -> None:
    metres = ruler(context.scene, [row.height_here for row in found.rows], 3)
    box = layout.box().column(align=True)
    box.label(text=tr(found.name))
    fact(box, "Heads tall", f"{found.heads_here:.2f}, there {found.heads_there:.2f}")
    rows = [("Heads from crown", "Here", "There", "It lies here")]
    rows += [_compared(row, metres) for row in found.rows if not row.width]
    table(layout, rows)
    heights = [_heights(row, metres) for row in found.rows if not row.width and row.height_there is not None]
    if heights:
        layout.separator(factor=0.5)
        table(layout, [("Above the sole", "Here", "There", "It is here"), *heights])
    widths = [_compared(row, metres) for row in found.rows if row.width]
    if widths:
        layout.separator(factor=0.5)
        table(layout, [("Heads wide", "Here", "There", "It is here"), *widths])
    for note in found.notes:
        say(layout, context, note, "INFO")


def _compared(row: CompareRow, metres: Callable[[float], str]) -> tuple[str, str, str, str]:
    """One landmark or width; the difference in heads, and as a length on the figure here."""
    cells = row_words(row), f"{row.here:.2f}", f"{row.there:.2f}"
    if abs(row.difference) < SAME_HEADS:
        return (*cells, "the same")
    words = f"{abs(row.difference):.2f} {direction_words(row)}"
    return (*cells, words if row.whole else f"{words}, {metres(abs(row.metres))}")


def _heights(row: CompareRow, metres: Callable[[float], str]) -> tuple[str, str, str, str]:
    """One landmark above each figure's own sole, as lengths."""
    gap = row.height_here - row.height_there
    cells = row_words(row), metres(row.height_here), metres(row.height_there)
    if abs(gap) <= 1e-6 * max(abs(row.height_here), abs(row.height_there)):
        return (*cells, "the same")
    return (*cells, higher_or_lower(metres(abs(gap)), up=gap > 0))


CLASSES = (EVENFOLD_PT_plan_missed, EVENFOLD_PT_plan, EVENFOLD_PT_compare)
