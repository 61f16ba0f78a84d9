"""Guides drawn over the model."""

import bpy

from ...host.named import found
from ...host.posed import any_posed
from ...host.write.guides import has_guides
from .. import state
from ..shown import shown_of
from .shared import Sidebar, say


class EVENFOLD_PT_guides(Sidebar, bpy.types.Panel):
    bl_idname = "EVENFOLD_PT_guides"
    bl_parent_id = "EVENFOLD_PT_heads"
    bl_label = "Guides"
    bl_order = 0

    def draw(self, context: bpy.types.Context) -> None:
        layout, chosen = self.layout, context.scene.evenfold_guides
        layout.prop(
            chosen, "show", toggle=True, icon="HIDE_OFF" if chosen.show else "HIDE_ON"
        )
        results = state.of(context.scene)
        if chosen.show:
            say(layout, context, *status_of(context, results))
        row = layout.row(align=True)
        for name in ("heads", "landmarks", "target"):
            row.prop(chosen, name, toggle=True)
        layout.prop(chosen, "every")
        row = layout.row(align=True)
        row.operator("evenfold.make_guides", icon="OUTLINER_OB_EMPTY")
        if has_guides(context.scene):
            row.operator("evenfold.remove_guides", text="", icon="X")


def status_of(
    context: bpy.types.Context, results: state.SceneResults | None
) -> tuple[str, str]:
    """A sentence on what is to be seen, and its icon."""
    shown = shown_of(context.scene)
    if shown is None:
        return "Measure the figure to see its guides.", "INFO"
    space = context.space_data
    if space is not None and space.type == "VIEW_3D" and not space.overlay.show_overlays:
        return "Overlays are off in this view: turn them on to see the guides.", "INFO"
    if shown.how == "stale":
        return "Guides as last measured: measure again.", "ERROR"
    if any_posed(found(context.scene.objects, shown.names)):
        return "The guides belong to the rest pose, but the armature shows another: choose Rest Position in its properties.", "INFO"
    if shown.proportion.heads_tall is None:
        return "There is no count, so only landmarks are shown.", "INFO"
    if shown.how == "kept" or results is None:
        return f"The guides follow {shown.figure}, kept current: their landmarks are carried along until you pause.", "CHECKMARK"
    return f"Shown for {results.figure_name}, from the front and the side.", "CHECKMARK"


CLASSES = (EVENFOLD_PT_guides,)
