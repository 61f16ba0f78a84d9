"""Selecting what the check found."""

import bpy
import numpy as np
from bpy.props import EnumProperty, IntProperty

from ...core.errors import NothingToCheckError
from ...core.figure import IntArray
from ...core.findings import NOTE_CODES, FigureResult, Finding, ObjectResult
from ...host.select import Selected, Wanted, select_vertices
from .. import state
from ..properties import SIDES
from .shared import Reporting


def wanted_of(
    result: FigureResult, chosen: list[tuple[ObjectResult, Finding]], side: str
) -> dict[str, Wanted]:
    """The vertices of findings by object; partners may lie in another object."""
    sizes = {entry.name: entry.vertices for entry in result.objects}
    found: dict[str, list[IntArray]] = {}
    for entry, finding in chosen:
        if side != "PARTNERS":
            found.setdefault(entry.name, []).append(np.asarray(finding.elements, np.int64))
        if side != "LISTED":
            partners = np.asarray(finding.partners, np.int64)
            name = finding.partner_object or entry.name
            found.setdefault(name, []).append(partners[partners >= 0])
    joined = {name: np.unique(np.concatenate(parts)) for name, parts in found.items()}
    return {name: Wanted(items, sizes[name]) for name, items in joined.items() if items.size}


class _Selecting(Reporting):
    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        results = state.of(context.scene) if context.scene else None
        if results is None or results.check is None:
            cls.poll_message_set("Check the symmetry first.")
            return False
        if results.stale:
            cls.poll_message_set("The figure was changed since the check: check again.")
            return False
        return True

    def select(
        self, context: bpy.types.Context, chosen: list[tuple[ObjectResult, Finding]]
    ) -> None:
        result = state.of(context.scene).check
        wanted = wanted_of(result, chosen, self.side)
        if not wanted:
            raise NothingToCheckError(
                "None of these has a known partner." if self.side == "PARTNERS"
                else "The check found nothing to select."
            )
        outcome = select_vertices(context, wanted)
        state.compare(context.scene)
        self.report({"WARNING" if outcome.hidden or outcome.refused else "INFO"}, told(outcome))


def told(outcome: Selected) -> str:
    """The outcome in a sentence or two."""
    words = [f"{outcome.count} {'vertex' if outcome.count == 1 else 'vertices'} selected."]
    if outcome.hidden == 1:
        words.append("1 more is hidden and was left alone.")
    elif outcome.hidden:
        words.append(f"{outcome.hidden} more are hidden and were left alone.")
    return " ".join((*words, *outcome.refused))


class EVENFOLD_OT_select_finding(_Selecting, bpy.types.Operator):
    """Select exactly the vertices of one finding, in edit mode"""

    bl_idname = "evenfold.select_finding"
    bl_label = "Select Finding"
    bl_description = "Select exactly these vertices, in edit mode"
    bl_options = {"REGISTER", "UNDO"}

    object_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})
    finding_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})
    side: EnumProperty(name="Select", items=SIDES, default="LISTED")

    def run(self, context: bpy.types.Context) -> None:
        objects = state.of(context.scene).check.objects
        if self.object_index >= len(objects):
            raise NothingToCheckError("That finding is gone: check again.")
        entry = objects[self.object_index]
        if self.finding_index >= len(entry.findings):
            raise NothingToCheckError("That finding is gone: check again.")
        self.select(context, [(entry, entry.findings[self.finding_index])])


class EVENFOLD_OT_select_asymmetric(_Selecting, bpy.types.Operator):
    """Select every vertex that does not match, on all objects of the figure"""

    bl_idname = "evenfold.select_asymmetric"
    bl_label = "Select All Asymmetric"
    bl_description = "Select every vertex that does not match, on all objects of the figure"
    bl_options = {"REGISTER", "UNDO"}

    side: EnumProperty(name="Select", items=SIDES, default="LISTED")

    def run(self, context: bpy.types.Context) -> None:
        chosen = [
            (entry, finding)
            for entry in state.of(context.scene).check.objects
            for finding in entry.findings
            if entry.kind == "mesh" and finding.code not in NOTE_CODES
        ]
        self.select(context, chosen)


CLASSES = (EVENFOLD_OT_select_finding, EVENFOLD_OT_select_asymmetric)
