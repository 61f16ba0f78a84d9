"""Profiles: loading and saving the file that the headless script takes as well."""

from pathlib import Path
from typing import Any

import bpy
from bpy.props import BoolProperty, StringProperty

from ...core.errors import EvenfoldError
from ...core.settings import read_profile
from ...host.paths import is_folder
from ...host.profile_file import save_settings
from .. import defaults, planning
from ..language import tr
from ..properties import profile_of
from .shared import InScene, Reporting, redraw, usual_path

SUFFIX = ".toml"


def profile_path(scene: bpy.types.Scene, given: str = "") -> Path:
    """Where the profile is: as given, else as the panel has it. Raises EvenfoldError."""
    given = given.strip() or scene.evenfold_plan.profile.strip()
    if not given:
        raise EvenfoldError("Name the profile's file first.")
    if given.startswith("//") and not bpy.data.filepath:
        raise EvenfoldError("Save the file first: the profile's place is given beside it.")
    path = Path(bpy.path.abspath(given))
    if is_folder(path):
        raise EvenfoldError(f"{path} is a folder: name a file for the profile.")
    return path


class EVENFOLD_OT_load_profile(InScene, bpy.types.Operator):
    """Take targets, limits and canons from a profile"""

    bl_idname = "evenfold.load_profile"
    bl_label = "Load Profile"
    bl_description = (
        "Take targets, limits and canons from a profile into these panels: the TOML file that the "
        "headless script takes"
    )
    bl_options = {"REGISTER", "UNDO"}

    filepath: StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE"})
    filter_glob: StringProperty(default="*.toml", options={"HIDDEN"})
    again: BoolProperty(
        name="Again", options={"HIDDEN", "SKIP_SAVE"},
        description="Read the profile named in the panel without asking for a file",
    )

    @classmethod
    def description(cls, _context: bpy.types.Context, properties: Any) -> str:
        return "Read the profile named here again" if properties.again else cls.bl_description

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        if self.again:
            return self.execute(context)
        self.filepath = self.filepath or bpy.path.abspath(context.scene.evenfold_plan.profile)
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def run(self, context: bpy.types.Context) -> None:
        scene = context.scene
        path = profile_path(scene, self.filepath)
        planning.apply_profile(scene, read_profile(path, planning.panel_settings(scene)))
        if self.filepath:
            scene.evenfold_plan.profile = self.filepath
        redraw(context)
        self.announce({"INFO"}, f"{path.name}: targets, limits and canons taken over.")


class EVENFOLD_OT_save_profile(InScene, bpy.types.Operator):
    """Write the panels' settings into a profile"""

    bl_idname = "evenfold.save_profile"
    bl_label = "Save Profile"
    bl_description = (
        "Write these panels' targets, limits and canons into a profile, for other files and for the "
        "headless script. In a profile that is there already, comments stay"
    )
    bl_options = {"REGISTER", "UNDO"}

    filepath: StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE"})
    check_existing: BoolProperty(default=True, options={"HIDDEN", "SKIP_SAVE"})
    filter_glob: StringProperty(default="*.toml", options={"HIDDEN"})

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        if not self.filepath:
            self.filepath = bpy.path.abspath(context.scene.evenfold_plan.profile) or usual_path(context, SUFFIX)
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def check(self, _context: bpy.types.Context) -> bool:
        """Called while the dialog is open: the file gets its ending."""
        before = self.filepath
        self.filepath = bpy.path.ensure_ext(before, SUFFIX)
        return before != self.filepath

    def run(self, context: bpy.types.Context) -> None:
        scene = context.scene
        path = profile_path(scene, self.filepath)
        new = save_settings(path, profile_of(scene))
        if self.filepath:
            scene.evenfold_plan.profile = self.filepath
        redraw(context)
        self.announce({"INFO"}, f"{path.name}: profile written." if new else f"{path.name}: profile updated.")


class EVENFOLD_OT_drop_limits(Reporting, bpy.types.Operator):
    """Go back to the limits that come with the add-on"""

    bl_idname = "evenfold.drop_limits"
    bl_label = "Drop Profile Limits"
    bl_description = "Go back to the usual limits where a loaded profile set others that no panel shows"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None or not context.scene.evenfold_plan.limits:
            cls.poll_message_set(tr("No profile limits more than the panels show."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        context.scene.evenfold_plan.limits = ""
        planning.retarget(context.scene)
        redraw(context)


class EVENFOLD_OT_use_defaults(InScene, bpy.types.Operator):
    """Take the defaults from the preferences"""

    bl_idname = "evenfold.use_defaults"
    bl_label = "Use My Defaults"
    bl_description = "Take target, tolerance and profile from the add-on's preferences into these panels"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None or not defaults.any_set():
            cls.poll_message_set(tr("Set defaults in the add-on's preferences first."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        defaults.apply(context.scene)
        redraw(context)


CLASSES = (
    EVENFOLD_OT_load_profile,
    EVENFOLD_OT_save_profile,
    EVENFOLD_OT_drop_limits,
    EVENFOLD_OT_use_defaults,
)
