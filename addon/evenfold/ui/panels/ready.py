"""What an engine or a stage will stumble over, apart from the halves; how large the figure is for it."""

import bpy

from ...core.budget import AMOUNTS
from ...core.findings import FigureResult
from ...core.size import Size
from .. import state
from ..budgeting import readiness_now
from ..language import tr
from ..once import handed_off
from .shared import OfResults, say, say_once

ICONS = {"error": "CANCEL", "warning": "ERROR", "note": "INFO"}


class EVENFOLD_PT_ready(OfResults, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_ready"
    bl_label = "Before Hand-off"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 2

    def draw(self, context: bpy.types.Context) -> None:
        results = state.of(context.scene)
        if results is None or results.check is None:
            say(self.layout, context, "Not checked yet: press Check Symmetry.")
            return
        self.layout.active = not results.stale
        draw_ready(self.layout, context, results.check)


def draw_ready(
    layout: bpy.types.UILayout, context: bpy.types.Context, result: FigureResult
) -> None:
    told = handed_off(readiness_now(context.scene, result))
    if not told:
        say(layout, context, f"{result.name}: nothing stands in the way", "CHECKMARK")
        return
    for number, entry in enumerate(told):
        row = layout.box().row(align=True)
        say_once(row.column(align=True), context, entry, ICONS[entry.level], beside=bool(entry.places))
        if entry.places:
            row.operator("evenfold.show_ready", text="", icon="RESTRICT_SELECT_OFF").number = number


class EVENFOLD_PT_budget(OfResults, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_budget"
    bl_label = "Size and Budget"
    bl_parent_id = "EVENFOLD_PT_ready"

    def draw(self, context: bpy.types.Context) -> None:
        layout, results = self.layout, state.of(context.scene)
        check = results.check if results is not None else None
        draw_budget(layout, context, check.size if check is not None else None, stale=self.out_of_date(context))
        budget = context.scene.evenfold_budget
        if any(getattr(budget, name) for name in AMOUNTS):
            layout.prop(budget, "source")
        else:
            say(layout, context, "Set a limit, or take a usual budget to begin with. 0 sets no limit.", "INFO")
        layout.operator_menu_enum("evenfold.fill_budget", "target", icon="PRESET")


def draw_budget(layout: bpy.types.UILayout, context: bpy.types.Context, size: Size | None, *, stale: bool) -> None:
    """Each amount with what the figure has and may have; what is too many is marked, what is out of date fades."""
    budget, column = context.scene.evenfold_budget, layout.column(align=True)
    _row(column, "", "Has", "Limit")
    for name in AMOUNTS:
        count, limit = getattr(size, name, None), getattr(budget, name)
        words = budget.bl_rna.properties[name].name
        field = _row(column, words, "–" if count is None else f"{count:,}", None, alert=bool(limit and count and count > limit), active=not stale)
        field.prop(budget, name, text="")
    if size is not None and size.vertices != size.stored:
        say(layout, context, f"{size.stored:,} stored vertices become {size.vertices:,} in the engine: hard edges, seams and materials split them, Mirror and Subdivision make more.", "INFO")


def _row(
    column: bpy.types.UILayout, words: str, has: str, allowed: str | None, *, alert: bool = False, active: bool = True
) -> bpy.types.UILayout:
    """A line of three cells; the last is returned for a field where ``allowed`` has no words."""
    line = column.split(factor=0.4, align=True)
    line.label(text=tr(words), translate=False)
    cells = line.split(factor=0.42, align=True)
    count = cells.row(align=True)
    count.alert, count.active = alert, active
    count.alignment = "RIGHT"
    count.label(text=tr(has), translate=False)
    last = cells.row(align=True)
    if allowed is not None:
        last.label(text=tr(allowed), translate=False)
    return last


CLASSES = (EVENFOLD_PT_ready, EVENFOLD_PT_budget)
