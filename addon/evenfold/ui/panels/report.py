"""A report of the figure at hand, as the headless script writes it."""

import bpy

from ..operators.report import last_written
from .shared import Sidebar, say


class EVENFOLD_PT_report(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_report"
    bl_label = "Report"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 4

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        row = layout.row(align=True)
        row.operator("evenfold.save_report", text="Save Page…", icon="URL").form = "PAGE"
        row.operator("evenfold.save_report", text="Save JSON…", icon="EXPORT").form = "JSON"
        path = last_written(context.scene)
        if path is None:
            say(layout, context, "Checks the figure and writes what was found: a page to read, or JSON for other programs.", "INFO")
            return
        say(layout, context, f"Written: {path.name}", "CHECKMARK")
        row = layout.row(align=True)
        if path.suffix == ".html":
            row.operator("wm.url_open", text="Open Page", icon="URL").url = path.as_uri()
        row.operator("wm.path_open", text="Open Folder", icon="FILE_FOLDER").filepath = str(path.parent)


CLASSES = (EVENFOLD_PT_report,)
