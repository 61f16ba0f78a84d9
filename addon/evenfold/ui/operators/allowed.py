"""Excusing deliberate asymmetry, and keeping a baseline of what a base came with."""

from dataclasses import replace
from typing import Any, cast

import bmesh
import bpy
import numpy as np
from bpy.props import EnumProperty, IntProperty, StringProperty

from ...core.allowances import Allowance, resolved
from ...core.baseline import take
from ...core.check import check_figure
from ...core.errors import EvenfoldError, NothingToCheckError
from ...core.figure import Figure, IntArray
from ...core.findings import Finding, ObjectResult
from ...core.report.wording import counted
from ...core.symmetry import LAYERS
from ...host import allowances, baselines
from ...host.named import find, found
from ...host.nearest import KDFinder
from ...host.select import Wanted, select_bones, select_vertices
from ...host.store import require_editable
from .. import state
from ..choice import choice_of, missing
from ..language import tr
from ..properties import settings_of
from .active import NeedsActive, active_name
from .check import check_again
from .select import finding_at, told
from .shared import NeedsFigure, Reporting, one_step, read_chosen

NAMED_KINDS = (
    ("object", "Object", "The whole active object is meant to differ"),
    ("group", "Vertex Group", "What is in the active vertex group is meant to differ"),
    ("material", "Material", "What has the active material is meant to differ"),
    ("bones", "Bone Chain", "The active bone and all below it are meant to differ"),
    ("key", "Shape Key", "The active shape key is meant to do something of its own"),
)
LAYER_NAMES = {
    "surface": ("Vertices", "Places and partners of vertices"),
    "topology": ("Edges and Faces", "What is joined to what"),
    "normals": ("Custom Normals", "Custom normals"),
    "uv": ("UV Maps", "UV maps and seams"),
    "materials": ("Materials", "Materials of faces"),
    "weights": ("Weights", "Vertex groups and weights"),
    "shape_keys": ("Shape Keys", "Shape keys"),
    "masks": ("Masks", "Painted masks"),
    "bones": ("Bones", "Rest bones"),
    "physics": ("Chain Physics", "Settings by which bone chains swing"),
}
LAYER_ITEMS = tuple((name, *LAYER_NAMES[name]) for name in LAYERS)


