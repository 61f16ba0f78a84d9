"""Selecting what the check found."""

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import bpy
import numpy as np
from bpy.props import EnumProperty, FloatProperty, IntProperty

from ...core.errors import NothingToCheckError
from ...core.figure import IntArray
from ...core.findings import NOTE_CODES, FigureResult, Finding, ObjectResult
from ...core.halves import LEFT, RIGHT, Halves
from ...core.report.wording import IN_MOTION, counted
from ...host.select import Selected, Wanted, select_bones, select_vertices, show_group, show_key
from .. import state
from ..language import tr
from ..properties import SIDES
from .shared import Reporting

Chosen = list[tuple[ObjectResult, Finding]]
_OWN_MODE = ("edge", "face")
_HALF = {"LEFT": LEFT, "RIGHT": RIGHT}
_alive: list[tuple[str, str, str]] = []
"""The list last handed to Blender, which does not keep its texts alive itself."""


def wanted_of(
    result: FigureResult, chosen: Chosen, side: str, halves: Mapping[str, Halves] | None = None
) -> dict[str, Wanted]:
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
    if side in _HALF:
        known = halves or {}
        joined = {name: known.get(name, Halves()).on(_HALF[side], kind, one) for name, one in joined.items()}
    return {
        name: Wanted(items, sizes[name], kind) for name, items in joined.items() if items.size
    }


def bones_of(finding: Finding, side: str, halves: Halves | None = None) -> set[str]:
    """The bones to select for a finding on bones."""
    listed = set(finding.names) if side != "PARTNERS" else set()
    others = {name for name in finding.partner_names if name} if side != "LISTED" else set()
    if side not in _HALF or halves is None:
        return listed | others
    return {name for name in listed | others if halves.bones.get(name, 0) * _HALF[side] >= 0}


def narrowed(finding: Finding, rows: IntArray) -> Finding:
    """The finding with these of its elements alone; a group's or key's stays whole."""
    if finding.kind in ("group", "key"):
        return finding
    names = tuple(finding.names[row] for row in rows.tolist()) if finding.names else ()
    others = tuple(finding.partner_names[row] for row in rows.tolist()) if finding.partner_names else ()
    return replace(
        finding, elements=np.asarray(finding.elements)[rows], partners=np.asarray(finding.partners)[rows],
        sizes=finding.sizes[rows], names=names, partner_names=others,
    )


def worst_part(finding: Finding, percent: float) -> Finding:
    """The finding with the worst of its elements alone, at least one; whole without sizes.

    Corners are shown by their vertices, which are not told apart by size: they stay whole.
    """
    sizes = np.asarray(finding.sizes, float)
    if percent >= 100.0 or finding.kind == "corner" or not np.isfinite(sizes).any():
        return finding
    order = np.argsort(-np.where(np.isfinite(sizes), sizes, -np.inf), kind="stable")
    count = max(1, math.ceil(len(sizes) * percent / 100.0))
    return narrowed(finding, np.sort(order[:count]))


