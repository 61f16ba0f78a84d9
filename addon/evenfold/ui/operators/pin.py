"""Pinning landmarks by hand."""

from typing import Any, cast

import bmesh
import bpy
from bpy.props import EnumProperty, StringProperty

from ...core.errors import EvenfoldError
from ...host import store
from ...host.named import find
from ..language import tr
from ..properties import LANDMARKS
from .shared import Reporting, changed, one_step


def _carrier(context: bpy.types.Context) -> bpy.types.Object | None:
    active = context.view_layer.objects.active
    return active if active is not None and active.type in ("MESH", "ARMATURE") else None


class _Pinning(Reporting):
    """Mix-in: asks which landmark is meant where the caller has not said so."""

    landmark: EnumProperty(name="Landmark", items=LANDMARKS, default="chin", options={"SKIP_SAVE"})

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        if self.properties.is_property_set("landmark"):
            return self.execute(context)
        self.landmark = context.scene.evenfold.landmark
        return context.window_manager.invoke_props_dialog(cast("Any", self))


class EVENFOLD_OT_pin_vertex(_Pinning, bpy.types.Operator):
    """Pin the landmark to the selected vertex"""

    bl_idname = "evenfold.pin_vertex"
    bl_label = "Pin to Vertex"
    bl_description = "Pin the landmark to the one selected vertex; it moves with the mesh"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        active = _carrier(context)
        if active is None or active.mode != "EDIT" or active.type != "MESH":
            cls.poll_message_set(tr("Enter edit mode on a mesh and select one vertex."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        active = context.view_layer.objects.active
        edit = bmesh.from_edit_mesh(cast("bpy.types.Mesh", active.data))
        edit.verts.index_update()
        chosen = [vertex.index for vertex in edit.verts if vertex.select]
        if len(chosen) != 1:
            raise EvenfoldError(f"Select exactly one vertex to pin; {len(chosen)} are selected.")
        with one_step(context, self.bl_label):
            store.pin_vertex(active, self.landmark, chosen[0])
        changed(context)


class EVENFOLD_OT_pin_cursor(_Pinning, bpy.types.Operator):
    """Pin the landmark to the place of the 3D cursor"""

    bl_idname = "evenfold.pin_cursor"
    bl_label = "Pin to 3D Cursor"
    bl_description = "Pin the landmark to the place of the 3D cursor; it moves with the active object"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if _carrier(context) is None:
            cls.poll_message_set(tr("Click a mesh or armature of the figure first."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        active = context.view_layer.objects.active
        with one_step(context, self.bl_label):
            store.pin_place(active, self.landmark, context.scene.cursor.location[:])
        changed(context)


class EVENFOLD_OT_remove_pin(Reporting, bpy.types.Operator):
    """Forget a pinned landmark"""

    bl_idname = "evenfold.remove_pin"
    bl_label = "Remove Pin"
    bl_description = "Forget this pin and find the landmark automatically again"
    bl_options = {"REGISTER"}

    object_name: StringProperty(options={"HIDDEN", "SKIP_SAVE"})
    landmark: StringProperty(options={"HIDDEN", "SKIP_SAVE"})

    def run(self, context: bpy.types.Context) -> None:
        item = find(context.scene.objects, self.object_name)
        if item is None:
            raise EvenfoldError(f"{self.object_name} is not in this scene any more.")
        with one_step(context, self.bl_label):
            store.remove_pin(item, self.landmark)
        changed(context)


CLASSES = (EVENFOLD_OT_pin_vertex, EVENFOLD_OT_pin_cursor, EVENFOLD_OT_remove_pin)
