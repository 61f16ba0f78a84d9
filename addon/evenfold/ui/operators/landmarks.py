"""Opening a landmark's evidence, and keeping the humanoid bone map."""

from typing import Any

import bpy
from bpy.props import BoolProperty, StringProperty

from ...core.errors import EvenfoldError
from ...core.humanoid_table import BY_NAME, label
from ...host import bone_map
from ..language import tr
from ..rig_choice import look_over, rig_of
from .shared import Reporting, changed, redraw, undoable


class NeedsRig(Reporting):
    """Mix-in for operators on the bone map of the figure the panel means."""

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None or rig_of(context) is None:
            cls.poll_message_set(tr("Click the figure's armature, or a mesh it deforms, first."))
            return False
        return undoable(cls, context)

    def kept(self, context: bpy.types.Context, rig: bpy.types.Object, words: str) -> None:
        """Look the map over, show the change, and report how whole the map is."""
        found = look_over(rig)
        missing = sum(one.missing for one in found)
        wrong = len(found) - missing
        changed(context)
        rest = [f"{missing} required missing"] * bool(missing) + [f"{wrong} to look at"] * bool(wrong)
        self.announce({"WARNING"} if rest else {"INFO"}, ", ".join([words, *rest]) + ".")


class EVENFOLD_OT_open_landmark(Reporting, bpy.types.Operator):
    """Show what this measure rests on, or hide it again"""

    bl_idname = "evenfold.open_landmark"
    bl_label = "Evidence"
    bl_description = "Show what this measure rests on, or hide it again"
    bl_options = {"INTERNAL"}

    name: StringProperty(options={"HIDDEN", "SKIP_SAVE"})

    def run(self, context: bpy.types.Context) -> None:
        shown = context.scene.evenfold_landmarks
        shown.opened = "" if shown.opened == self.name else self.name
        redraw(context)


class EVENFOLD_OT_map_bone(NeedsRig, bpy.types.Operator):
    """Say which bone plays this bone of the avatar standard"""

    bl_idname = "evenfold.map_bone"
    bl_label = "Choose Bone"
    bl_description = "Say which bone of the armature plays this bone of the avatar standard"
    bl_options = {"REGISTER", "UNDO"}

    standard: StringProperty(options={"HIDDEN", "SKIP_SAVE"})
    bone: StringProperty(name="Bone", description="Bone of the armature; empty for none", options={"SKIP_SAVE"})
    use_active: BoolProperty(
        name="Active Bone", description="Take the armature's active bone", options={"HIDDEN", "SKIP_SAVE"}
    )

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        rig = rig_of(context)
        if self.use_active or rig is None:
            return self.execute(context)
        self.bone = (bone_map.stored_map(rig) or {}).get(self.standard, "")
        return context.window_manager.invoke_props_dialog(self)

    def draw(self, context: bpy.types.Context) -> None:
        rig = rig_of(context)
        if rig is not None:
            name = label(self.standard) if self.standard in BY_NAME else "Bone"
            self.layout.prop_search(self, "bone", rig.data, "bones", text=name)

    def run(self, context: bpy.types.Context) -> None:
        rig = rig_of(context)
        bone = active_bone(rig) if self.use_active else self.bone
        lost = bone_map.map_bone(rig, self.standard, bone)
        words = f"{label(self.standard)}: {bone or 'no bone'}"
        if lost is not None:
            words += f" (no longer the {label(lost).lower()})"
        self.kept(context, rig, words)


def active_bone(rig: bpy.types.Object) -> str:
    """The name of the armature's active bone. Raises EvenfoldError when there is none."""
    bones = rig.data.bones
    if bones.active is None:
        raise EvenfoldError(f"{rig.name} has no active bone: click a bone in Pose Mode first.")
    return str(bones.active.name)


class EVENFOLD_OT_guess_bones(NeedsRig, bpy.types.Operator):
    """Guess the bone map by names and places, and keep it"""

    bl_idname = "evenfold.guess_bones"
    bl_label = "Guess Bones"
    bl_description = "Guess all humanoid bones by their names and places, in place of the map kept so far"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context: bpy.types.Context) -> None:
        rig = rig_of(context)
        found = bone_map.guess_map(rig)
        bone_map.keep_map(rig, found)
        self.kept(context, rig, f"{len(found)} bones guessed")


class EVENFOLD_OT_clear_bones(NeedsRig, bpy.types.Operator):
    """Forget the bone map"""

    bl_idname = "evenfold.clear_bones"
    bl_label = "Clear Bone Map"
    bl_description = "Forget the bone map kept on the armature; bones are then guessed when measuring"
    bl_options = {"REGISTER", "UNDO"}

    def run(self, context: bpy.types.Context) -> None:
        bone_map.clear_map(rig_of(context))
        changed(context)


class EVENFOLD_OT_read_bone_map(NeedsRig, bpy.types.Operator):
    """Take the bone map from an avatar file"""

    bl_idname = "evenfold.read_bone_map"
    bl_label = "Read Bone Map from Avatar File"
    bl_description = "Take the humanoid bones from the table of an avatar file, where the bones' names match"
    bl_options = {"REGISTER", "UNDO"}

    filepath: StringProperty(subtype="FILE_PATH", options={"SKIP_SAVE"})
    filter_glob: StringProperty(default="*.vrm;*.glb", options={"HIDDEN"})

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def run(self, context: bpy.types.Context) -> None:
        if not self.filepath:
            raise EvenfoldError("Choose an avatar file first.")
        rig = rig_of(context)
        found = bone_map.map_of_file(bpy.path.abspath(self.filepath), rig)
        bone_map.keep_map(rig, found)
        self.kept(context, rig, f"{len(found)} bones taken")


CLASSES = (
    EVENFOLD_OT_open_landmark,
    EVENFOLD_OT_map_bone,
    EVENFOLD_OT_guess_bones,
    EVENFOLD_OT_clear_bones,
    EVENFOLD_OT_read_bone_map,
)
