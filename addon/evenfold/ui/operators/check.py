"""Checking whether the two halves match."""

import bpy

from ...core.check import check_figure
from ...core.findings import NOTE_CODES
from ...host.nearest import KDFinder
from .. import state
from ..properties import settings_of
from .shared import NeedsFigure, read_chosen, redraw


class EVENFOLD_OT_check_symmetry(NeedsFigure, bpy.types.Operator):
    """Compare the two halves of the figure. Changes nothing"""

    bl_idname = "evenfold.check_symmetry"
    bl_label = "Check Symmetry"
    bl_description = "Compare the two halves of the figure vertex by vertex. Changes nothing"
    bl_options = {"REGISTER"}

    def run(self, context: bpy.types.Context) -> None:
        figure, results = read_chosen(context, layers=True)
        results.check = check_figure(figure, settings_of(context.scene), KDFinder)
        results.proportion = results.check.proportion
        state.keep(context.scene, results)
        redraw(context)
        total = sum(
            finding.count
            for entry in results.check.objects
            for finding in entry.findings
            if finding.code not in NOTE_CODES
        )
        if total:
            what = "1 vertex does not match" if total == 1 else f"{total} vertices do not match"
            self.report({"WARNING"}, f"{results.figure_name}: {what}.")
        else:
            self.report({"INFO"}, f"{results.figure_name}: both halves match.")


CLASSES = (EVENFOLD_OT_check_symmetry,)
