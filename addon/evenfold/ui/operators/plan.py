"""Profiles, canons of one's own, figures to compare with, and the plan as text."""

from typing import Any

import bpy
from bpy.props import BoolProperty, StringProperty

from ...core.errors import EvenfoldError
from ...core.findings import Proportion
from ...core.planning.canons import CANONS, canon_from
from ...core.proportion import measure
from ...core.report.as_json import tool_name
from ...core.report.plan_text import plan_lines
from ...host.profile_file import save_canon
from ...host.read import read_figure
from .. import planning, state
from ..choice import source_around, source_in
from ..language import tr
from ..shown import shown_of
from ..words import ruler
from .profile import profile_path
from .shared import Reporting, names_of, redraw, require_fresh


def _measured(context: bpy.types.Context) -> tuple[state.SceneResults, Proportion]:
    results = state.of(context.scene)
    if results is None or results.proportion is None or results.proportion.heads_tall is None:
        raise EvenfoldError("Measure a figure that has a count of heads first.")
    require_fresh(results)
    return results, results.proportion


class _NeedsCount(Reporting):
    """Mix-in: needs a measuring with a count of heads."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        results = state.of(context.scene) if context.scene is not None else None
        if results is None or results.proportion is None or results.proportion.heads_tall is None:
            cls.poll_message_set(tr("Measure a figure that has a count of heads first."))
            return False
        return True


class EVENFOLD_OT_save_canon(_NeedsCount, bpy.types.Operator):
    """Write the measured figure's proportions into the profile as a canon"""

    bl_idname = "evenfold.save_canon"
    bl_label = "Save as Canon"
    bl_description = "Write the measured figure's proportions into the profile as a canon of your own"
    bl_options = {"REGISTER", "UNDO"}

    canon_name: StringProperty(name="Name", description="Name of the canon", options={"SKIP_SAVE"})
    replace: BoolProperty(
        name="Replace", description="Write over the canon of this name that the profile holds already",
        default=False, options={"SKIP_SAVE"},
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        results = state.of(context.scene)
        if not self.canon_name and results is not None:
            self.canon_name = results.figure_name
        return context.window_manager.invoke_props_dialog(self)

    def run(self, context: bpy.types.Context) -> None:
        results, found = _measured(context)
        name = self.canon_name.strip() or results.figure_name
        if name in CANONS or name == planning.NONE:
            raise EvenfoldError(f"{name} is the name of a built-in canon: choose another.")
        path = profile_path(context.scene)
        canon = canon_from(found, name, f"Measured on {results.figure_name} with {tool_name()}")
        new = save_canon(path, canon, replace=self.replace)
        planning.add_canons(context.scene, (canon,))
        planning.refresh(context.scene)
        redraw(context)
        self.announce({"INFO"}, f"{name}: saved in the new profile {path.name}." if new else f"{name}: saved in {path.name}.")


class EVENFOLD_OT_remember_figure(_NeedsCount, bpy.types.Operator):
    """Keep the measured figure to compare others with"""

    bl_idname = "evenfold.remember_figure"
    bl_label = "Remember This Figure"
    bl_description = "Keep this measuring to compare other figures with, until another file is opened"
    bl_options = {"REGISTER"}

    name: StringProperty(name="Name", description="Name to remember it by", options={"SKIP_SAVE"})

    def run(self, context: bpy.types.Context) -> None:
        results, found = _measured(context)
        name = self.name.strip() or results.figure_name
        state.remember(name, found)
        planning.refresh(context.scene)
        redraw(context)
        self.announce({"INFO"}, f"{name}: remembered at {found.heads_tall:.2f} heads tall.")


class EVENFOLD_OT_forget_figures(Reporting, bpy.types.Operator):
    """Forget the figures that were remembered"""

    bl_idname = "evenfold.forget_figures"
    bl_label = "Forget Remembered Figures"
    bl_description = "Forget every figure that was remembered to compare with"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None or not state.remembered():
            cls.poll_message_set(tr("No figure is remembered."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        for scene in bpy.data.scenes:
            planning.forget_choice(scene)
        state.forget_remembered()
        planning.refresh(context.scene)
        redraw(context)


class EVENFOLD_OT_measure_other(Reporting, bpy.types.Operator):
    """Measure the other figure and compare with it"""

    bl_idname = "evenfold.measure_other"
    bl_label = "Measure and Compare"
    bl_description = "Measure the other figure of this file and set it beside this one. Changes neither"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        wanted = context.scene.evenfold_plan if context.scene is not None else None
        if wanted is None or (wanted.other is None and wanted.other_collection is None):
            cls.poll_message_set(tr("Choose the other figure first."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        wanted, results = context.scene.evenfold_plan, state.of(context.scene)
        if wanted.other_collection is not None:
            scene, source = source_in(wanted.other_collection)
        else:
            scene, source = source_around(wanted.other, set(results.marks) if results is not None else set())
        found = measure(read_figure(source, scene), planning.limits_of(scene))
        if found.heads_tall is None:
            raise EvenfoldError(f"{source.name}: no count. {found.refusal or ''}")
        state.remember(source.name, found, scene, names_of(source))
        wanted.compare_with = planning.FIGURE + source.name
        planning.refresh(context.scene)
        redraw(context)
        self.announce({"INFO"}, " ".join([f"{source.name}: {found.heads_tall:.2f} heads tall.", *source.notes]))


class EVENFOLD_OT_remove_canon(Reporting, bpy.types.Operator):
    """Take an own canon out of this file"""

    bl_idname = "evenfold.remove_canon"
    bl_label = "Remove Own Canon"
    bl_description = "Take the own canon that is compared with out of this file. A profile keeps its own"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None or _own_choice(context.scene) is None:
            cls.poll_message_set(tr("Choose one of your own canons to compare with first."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        key = _own_choice(context.scene)
        planning.remove_canon(context.scene, key)
        redraw(context)
        self.announce({"INFO"}, f"{key}: no longer in this file.")


def _own_choice(scene: bpy.types.Scene) -> str | None:
    """The own canon that is compared with."""
    key = scene.evenfold_plan.compare_with.removeprefix(planning.CANON)
    return key if any(canon.key == key for canon in planning.own_canons(scene)) else None


class EVENFOLD_OT_copy_plan(Reporting, bpy.types.Operator):
    """Copy the plan as text"""

    bl_idname = "evenfold.copy_plan"
    bl_label = "Copy Plan"
    bl_description = "Copy the plan to the target as text, to paste it elsewhere"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        shown = shown_of(context.scene) if context.scene is not None else None
        if shown is None or shown.plan is None:
            cls.poll_message_set(tr("Set a target and measure the figure first."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        context.window_manager.clipboard = plan_as_text(context.scene)
        self.announce({"INFO"}, "The plan is on the clipboard.")


def plan_as_text(scene: bpy.types.Scene) -> str:
    """The plan the panel shows with the figure's name, a line each. Raises EvenfoldError without one."""
    shown = shown_of(scene)
    if shown is None or shown.plan is None:
        raise EvenfoldError("Set a target and measure the figure first.")
    stale = ["Out of date: the figure was changed since."] if shown.how == "stale" else []
    lines = plan_lines(shown.plan, ruler(scene, [shown.plan.height_before]))
    return "\n".join([shown.figure, *stale, *lines]) + "\n"


CLASSES = (
    EVENFOLD_OT_save_canon,
    EVENFOLD_OT_remember_figure,
    EVENFOLD_OT_forget_figures,
    EVENFOLD_OT_measure_other,
    EVENFOLD_OT_remove_canon,
    EVENFOLD_OT_copy_plan,
)
