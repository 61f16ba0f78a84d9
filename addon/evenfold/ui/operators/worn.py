"""Saying what is worn or grown, what is body after all, and which bone is the head's."""

import bpy
from bpy.props import BoolProperty, EnumProperty, StringProperty

from ...core.errors import EvenfoldError
from ...core.figure import Worn
from ...host import store
from ...host.named import find
from ..language import tr
from .active import NeedsActive, active_name
from .shared import Reporting, changed, one_step

KINDS = (
    ("object", "Object", "The whole active object"),
    ("group", "Vertex Group", "The active vertex group of the active object"),
    ("bone", "Bone", "The active bone and everything under it"),
    ("material", "Material", "The active material of the active object"),
)


class EVENFOLD_OT_leave_out(NeedsActive, Reporting, bpy.types.Operator):
    """Say that the active thing is worn or grown, or that it is body after all"""

    bl_idname = "evenfold.leave_out"
    bl_label = "Leave Out of the Height"
    bl_description = "Mark the active thing as worn or grown (hair, ears, hat), or as body after all"
    bl_options = {"REGISTER"}

    kind: EnumProperty(name="What", items=KINDS, default="object")
    excluded: BoolProperty(
        name="Leave Out", default=True, options={"SKIP_SAVE"},
        description="Off: it counts as body, whatever was guessed",
    )

    def run(self, context: bpy.types.Context) -> None:
        item = context.view_layer.objects.active
        name = active_name(item, self.kind)
        with one_step(context, self.bl_label):
            store.mark(item, Worn(self.kind, name, self.excluded))
        changed(context)


class EVENFOLD_OT_forget_left_out(Reporting, bpy.types.Operator):
    """Forget what was said and guess again"""

    bl_idname = "evenfold.forget_left_out"
    bl_label = "Forget"
    bl_description = "Forget what was said about this and guess again"
    bl_options = {"REGISTER"}

    object_name: StringProperty(options={"HIDDEN", "SKIP_SAVE"})
    kind: StringProperty(options={"HIDDEN", "SKIP_SAVE"})
    name: StringProperty(options={"HIDDEN", "SKIP_SAVE"})

    def run(self, context: bpy.types.Context) -> None:
        item = find(context.scene.objects, self.object_name)
        if item is None:
            raise EvenfoldError(f"{self.object_name} is not in this scene any more.")
        with one_step(context, self.bl_label):
            store.unmark(item, self.kind, self.name)
        changed(context)


class EVENFOLD_OT_name_head_bone(Reporting, bpy.types.Operator):
    """Say that the active bone is the head's"""

    bl_idname = "evenfold.name_head_bone"
    bl_label = "Use Active Bone as Head"
    bl_description = "Take the active bone as the figure's head bone"
    bl_options = {"REGISTER"}

    clear: BoolProperty(name="Clear", options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        active = context.view_layer.objects.active
        if active is None or active.type != "ARMATURE":
            cls.poll_message_set(tr("Click the figure's armature and its head bone first."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        rig = context.view_layer.objects.active
        bone = None if self.clear else active_name(rig, "bone")
        with one_step(context, self.bl_label):
            store.name_head_bone(rig, bone)
        changed(context)


CLASSES = (EVENFOLD_OT_leave_out, EVENFOLD_OT_forget_left_out, EVENFOLD_OT_name_head_bone)
