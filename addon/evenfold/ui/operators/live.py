"""The switch that keeps a figure current, and bringing it up to date at once."""

import bpy

from .. import live
from ..choice import choice_of, missing, source_of
from ..language import tr
from .shared import Reporting


class EVENFOLD_OT_keep_current(Reporting, bpy.types.Operator):
    """Keep heads tall and the vertex differences current while you edit. Changes nothing"""

    bl_idname = "evenfold.keep_current"
    bl_label = "Keep Current"
    bl_description = (
        "Keep heads tall and the vertex differences current while you edit, whenever you pause. "
        "Click again to stop. Changes nothing"
    )
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None:
            return False
        if live.session_of(context.scene) is None and choice_of(context) is None:
            cls.poll_message_set(tr(missing(context)))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        scene = context.scene
        if live.session_of(scene) is not None:
            live.switch_off(scene)
            return
        context.view_layer.update()
        live.switch_on(scene, source_of(context))


class EVENFOLD_OT_bring_up_to_date(Reporting, bpy.types.Operator):
    """Check and measure what is kept current now, however long that takes"""

    bl_idname = "evenfold.bring_up_to_date"
    bl_label = "Bring Up to Date"
    bl_description = "Check and measure what is kept current now, however long that takes"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None or live.session_of(context.scene) is None:
            cls.poll_message_set(tr("Switch Keep Current on first."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        context.view_layer.update()
        live.look_again(context.scene)
        live.turn(context.scene, 0.0, forced=True)


CLASSES = (EVENFOLD_OT_keep_current, EVENFOLD_OT_bring_up_to_date)
