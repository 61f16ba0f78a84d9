"""What the artist has said about the figure."""

import bpy

from ...core.spoken import landmark_words
from ...host import store
from ...host.named import unique_name
from .. import first
from ..language import tr
from .shared import Sidebar


class EVENFOLD_PT_told(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_told"
    bl_label = "Pins and Headwear"
    bl_options = {"DEFAULT_CLOSED"}
    bl_order = 3

    def draw(self, context: bpy.types.Context) -> None:
        layout, panel = self.layout, context.scene.evenfold
        layout.label(text="Pin a landmark")
        column = layout.column(align=True)
        column.prop(panel, "landmark", text="")
        row = column.row(align=True)
        row.operator("evenfold.pin_vertex", text="Vertex", icon="VERTEXSEL").landmark = panel.landmark
        row.operator("evenfold.pin_cursor", text="Cursor", icon="CURSOR").landmark = panel.landmark
        layout.label(text="Not part of the head")
        row = layout.row(align=True)
        row.operator_menu_enum("evenfold.leave_out", "kind", text="Leave Out", icon="REMOVE")
        row.operator_menu_enum("evenfold.leave_out", "kind", text="It Is Body", icon="ADD").excluded = False
        column = layout.column(align=True)
        column.operator("evenfold.choose_head_bone", text="Choose Head Bone", icon="EYEDROPPER")
        column.operator("evenfold.name_head_bone", icon="BONE_DATA")
        draw_told(layout, context)


def draw_told(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """What is kept on the figure's objects, each with a button to forget it."""
    for item in first.chosen_items(context):
        for pin in store.stored_pins(item):
            row = layout.row(align=True)
            landmark = landmark_words(pin.landmark)
            text = f"{landmark} on {unique_name(item)}, at a vertex" if pin.tag else f"{landmark} on {unique_name(item)}, at a place"
            row.label(text=tr(text), icon="PINNED")
            button = row.operator("evenfold.remove_pin", text="", icon="X")
            button.object_name, button.landmark = unique_name(item), pin.landmark
        for entry in store.stored_worn(item):
            row = layout.row(align=True)
            name = entry.name or unique_name(item)
            text = f"{name} is left out" if entry.excluded else f"{name} counts as body"
            row.label(text=tr(text), icon="REMOVE" if entry.excluded else "ADD")
            button = row.operator("evenfold.forget_left_out", text="", icon="X")
            button.object_name, button.kind, button.name = unique_name(item), entry.kind, entry.name
        if item.get(store.HEAD_KEY):
            row = layout.row(align=True)
            row.label(text=tr(f"Head bone: {item[store.HEAD_KEY]}"), icon="BONE_DATA")
            row.operator("evenfold.name_head_bone", text="", icon="X").clear = True


CLASSES = (EVENFOLD_PT_told,)
