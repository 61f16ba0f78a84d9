"""Which figure is meant, and against which limits."""

from typing import Any

import bpy

from ..choice import choice_of, missing
from .shared import Sidebar, say


class EVENFOLD_PT_figure(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_figure"
    bl_label = "Figure"
    bl_order = 0

    def draw(self, context: bpy.types.Context) -> None:
        layout, panel = self.layout, context.scene.evenfold
        column = layout.column(align=True)
        column.prop(panel, "figure_from", text="")
        if panel.figure_from == "ARMATURE":
            column.prop(panel, "armature", text="")
        elif panel.figure_from == "COLLECTION":
            column.prop(panel, "collection", text="")
        choice = choice_of(context)
        if choice is None:
            say(layout, context, missing(context), "INFO")
        else:
            icon: dict[str, Any] = {"ARMATURE": "ARMATURE_DATA", "COLLECTION": "OUTLINER_COLLECTION"}
            layout.label(text=choice.name, icon=icon.get(choice.kind, "MESH_DATA"))
        limits = layout.column()
        limits.use_property_split = True
        limits.use_property_decorate = False
        row = limits.row(heading="Target")
        row.prop(panel, "has_target", text="")
        field = row.row()
        field.enabled = panel.has_target
        field.prop(panel, "target_heads", text="")
        limits.prop(panel, "tolerance", text="Tolerance")
        if panel.tolerance == 0:
            limits.label(text="0 means height / 10,000", icon="BLANK1")
        limits.prop(panel, "plane", text="Mirror")
        buttons = layout.column(align=True)
        buttons.scale_y = 1.3
        buttons.operator("evenfold.measure", text="Measure", icon="DRIVER_DISTANCE")
        buttons.operator("evenfold.check_symmetry", text="Check Symmetry", icon="MOD_MIRROR")


CLASSES = (EVENFOLD_PT_figure,)
