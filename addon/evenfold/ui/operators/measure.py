"""Measuring how many heads tall the figure is."""

import bpy

from ...core.proportion import measure
from .. import state
from ..choice import source_of
from ..properties import settings_of
from .shared import NeedsFigure, read_chosen, redraw


class EVENFOLD_OT_measure(NeedsFigure, bpy.types.Operator):
    """Measure how many heads tall the figure is. Changes nothing"""

    bl_idname = "evenfold.measure"
    bl_label = "Measure Heads Tall"
    bl_description = "Measure how many heads tall the figure is. Changes nothing"
    bl_options = {"REGISTER"}

    def run(self, context: bpy.types.Context) -> None:
        figure, results = read_chosen(context)
        results.proportion = measure(figure, settings_of(context.scene))
        earlier = state.of(context.scene)
        if earlier is not None and earlier.marks == results.marks:
            results.check, results.looking = earlier.check, earlier.looking
        state.keep(context.scene, results)
        redraw(context)
        heads = results.proportion.heads_tall
        said = " ".join(source_of(context).notes)
        if heads is None:
            refusal = results.proportion.refusal or "No count could be made."
            self.announce({"WARNING"}, f"{refusal} {said}".strip())
            return
        words = f"{results.figure_name}: {heads:.2f} heads tall."
        self.announce({"WARNING"} if said else {"INFO"}, f"{words} {said}".strip())


CLASSES = (EVENFOLD_OT_measure,)
