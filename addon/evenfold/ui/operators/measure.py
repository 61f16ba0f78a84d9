"""Measuring how many heads tall the figure is."""

import bpy

from ...core.proportion import measure
from .. import state
from ..choice import choice_of, missing
from ..properties import settings_of
from .shared import Reporting, read_chosen, redraw


class EVENFOLD_OT_measure(Reporting, bpy.types.Operator):
    """Measure how many heads tall the figure is. Changes nothing"""

    bl_idname = "evenfold.measure"
    bl_label = "Measure Heads Tall"
    bl_description = "Measure how many heads tall the figure is. Changes nothing"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None or choice_of(context) is None:
            cls.poll_message_set(missing(context) if context.scene else "There is no scene.")
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        figure, results = read_chosen(context)
        results.proportion = measure(figure, settings_of(context.scene))
        earlier = state.of(context.scene)
        if earlier is not None and earlier.marks == results.marks:
            results.check = earlier.check
        state.keep(context.scene, results)
        redraw(context)
        heads = results.proportion.heads_tall
        if heads is None:
            self.report({"WARNING"}, results.proportion.refusal or "No count could be made.")
        else:
            self.report({"INFO"}, f"{results.figure_name}: {heads:.2f} heads tall.")


CLASSES = (EVENFOLD_OT_measure,)