class OfTheCheck(Reporting):
    """Mix-in for operators that select what the last check told of, while it holds."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        results = state.of(context.scene) if context.scene else None
        if results is None or results.check is None:
            cls.poll_message_set(tr("Check the symmetry first."))
            return False
        if results.stale:
            cls.poll_message_set(tr("The figure was changed since the check: check again."))
            return False
        return True

    def tell(self, context: bpy.types.Context, outcome: Selected, kind: str) -> None:
        state.compare(context.scene)
        level = "WARNING" if outcome.hidden or outcome.refused else "INFO"
        self.announce({level}, told(outcome, kind))


class _Selecting(OfTheCheck):
    side: EnumProperty(name="Select", items=SIDES, default="LISTED")
    worst: FloatProperty(
        name="Worst", default=100.0, min=0.1, max=100.0, precision=0, step=500, subtype="PERCENTAGE",
        options={"SKIP_SAVE"}, description="Take only the worst of what is listed, by this share of their number",
    )

    def halves(self, context: bpy.types.Context) -> Mapping[str, Halves]:
        now = state.of(context.scene).looking
        return {} if now is None else now.halves

    def select(self, context: bpy.types.Context, chosen: Chosen) -> None:
        result = state.of(context.scene).check
        parts = [(entry, worst_part(finding, self.worst)) for entry, finding in chosen]
        wanted = wanted_of(result, parts, self.side, self.halves(context))
        if not wanted:
            raise NothingToCheckError(_NOTHING.get(self.side, "The check found nothing to select."))
        outcome = select_vertices(context, wanted)
        kinds = {entry.kind for entry in wanted.values()}
        self.tell(context, outcome, kinds.pop() if len(kinds) == 1 else "vertex")

    def select_bones(self, context: bpy.types.Context, chosen: Chosen) -> None:
        name, names = chosen[0][0].name, set()
        for _, finding in chosen:
            names |= bones_of(worst_part(finding, self.worst), self.side, self.halves(context).get(name))
        if not names:
            raise NothingToCheckError(_NOTHING.get(self.side, "The check found nothing to select."))
        self.tell(context, select_bones(context, name, names), "bone")


_NOTHING = {
    "PARTNERS": "None of these has a known partner.",
    "LEFT": "None of these is on the left half.",
    "RIGHT": "None of these is on the right half.",
}
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
    bl_description = "Select exactly these elements: vertices, edges, faces or bones, key or group"
    bl_options = {"REGISTER", "UNDO"}

    object_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})
    finding_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})

    def run(self, context: bpy.types.Context) -> None:
        entry, finding = finding_at(context.scene, self.object_index, self.finding_index)
        if finding.kind == "bone":
            self.select_bones(context, [(entry, finding)])
            return
        if finding.code.startswith("key-") and finding.about:
            show_key(context, entry.name, finding.about[0])
        if finding.kind == "group" and finding.names:
            show_group(context, entry.name, finding.names[0])
        if finding.kind in ("group", "key") and not len(finding.vertices):
            self.announce({"INFO"}, f"{', '.join(finding.names)}: it holds no vertices to select.")
            return
        self.select(context, [(entry, finding)])


def finding_at(scene: bpy.types.Scene, place: int, number: int) -> tuple[ObjectResult, Finding]:
    """A finding by its place in the panel's result. Raises NothingToCheckError when it is gone."""
    objects = state.of(scene).check.objects
    if place >= len(objects) or number >= len(objects[place].findings):
        raise NothingToCheckError("That finding is gone: check again.")
    return objects[place], objects[place].findings[number]


def _kinds(_self: Any, context: bpy.types.Context | None) -> list[tuple[str, str, str]]:
    """Every kind of finding of the last check, with how many there are."""
    results = state.of(context.scene) if context is not None and context.scene is not None else None
    counts: dict[str, int] = {}
    for entry in results.check.objects if results is not None and results.check is not None else ():
        for finding in entry.findings:
            counts[finding.code] = counts.get(finding.code, 0) + finding.count
    _alive[:] = [(code, tr(counted(code, count)), tr(IN_MOTION.get(code, ""))) for code, count in counts.items()]
    return _alive


class EVENFOLD_OT_select_kind(_Selecting, bpy.types.Operator):
    """Select every difference of one kind, on all objects of the figure"""

    bl_idname = "evenfold.select_kind"
    bl_label = "Select a Kind"
    bl_description = "Select every difference of one kind, on all objects of the figure"
    bl_options = {"REGISTER", "UNDO"}

    code: EnumProperty(name="Kind", items=_kinds)

    def run(self, context: bpy.types.Context) -> None:
        chosen = [
            (entry, finding)
            for entry in state.of(context.scene).check.objects
            for finding in entry.findings if finding.code == self.code
        ]
        if not chosen:
            raise NothingToCheckError("The check found nothing of this kind: check again.")
        if chosen[0][1].kind == "bone":
            self.select_bones(context, chosen)
        else:
            self.select(context, chosen)


class EVENFOLD_OT_select_asymmetric(_Selecting, bpy.types.Operator):
    """Select every vertex that does not match, on all objects of the figure"""

    bl_idname = "evenfold.select_asymmetric"
    bl_label = "Select All Differences"
    bl_description = "Select every vertex that does not match in any layer, on all objects"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context: bpy.types.Context) -> None:
        chosen = [
            (entry, finding)
            for entry in state.of(context.scene).check.objects
            for finding in entry.findings
            if entry.kind == "mesh" and finding.code not in NOTE_CODES
        ]
        self.select(context, chosen)


CLASSES = (EVENFOLD_OT_select_finding, EVENFOLD_OT_select_kind, EVENFOLD_OT_select_asymmetric)