class _WithReason(Reporting):
    """Mix-in: asks for the reason before it excuses anything, and checks again after."""

    reason: StringProperty(
        name="Reason", description="Why this is meant to differ; kept in the file and in reports"
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> set[str]:
        return set(context.window_manager.invoke_props_dialog(cast("Any", self), width=360))

    def draw(self, context: bpy.types.Context) -> None:
        try:
            self.layout.label(text=self.what(context), icon="CHECKMARK", translate=False)
        except EvenfoldError as refusal:
            self.layout.label(text=tr(str(refusal)), icon="ERROR", translate=False)
        self.layout.activate_init = True
        self.layout.prop(self, "reason")

    def what(self, context: bpy.types.Context) -> str:
        """What would be excused, for the dialog. Raises EvenfoldError when there is nothing."""
        raise NotImplementedError

    def why(self) -> str:
        """The reason given. Raises EvenfoldError when there is none."""
        if not self.reason.strip():
            raise EvenfoldError("Say why this is meant to differ: press again and type a reason.")
        return str(self.reason)

    def kept(self, context: bpy.types.Context, what: str) -> None:
        check_again(context)
        self.announce({"INFO"}, f"Excused: {what}.")


class EVENFOLD_OT_allow_selection(_WithReason, bpy.types.Operator):
    """Excuse the selected vertices, with a reason"""

    bl_idname = "evenfold.allow_selection"
    bl_label = "Excuse Selected Vertices"
    bl_description = "The selected vertices are meant to differ: excuse them, with a reason"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.mode != "EDIT_MESH":
            cls.poll_message_set(tr("Select the vertices that are meant to differ, in edit mode."))
            return False
        return True

    def what(self, context: bpy.types.Context) -> str:
        return ", ".join(f"{item.name}: {len(vertices):,}" for item, vertices in _chosen(context))

    def run(self, context: bpy.types.Context) -> None:
        chosen = _chosen(context)
        if not chosen:
            raise NothingToCheckError("No vertex is selected: select what is meant to differ.")
        why = self.why()
        for item, _ in chosen:
            allowances.require_markable(item)
        with one_step(context, self.bl_label):
            for item, vertices in chosen:
                allowances.allow_vertices(item, vertices, why)
        count = sum(len(vertices) for _, vertices in chosen)
        self.kept(context, f"{count:,} vertices")


def _chosen(context: bpy.types.Context) -> list[tuple[bpy.types.Object, IntArray]]:
    """The objects that are edited, with their selected vertices; without those that have none."""
    chosen = [(item, _selected(item)) for item in context.objects_in_mode]
    return [(item, vertices) for item, vertices in chosen if len(vertices)]


def _selected(item: bpy.types.Object) -> IntArray:
    edit = bmesh.from_edit_mesh(cast("bpy.types.Mesh", item.data))
    edit.verts.index_update()
    return np.array([v.index for v in edit.verts if v.select], np.int64)


class EVENFOLD_OT_allow_named(NeedsActive, _WithReason, bpy.types.Operator):
    """Excuse the active object, group, material, bone chain or key, with a reason"""

    bl_idname = "evenfold.allow_named"
    bl_label = "Excuse"
    bl_description = "The active thing is meant to differ: excuse it, with a reason"
    bl_options = {"REGISTER"}

    kind: EnumProperty(name="What", items=NAMED_KINDS, default="object")

    def what(self, context: bpy.types.Context) -> str:
        item = context.view_layer.objects.active
        return item.name if self.kind == "object" else active_name(item, self.kind)

    def run(self, context: bpy.types.Context) -> None:
        item = context.view_layer.objects.active
        subject = "" if self.kind == "object" else active_name(item, self.kind)
        with one_step(context, self.bl_label):
            allowances.allow(item, self.kind, subject, self.why())
        self.kept(context, subject or item.name)


class EVENFOLD_OT_allow_layer(_WithReason, bpy.types.Operator):
    """Excuse a whole layer of the figure, with a reason"""

    bl_idname = "evenfold.allow_layer"
    bl_label = "Excuse a Layer"
    bl_description = "A whole layer of the figure is meant to differ: excuse it, with a reason"
    bl_options = {"REGISTER"}

    layer: EnumProperty(name="Layer", items=LAYER_ITEMS, default="uv")

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if choice_of(context) is None:
            cls.poll_message_set(tr(missing(context)))
            return False
        return True

    def what(self, _context: bpy.types.Context) -> str:
        return tr(LAYER_NAMES[self.layer][0])

    def run(self, context: bpy.types.Context) -> None:
        figure, _ = read_chosen(context)
        name = figure.armature.name if figure.armature else figure.surfaces[0].name
        with one_step(context, self.bl_label):
            allowances.allow(_object(context, name), "layer", self.layer, self.why(), whole=True)
        self.kept(context, LAYER_NAMES[self.layer][0])


class EVENFOLD_OT_allow_finding(_WithReason, bpy.types.Operator):
    """Excuse exactly what one finding lists, with a reason"""

    bl_idname = "evenfold.allow_finding"
    bl_label = "Excuse Finding"
    bl_description = "This difference is meant: excuse what the finding lists, with a reason"
    bl_options = {"REGISTER"}

    object_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})
    finding_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        results = state.of(context.scene)
        if results is None or results.check is None or results.stale:
            cls.poll_message_set(tr("Check the symmetry first."))
            return False
        return True

    def what(self, context: bpy.types.Context) -> str:
        entry, finding = finding_at(context.scene, self.object_index, self.finding_index)
        return ": ".join(one for one in (entry.name, tr(counted(finding.code, finding.count)), finding.whose) if one)

    def run(self, context: bpy.types.Context) -> None:
        entry, finding = finding_at(context.scene, self.object_index, self.finding_index)
        item = _object(context, entry.name)
        with one_step(context, self.bl_label):
            if finding.names:
                allowances.allow_found(item, finding.kind, finding, self.why())
            else:
                _allow_elements(item, entry, finding, self.why())
        self.kept(context, f"{finding.count} of {entry.name}")


def _object(context: bpy.types.Context, name: str) -> bpy.types.Object:
    """The object of this name. Raises NothingToCheckError when it has gone."""
    item = find(context.scene.objects, name)
    if item is None:
        raise NothingToCheckError(f"{name} is not in this scene any more: check again.")
    return item


def _allow_elements(
    item: bpy.types.Object, entry: ObjectResult, finding: Finding, reason: str
) -> None:
    vertices = finding.elements if finding.kind == "vertex" else finding.vertices
    item.update_from_editmode()
    if len(item.data.vertices) != entry.vertices:
        raise NothingToCheckError(f"{entry.name} was changed since the check: check again.")
    allowances.allow_vertices(item, np.asarray(vertices, np.int64), reason, finding)


