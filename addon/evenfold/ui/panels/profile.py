"""The profile of a production: the same file that the headless script takes."""

import bpy

from .shared import Sidebar, say


class EVENFOLD_PT_profile(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_profile"
    bl_label = "Profile"
    bl_parent_id = "EVENFOLD_PT_figure"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 1

    def draw(self, context: bpy.types.Context) -> None:
        layout, wanted = self.layout, context.scene.evenfold_plan
        column = layout.column(align=True)
        row = column.row(align=True)
        row.prop(wanted, "profile", text="")
        row.operator("evenfold.load_profile", text="", icon="FILE_REFRESH").again = True
        row = column.row(align=True)
        row.operator("evenfold.load_profile", text="Load…", icon="IMPORT").again = False
        row.operator("evenfold.save_profile", text="Save…", icon="EXPORT")
        if not wanted.profile:
            say(layout, context, "A profile keeps targets, limits and canons for all files of a production.", "INFO")
        if wanted.limits:
            say(layout, context, "A profile's limits are in force beyond those shown.", "INFO")
            layout.operator("evenfold.drop_limits", icon="X")
        layout.operator("evenfold.use_defaults", icon="PREFERENCES")


CLASSES = (EVENFOLD_PT_profile,)
