"""Stepping through what the check found, the view following; growing a selection to its island."""

from dataclasses import replace

import bpy
import numpy as np
from bpy.props import BoolProperty, EnumProperty, IntProperty, StringProperty

from ...core.errors import NothingToCheckError
from ...core.figure import IntArray
from ...host.named import find
from ...host.select import select_bones, select_vertices
from ...host.view import look_at, selected_vertices, view_of
from .. import looking, state
from ..language import tr
from .select import finding_at, narrowed, told, wanted_of
from .shared import Reporting, redraw

DIRECTIONS = (
    ("NEXT", "Next", "Go to the next one, smaller than this"),
    ("PREVIOUS", "Previous", "Go back to the one before, larger than this"),
)


def refusal(context: bpy.types.Context) -> str | None:
    """Why nothing can be stepped through now, None where it can."""
    results = state.of(context.scene) if context.scene else None
    if results is None or results.check is None or results.looking is None:
        return "Check the symmetry first."
    if results.stale:
        return "The figure was changed since the check: check again."
    if not any(entry.findings for entry in results.check.objects):
        return "The check found nothing to step through."
    return None


class EVENFOLD_OT_step_finding(Reporting, bpy.types.Operator):
    """Step through what one finding lists, the worst first. Changes nothing"""

    bl_idname = "evenfold.step_finding"
    bl_label = "Step Through"
    bl_description = (
        "Go through what this finding lists, the worst first, and have the view follow. "
        "Changes neither the model nor the selection"
    )
    bl_options = set()

    object_index: IntProperty(default=-1, min=-1, options={"HIDDEN", "SKIP_SAVE"})
    finding_index: IntProperty(default=-1, min=-1, options={"HIDDEN", "SKIP_SAVE"})
    direction: EnumProperty(name="Direction", items=DIRECTIONS, default="NEXT", options={"SKIP_SAVE"})
    select: BoolProperty(
        name="Select", default=False, options={"SKIP_SAVE"},
        description="Select what is stepped to as well",
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        reason = refusal(context)
        if reason is not None:
            cls.poll_message_set(tr(reason))
        return reason is None

    def run(self, context: bpy.types.Context) -> None:
        now = state.of(context.scene).looking
        at = (self.object_index, self.finding_index)
        if min(at) < 0:
            at = now.at or first_finding(context.scene)
        finding_at(context.scene, *at)
        if at == now.at:
            forth = 1 if self.direction == "NEXT" else -1
            now.step = (now.step + forth) % max(now.laid.objects[at[0]][at[1]].steps, 1)
        else:
            now.at, now.step = at, 0
            context.scene.evenfold_findings.show = True
        frame(context)
        if self.select:
            self.announce({"INFO"}, select_rows(context, looking.seen(context.scene)))
        redraw(context)


def first_finding(scene: bpy.types.Scene) -> tuple[int, int]:
    objects = state.of(scene).check.objects
    return next((number, 0) for number, entry in enumerate(objects) if entry.findings)


def frame(context: bpy.types.Context) -> None:
    """Turn the view to the step. Raises NothingToCheckError where it has no place."""
    now, laid = looking.seen(context.scene), state.of(context.scene).looking.laid
    around = now.laid.around(now.step)
    if around is None:
        raise NothingToCheckError("This has no place on the model to look at: it stands in the list only.")
    view = view_of(context)
    if view is not None:
        look_at(view, around[0], around[1], laid.span)


def select_rows(
    context: bpy.types.Context, now: looking.Seen, rows: IntArray | None = None
) -> str:
    """Select these elements of the finding, those of the step without any; what was done in words."""
    part = narrowed(now.finding, now.laid.rows(now.step) if rows is None else rows)
    if part.kind == "bone":
        outcome = select_bones(context, now.entry.name, set(part.names))
        words = told(outcome, "bone")
    else:
        if part.kind == "corner":
            numbers = now.laid.rows(now.step) if rows is None else rows
            part = replace(part, vertices=now.laid.vertices(numbers))
        wanted = wanted_of(state.of(context.scene).check, [(now.entry, part)], "LISTED")
        outcome = select_vertices(context, wanted)
        kinds = {entry.kind for entry in wanted.values()}
        words = told(outcome, kinds.pop() if len(kinds) == 1 else "vertex")
    state.compare(context.scene)
    return words


class EVENFOLD_OT_select_step(Reporting, bpy.types.Operator):
    """Select what is stepped to"""

    bl_idname = "evenfold.select_step"
    bl_label = "Select This"
    bl_description = "Select exactly what is looked at now"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        reason = refusal(context)
        if reason is None and looking.seen(context.scene) is None:
            reason = "Step to a finding first."
        if reason is not None:
            cls.poll_message_set(tr(reason))
        return reason is None

    def run(self, context: bpy.types.Context) -> None:
        self.announce({"INFO"}, select_rows(context, looking.seen(context.scene)))


class EVENFOLD_OT_select_island(Reporting, bpy.types.Operator):
    """Grow the selection to whole pieces of what the finding lists"""

    bl_idname = "evenfold.select_island"
    bl_label = "Select Its Island"
    bl_description = (
        "Select everything this finding lists that is joined to what is selected of it; "
        "with nothing of it selected, what is joined to the step"
    )
    bl_options = {"REGISTER", "UNDO"}

    poll = EVENFOLD_OT_select_step.poll

    def run(self, context: bpy.types.Context) -> None:
        now = looking.seen(context.scene)
        rows = chosen_rows(context, now)
        if not len(rows):
            rows = now.laid.rows(now.step)
        whole = np.flatnonzero(np.isin(now.laid.piece, now.laid.piece[rows]))
        self.announce({"INFO"}, select_rows(context, now, whole))


def chosen_rows(context: bpy.types.Context, now: looking.Seen) -> IntArray:
    """The finding's elements that are selected in edit mode; none in any other mode."""
    item = find(context.view_layer.objects, now.entry.name)
    if item is None or item.type != "MESH" or item.mode != "EDIT":
        return np.zeros(0, np.int64)
    return now.laid.touching(selected_vertices(item))


class EVENFOLD_OT_stop_stepping(Reporting, bpy.types.Operator):
    """Stop looking at one finding"""

    bl_idname = "evenfold.stop_stepping"
    bl_label = "Stop Stepping"
    bl_description = "Look at no finding in particular any more"
    bl_options = {"INTERNAL"}

    def run(self, context: bpy.types.Context) -> None:
        results = state.of(context.scene)
        if results is not None and results.looking is not None:
            results.looking.at = None
        redraw(context)


class EVENFOLD_OT_fold_object(Reporting, bpy.types.Operator):
    """Open or fold the list of one object's findings"""

    bl_idname = "evenfold.fold_object"
    bl_label = "Open or Fold"
    bl_description = "Open or fold the list of what was found on this object"
    bl_options = {"INTERNAL"}

    object_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})

    def run(self, context: bpy.types.Context) -> None:
        results = state.of(context.scene)
        if results is not None and results.check is not None:
            objects = results.check.objects
            if self.object_index < len(objects):
                looking.fold(context.scene, objects[self.object_index])
        redraw(context)


class EVENFOLD_OT_show_whole(Reporting, bpy.types.Operator):
    """Show a long list to its end, or shorten it again"""

    bl_idname = "evenfold.show_whole"
    bl_label = "Show All"
    bl_description = "Show this list to its end, or shorten it again"
    bl_options = {"INTERNAL"}

    name: StringProperty(options={"HIDDEN", "SKIP_SAVE"})

    def run(self, context: bpy.types.Context) -> None:
        looking.show_whole(context.scene, self.name)
        redraw(context)


CLASSES = (
    EVENFOLD_OT_step_finding,
    EVENFOLD_OT_select_step,
    EVENFOLD_OT_select_island,
    EVENFOLD_OT_stop_stepping,
    EVENFOLD_OT_fold_object,
    EVENFOLD_OT_show_whole,
)
