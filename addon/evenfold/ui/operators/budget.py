"""Budgets to begin with: usual limits put into the panel."""

import bpy
from bpy.props import EnumProperty

from ...core.budget import NO_LIMITS, USUAL
from ..budgeting import put_budget
from .shared import InScene, redraw

NONE = "none"
CHOICES = (
    (NONE, "No Limits", "Take every limit away"),
    *((key, name, "The limits that are usual for this kind of target, as a start: look up those of your own") for key, (name, _) in USUAL.items()),
)


class EVENFOLD_OT_fill_budget(InScene, bpy.types.Operator):
    """Set the limits that are usual for a kind of target"""

    bl_idname = "evenfold.fill_budget"
    bl_label = "Usual Budgets"
    bl_description = "Set the limits that are usual for a kind of target. The numbers can be changed afterwards"
    bl_options = {"REGISTER", "UNDO"}

    target: EnumProperty(name="Target", items=CHOICES, default=NONE)

    def run(self, context: bpy.types.Context) -> None:
        put_budget(context.scene, NO_LIMITS if self.target == NONE else USUAL[self.target][1])
        redraw(context)


CLASSES = (EVENFOLD_OT_fill_budget,)