class _OnAllowance(Reporting):
    """Mix-in: works on the allowance of a mark on an object."""

    object_name: StringProperty(options={"HIDDEN", "SKIP_SAVE"})
    mark: StringProperty(options={"HIDDEN", "SKIP_SAVE"})

    def item(self, context: bpy.types.Context) -> bpy.types.Object:
        item = find(context.scene.objects, self.object_name)
        if item is None:
            raise NothingToCheckError(f"{self.object_name} is not in this scene any more.")
        return item


class EVENFOLD_OT_forget_allowance(_OnAllowance, bpy.types.Operator):
    """Stop excusing this"""

    bl_idname = "evenfold.forget_allowance"
    bl_label = "Stop Excusing"
    bl_description = "Stop excusing this; the difference is listed again"
    bl_options = {"REGISTER"}

    def run(self, context: bpy.types.Context) -> None:
        item = self.item(context)
        with one_step(context, self.bl_label):
            allowances.forget(item, self.mark)
        check_again(context)


class EVENFOLD_OT_show_allowance(_OnAllowance, bpy.types.Operator):
    """Select what this allowance covers"""

    bl_idname = "evenfold.show_allowance"
    bl_label = "Select What Is Excused"
    bl_description = "Select what this allowance covers"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context: bpy.types.Context) -> None:
        item = self.item(context)
        figure, _ = read_chosen(context, layers=True)
        marked = [one for one in figure.allowances if one.mark == self.mark]
        if not marked:
            raise NothingToCheckError("That allowance is gone: check again.")
        one = resolved(marked[0], figure)
        if one.kind in ("bones", "bone"):
            outcome = select_bones(context, self.object_name, one.names)
            self.announce({"INFO"}, told(outcome, "bone"))
            return
        outcome = select_vertices(
            context, {self.object_name: Wanted(_vertices(one), len(item.data.vertices))}
        )
        self.announce({"INFO"}, told(outcome))


def _vertices(one: Allowance) -> IntArray:
    if not len(one.vertices):
        raise NothingToCheckError("This allowance covers no vertices to select.")
    return one.vertices


class EVENFOLD_OT_save_baseline(NeedsFigure, bpy.types.Operator):
    """Remember today's differences as inherited; later ones show as new"""

    bl_idname = "evenfold.save_baseline"
    bl_label = "Save Baseline"
    bl_description = (
        "Remember today's differences as what the base came with: later ones show as new"
    )
    bl_options = {"REGISTER"}

    def run(self, context: bpy.types.Context) -> None:
        figure, _ = read_chosen(context, layers=True)
        _require_editable(context, figure)
        bare = replace(figure, allowances=(), baselines={})
        result = check_figure(bare, settings_of(context.scene), KDFinder)
        surfaces = {surface.name: surface for surface in figure.surfaces}
        with one_step(context, self.bl_label):
            for entry in result.objects:
                item = find(context.scene.objects, entry.name)
                if item is not None:
                    baselines.keep_baseline(item, take(entry, surfaces.get(entry.name)))
        check_again(context)
        count = sum(finding.count for entry in result.objects for finding in entry.findings)
        self.announce({"INFO"}, f"Baseline of {figure.name} saved: {count} inherited differences.")


def _require_editable(context: bpy.types.Context, figure: Figure) -> None:
    """Raises PinError when anything of the figure cannot be written on."""
    rig = (figure.armature.name,) if figure.armature else ()
    for item in found(context.scene.objects, (*rig, *(one.name for one in figure.surfaces))):
        require_editable(item)


class EVENFOLD_OT_forget_baseline(NeedsFigure, bpy.types.Operator):
    """Forget the baseline: every difference counts the same again"""

    bl_idname = "evenfold.forget_baseline"
    bl_label = "Forget Baseline"
    bl_description = "Forget the baseline: every difference counts the same again"
    bl_options = {"REGISTER"}

    def run(self, context: bpy.types.Context) -> None:
        figure, _ = read_chosen(context)
        kept = [_object(context, name) for name in figure.baselines]
        for item in kept:
            require_editable(item)
        with one_step(context, self.bl_label):
            for item in kept:
                baselines.forget_baseline(item)
        check_again(context)


CLASSES = (
    EVENFOLD_OT_allow_selection,
    EVENFOLD_OT_allow_named,
    EVENFOLD_OT_allow_layer,
    EVENFOLD_OT_allow_finding,
    EVENFOLD_OT_forget_allowance,
    EVENFOLD_OT_show_allowance,
    EVENFOLD_OT_save_baseline,
    EVENFOLD_OT_forget_baseline,
)
