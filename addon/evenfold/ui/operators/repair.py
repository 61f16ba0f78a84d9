"""Repairing what the check found: one finding, one kind, or all that is safe."""

from collections.abc import Collection, Iterable, Sequence
from typing import Any, cast

import bmesh
import bpy
import numpy as np
from bpy.props import BoolProperty, EnumProperty, IntProperty, StringProperty

from ...core.check import check_figure
from ...core.errors import EvenfoldError, NothingToCheckError
from ...core.figure import IntArray
from ...core.findings import FigureResult, Finding, ObjectResult
from ...core.repair import REPAIRS, Checked, KeyMade, Plan, Wish, plan_repair
from ...core.repair.shading import shading_told
from ...core.repair.together import plan_together, safe_codes
from ...core.report.wording import counted
from ...host.named import unique_name
from ...host.nearest import KDFinder
from ...host.write.apply import apply
from .. import state
from ..choice import choice_of, missing
from ..language import tr
from ..properties import settings_of
from ..properties.repair import WAYS
from ..words import amount, finding_size, letter_size, scale_of, wrapped
from .check import check_again
from .select import finding_at
from .shared import Reporting, read_chosen

FAR_CODES = ("drifted", "near-miss", "off-centre")
"""Repairs that leave alone what lies far off, unless asked."""

WIDTH, MARGIN = 380, 40
"""Pixels at scale 1 the dialog is wide, and what of them no text has."""


class _Repairing(Reporting):
    """Mix-in: plans on the figure as it is now, writes, checks again and says what was changed."""

    way: EnumProperty(name="Way", items=WAYS, default="left")
    only_selected: BoolProperty(
        name="Only Selected", default=False,
        description="Mend only pairs of which a vertex is selected",
    )
    far: BoolProperty(
        name="Large Differences Too", default=False, options={"SKIP_SAVE"},
        description="Move also what lies so far off that it may be meant: more than half an edge",
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        results = state.of(context.scene) if context.scene else None
        if results is None or results.check is None:
            cls.poll_message_set(tr("Check the symmetry first."))
            return False
        if choice_of(context) is None:
            cls.poll_message_set(tr(missing(context)))
            return False
        if context.mode not in ("OBJECT", "EDIT_MESH", "EDIT_ARMATURE", "POSE"):
            cls.poll_message_set(tr("Go to Object or Edit Mode first: painting keeps its own history."))
            return False
        return True

    def prepare(self, context: bpy.types.Context) -> None:
        """What the dialog needs to know. Raises EvenfoldError when there is nothing to mend."""

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        self.way = context.scene.evenfold_repair.way
        try:
            self.prepare(context)
        except EvenfoldError as error:
            self.announce({"ERROR"}, str(error))
            return {"CANCELLED"}
        dialog: Any = context.window_manager.invoke_props_dialog
        return dialog(self, width=WIDTH)

    def wish(self, context: bpy.types.Context) -> Wish:
        """What was set in the dialog. Raises NothingToCheckError when nothing is selected."""
        if not self.only_selected:
            return Wish(self.way, far=self.far)
        chosen = {unique_name(item): _selected(item) for item in _in_edit_mode(context)}
        if not any(len(vertices) for vertices in chosen.values()):
            raise NothingToCheckError("No vertex is selected: select what to mend, in edit mode.")
        return Wish(self.way, chosen, self.far)

    def fresh(self, context: bpy.types.Context) -> tuple[FigureResult, Checked]:
        """The figure as it is now, checked with the panel's settings."""
        figure, _ = read_chosen(context, layers=True)
        results = state.of(context.scene)
        if figure.name != results.figure_name:
            raise NothingToCheckError(
                f"{results.figure_name} was checked, but {figure.name} is chosen: check again."
            )
        settings = settings_of(context.scene)
        result = check_figure(figure, settings, KDFinder)
        return result, Checked.of(figure, result, settings, KDFinder)

    def carry_out(self, context: bpy.types.Context, checked: Checked, plan: Plan) -> None:
        """Write the plan and say what was done, what was not, and what came of it."""
        counts = {surface.name: len(surface.positions) for surface in checked.figure.surfaces}
        done = apply(plan.changes, context.scene, counts)
        said = [done.summary]
        turned: tuple[str, ...] = ()
        if plan.changes:
            after = check_again(context)
            turned = shading_told(checked, plan, after) if after is not None else ()
            if not all(isinstance(one, KeyMade) for one in plan.changes):
                sizes = ((plan.largest, plan.unit), *plan.further)
                said += [_largest(context.scene, size, unit) for size, unit in sizes if size > 0]
        told = (*turned, *plan.left_alone)
        self.announce({"WARNING"} if told else {"INFO"}, " ".join([*said, *told]))

    def draw_wish(self, context: bpy.types.Context, ways: Sequence[str], codes: Collection[str]) -> None:
        layout = self.layout
        if ways:
            layout.row().prop(self, "way", expand=True)
        if any(code in FAR_CODES for code in codes):
            layout.prop(self, "far")
        if context.mode == "EDIT_MESH":
            layout.prop(self, "only_selected")


def _largest(scene: bpy.types.Scene, largest: float, unit: str) -> str:
    """A plain number says of what it is one."""
    size = amount(scene, largest, unit)
    if unit == "weight":
        return f"Largest change of a weight: {size}."
    return f"Largest change of a UV: {size}." if unit == "uv" else f"Largest change: {size}."


def _in_edit_mode(context: bpy.types.Context) -> list[bpy.types.Object]:
    return [item for item in context.view_layer.objects if item.type == "MESH" and item.mode == "EDIT"]


def _selected(item: bpy.types.Object) -> IntArray:
    edit = bmesh.from_edit_mesh(cast("bpy.types.Mesh", item.data))
    return np.array([vertex.index for vertex in edit.verts if vertex.select], np.int64)


class EVENFOLD_OT_repair_finding(_Repairing, bpy.types.Operator):
    """Mend what one finding lists"""

    bl_idname = "evenfold.repair_finding"
    bl_label = "Repair Finding"
    bl_description = "Mend what this finding lists by moving what exists; nothing is rebuilt"
    bl_options = {"REGISTER", "UNDO"}

    object_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})
    finding_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})
    object_name: StringProperty(options={"HIDDEN", "SKIP_SAVE"})
    code: StringProperty(options={"HIDDEN", "SKIP_SAVE"})
    subject: StringProperty(options={"HIDDEN", "SKIP_SAVE"})
    other: StringProperty(options={"HIDDEN", "SKIP_SAVE"})

    def prepare(self, context: bpy.types.Context) -> None:
        self.name_it(context)
        ways = REPAIRS[self.code].ways
        if ways and self.way not in ways:
            self.way = ways[0]

    def name_it(self, context: bpy.types.Context) -> None:
        """Take the finding's names from its place in the panel; they outlive an undo, places do not."""
        if self.code:
            return
        if state.of(context.scene).stale:
            raise NothingToCheckError("The figure was changed since the check: check again.")
        entry, finding = finding_at(context.scene, self.object_index, self.finding_index)
        if finding.code not in REPAIRS:
            raise NothingToCheckError("There is no repair for this: mend it by hand.")
        self.object_name, self.code = entry.name, finding.code
        self.subject, self.other = _subject(finding), finding.partner_object or ""

    def draw(self, context: bpy.types.Context) -> None:
        repair = REPAIRS[self.code]
        column = self.layout.column(align=True)
        column.label(text=f"{tr(repair.title)}: {self.object_name} {self.subject}".strip())
        found = self.found(state.of(context.scene).check)
        if found is not None:
            size = finding_size(context.scene, found[1])
            column.label(text=f"{tr(counted(self.code, found[1].count))} {size}".strip())
        room = (WIDTH - MARGIN) * scale_of(context)
        for line in wrapped(tr(f"{repair.about}."), room, letter_size(context)):
            column.label(text=line)
        self.draw_wish(context, repair.ways, (self.code,))

    def found(self, result: FigureResult) -> tuple[ObjectResult, Finding] | None:
        for entry in result.objects:
            for finding in entry.findings:
                mine = (entry.name, finding.code, _subject(finding), finding.partner_object or "")
                if mine == (self.object_name, self.code, self.subject, self.other):
                    return entry, finding
        return None

    def run(self, context: bpy.types.Context) -> None:
        self.name_it(context)
        wish = self.wish(context)
        result, checked = self.fresh(context)
        found = self.found(result)
        if found is None:
            raise NothingToCheckError("This difference is gone: check again.")
        self.carry_out(context, checked, plan_repair(checked, *found, wish))


