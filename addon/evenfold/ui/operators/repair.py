"""Repairing what the check found."""

import bpy
from bpy.props import IntProperty

from ...core.errors import EvenfoldError
from .shared import Reporting


class EVENFOLD_OT_repair_finding(Reporting, bpy.types.Operator):
    """Mend what one finding lists"""

    bl_idname = "evenfold.repair_finding"
    bl_label = "Repair Finding"
    bl_description = "Mend what this finding lists by moving what exists"
    bl_options = {"REGISTER", "UNDO"}

    object_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})
    finding_index: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})

    def run(self, context: bpy.types.Context) -> None:
        raise EvenfoldError("This repair is not there yet.")


CLASSES = (EVENFOLD_OT_repair_finding,)
