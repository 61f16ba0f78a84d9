"""Checking whether the two halves match."""

import bpy

from ...core.check import check_figure
from ...core.errors import EvenfoldError
from ...core.figure import Figure
from ...core.findings import NOTE_CODES, FigureResult, ways
from ...core.halves import halves_of
from ...core.places import lay_out
from ...host.nearest import KDFinder
from .. import state
from ..looking import Looking
from ..properties import settings_of
from .shared import NeedsFigure, changed, read_chosen, redraw


def check_now(context: bpy.types.Context) -> FigureResult:
    """Check the figure the panel means and keep the result. Raises EvenfoldError."""
    return check_figure_now(context)[1]


def check_figure_now(context: bpy.types.Context) -> tuple[Figure, FigureResult]:
    """The same, with the figure that was read."""
    figure, results = read_chosen(context, layers=True)
    settings = settings_of(context.scene)
    results.check = check_figure(figure, settings, KDFinder)
    results.asked = settings.compared_by
    results.proportion = results.check.proportion
    middle = results.check.tolerance / figure.metres_per_unit
    halves = halves_of(figure, results.check.plane, middle)
    results.looking = Looking(lay_out(figure, results.check), halves)
    state.keep(context.scene, results)
    redraw(context)
    return figure, results.check


def check_again(context: bpy.types.Context) -> Figure | None:
    """Bring an earlier result up to date after something was said or repaired; the figure as read for this.

    Where the figure cannot be read from here, the old result is left and says it is out of date.
    """
    earlier = state.of(context.scene)
    if earlier is None or earlier.check is None:
        return None
    try:
        return check_figure_now(context)[0]
    except EvenfoldError:
        changed(context)
        return None


class EVENFOLD_OT_check_symmetry(NeedsFigure, bpy.types.Operator):
    """Compare the two halves of the figure. Changes nothing"""

    bl_idname = "evenfold.check_symmetry"
    bl_label = "Check Symmetry"
    bl_description = (
        "Compare the two halves of the figure: vertices, faces, UVs, weights, keys, bones, masks. "
        "Changes nothing"
    )
    bl_options = {"REGISTER"}

    def run(self, context: bpy.types.Context) -> None:
        result = check_now(context)
        findings = [
            finding for entry in result.objects for finding in entry.findings
            if finding.code not in NOTE_CODES
        ]
        if not findings:
            self.announce({"INFO"}, f"{result.name}: both halves match.")
            return
        vertices = sum(f.count for f in findings if f.kind == "vertex")
        kinds = ways(findings)
        if kinds == 1 and vertices:
            what = "1 vertex does not match" if vertices == 1 else f"{vertices:,} vertices do not match"
        elif kinds == 1:
            what = "1 kind of difference"
        else:
            what = f"{kinds} kinds of differences"
        self.announce({"WARNING"}, f"{result.name}: {what}.")


CLASSES = (EVENFOLD_OT_check_symmetry,)
