"""Selecting what the check found."""

import bpy
import numpy as np
from bpy.props import EnumProperty, IntProperty

from ...core.errors import NothingToCheckError
from ...core.figure import IntArray
from ...core.findings import NOTE_CODES, FigureResult, Finding, ObjectResult
from ...host.select import Selected, Wanted, select_bones, select_vertices, show_group, show_key
from .. import state
from ..properties import SIDES
from .shared import Reporting

Chosen = list[tuple[ObjectResult, Finding]]
_OWN_MODE = ("edge", "face")


def wanted_of(result: FigureResult, chosen: Chosen, side: str) -> dict[str, Wanted]:
    """The elements of mesh findings by object; partners may lie in another object.

    Edges and faces stay edges and faces while nothing else is chosen, else their vertices count.
    """
    sizes = {entry.name: entry.vertices for entry in result.objects}
    kinds = {finding.kind for _, finding in chosen}
    kind = next(iter(kinds)) if len(kinds) == 1 and kinds <= set(_OWN_MODE) else "vertex"
    found: dict[str, list[IntArray]] = {}
    for entry, finding in chosen:
        other = finding.partner_object or entry.name
        if kind == "vertex" and finding.kind != "vertex":
            found.setdefault(entry.name, []).append(np.asarray(finding.vertices, np.int64))
            continue
        if side != "PARTNERS":
            found.setdefault(entry.name, []).append(np.asarray(finding.elements, np.int64))
        if side != "LISTED":
            partners = np.asarray(finding.partners, np.int64)
            found.setdefault(other, []).append(partners[partners >= 0])
    joined = {name: np.unique(np.concatenate(parts)) for name, parts in found.items()}
    return {
        name: Wanted(items, sizes[name], kind) for name, items in joined.items() if items.size
    }


def bones_of(finding: Finding, side: str) -> set[str]:
    """The bones to select for a finding on bones."""
    listed = set(finding.names) if side != "PARTNERS" else set()
    others = {name for name in finding.partner_names if name} if side != "LISTED" else set()
    return listed | others


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

    def select(self, context: bpy.types.Context, chosen: Chosen) -> None:
        result = state.of(context.scene).check
        wanted = wanted_of(result, chosen, self.side)
        if not wanted:
            raise NothingToCheckError(
                "None of these has a known partner." if self.side == "PARTNERS"
                else "The check found nothing to select."
            )
        outcome = select_vertices(context, wanted)
        kinds = {entry.kind for entry in wanted.values()}
        self.tell(context, outcome, kinds.pop() if len(kinds) == 1 else "vertex")

    def tell(self, context: bpy.types.Context, outcome: Selected, kind: str) -> None:
        state.compare(context.scene)
        level = "WARNING" if outcome.hidden or outcome.refused else "INFO"
        self.report({level}, told(outcome, kind))


_PLURALS = {"vertex": "vertices"}


def told(outcome: Selected, kind: str = "vertex") -> str:
    """The outcome in a sentence or two."""
    noun = kind if outcome.count == 1 else _PLURALS.get(kind, kind + "s")
    words = [f"{outcome.count} {noun} selected."]
    if outcome.hidden == 1:
        words.append("1 more is hidden and was left alone.")
    elif outcome.hidden:
        words.append(f"{outcome.hidden} more are hidden and were left alone.")
    return " ".join((*words, *outcome.refused))


class EVENFOLD_OT_select_finding(_Selecting, bpy.types.Operator):
    """Select exactly what one finding lists"""

    bl_idname = "evenfold.select_finding"
    bl_label = "Select Finding"
    bl_description = "Go to exactly these elements: vertices, edges, faces or bones, key or group"
    bl_options = {"REGISTER", "UNDO"}

    object_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})
    finding_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})
    side: EnumProperty(name="Select", items=SIDES, default="LISTED")

    def run(self, context: bpy.types.Context) -> None:
        entry, finding = finding_at(context.scene, self.object_index, self.finding_index)
        if finding.kind == "bone":
            outcome = select_bones(context, entry.name, bones_of(finding, self.side))
            self.tell(context, outcome, "bone")
            return
        if finding.code.startswith("key-") and finding.about:
            show_key(context, entry.name, finding.about[0])
        if finding.kind == "group" and finding.names:
            show_group(context, entry.name, finding.names[0])
        if finding.kind in ("group", "key") and not len(finding.vertices):
            self.report({"INFO"}, f"{', '.join(finding.names)}: it holds no vertices to select.")
            return
        self.select(context, [(entry, finding)])


def finding_at(scene: bpy.types.Scene, place: int, number: int) -> tuple[ObjectResult, Finding]:
    """A finding by its place in the panel's result. Raises NothingToCheckError when it is gone."""
    objects = state.of(scene).check.objects
    if place >= len(objects) or number >= len(objects[place].findings):
        raise NothingToCheckError("That finding is gone: check again.")
    return objects[place], objects[place].findings[number]


class EVENFOLD_OT_select_asymmetric(_Selecting, bpy.types.Operator):
    """Select every vertex that does not match, on all objects of the figure"""

    bl_idname = "evenfold.select_asymmetric"
    bl_label = "Select All Differences"
    bl_description = "Select every vertex that does not match in any layer, on all objects"
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