def _subject(finding: Finding) -> str:
    """What tells findings of one kind on one object apart."""
    return finding.subject or ", ".join(finding.names)


class EVENFOLD_OT_repair_all(_Repairing, bpy.types.Operator):
    """Mend every finding of one kind, or all that is safe"""

    bl_idname = "evenfold.repair_all"
    bl_label = "Repair What Is Safe"
    bl_description = (
        "Mend all that needs no judgement; what lies far off may be meant and is left alone. "
        "One undo step"
    )
    bl_options = {"REGISTER", "UNDO"}

    code: StringProperty(
        name="Kind", description="Kind of finding to mend; all safe ones if empty", options={"SKIP_SAVE"}
    )
    object_name: StringProperty(
        name="Object", description="Mend on this object only; on the whole figure if empty",
        options={"SKIP_SAVE"},
    )

    def draw(self, context: bpy.types.Context) -> None:
        codes = (self.code,) if self.code else safe_codes()
        column = self.layout.column(align=True)
        for code in codes:
            count = _count(state.of(context.scene).check.objects, code, self.object_name)
            if count:
                column.label(text=f"{tr(counted(code, count))}: {tr(REPAIRS[code].title)}")
        ways = tuple({way: None for code in codes for way in REPAIRS[code].ways})
        self.draw_wish(context, ways, codes)

    def run(self, context: bpy.types.Context) -> None:
        if self.code and self.code not in REPAIRS:
            raise NothingToCheckError("There is no repair for this: mend it by hand.")
        wish = self.wish(context)
        result, checked = self.fresh(context)
        codes = (self.code,) if self.code else safe_codes()
        wanted = [one for one in result.objects if self.object_name in ("", one.name)]
        if not any(_count(wanted, code) for code in codes):
            if self.code:
                raise NothingToCheckError("There is nothing of this kind to mend.")
            raise NothingToCheckError(_need_own(wanted))
        plan = plan_together(checked, wanted, codes, wish, careful=not self.code)
        self.carry_out(context, checked, plan)


def _need_own(objects: Sequence[ObjectResult]) -> str:
    """What *Repair What Is Safe* says where nothing is: which findings wait for the button of their kind."""
    counts = {code: _count(objects, code) for code in REPAIRS}
    those = ", ".join(counted(code, count) for code, count in counts.items() if count)
    if not those:
        return "Nothing here that could be repaired."
    return f"Nothing here is safe to mend without a look. Use the button of each kind: {those}."


def _count(objects: Iterable[ObjectResult], code: str, name: str = "") -> int:
    return sum(
        finding.count
        for entry in objects if name in ("", entry.name)
        for finding in entry.findings if finding.code == code
    )


CLASSES = (EVENFOLD_OT_repair_finding, EVENFOLD_OT_repair_all)
