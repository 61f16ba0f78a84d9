"""Guides as real objects, for printing, drawing over and handing on."""

import bpy

from ...core.errors import NothingToCheckError
from ...host.write.guides import has_guides, make_guide_objects, remove_guide_objects
from .. import state
from ..language import tr
from ..overlay.guides import guides_of
from .shared import Reporting, one_step, require_fresh


class EVENFOLD_OT_make_guides(Reporting, bpy.types.Operator):
    """Make objects of the guides: edges, and an empty named by each landmark"""

    bl_idname = "evenfold.make_guides"
    bl_label = "Make Guide Objects"
    bl_description = (
        "Make objects of the guides in a collection of their own, instead of those made before. "
        "They cannot be selected and are not rendered"
    )
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        results = state.of(context.scene) if context.scene else None
        if results is None or results.proportion is None:
            cls.poll_message_set(tr("Measure the figure first."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        require_fresh(state.of(context.scene))
        guides = guides_of(context.scene)
        if guides is None or not len(guides.front.segments):
            raise NothingToCheckError("There is nothing to show: turn on heads or landmarks above.")
        with one_step(context, self.bl_label):
            count = make_guide_objects(context.scene, guides)
        self.announce({"INFO"}, f"{count} guide objects made.")


class EVENFOLD_OT_remove_guides(Reporting, bpy.types.Operator):
    """Remove the guide objects from the scene"""

    bl_idname = "evenfold.remove_guides"
    bl_label = "Remove Guide Objects"
    bl_description = "Remove the guide objects and their collection from the scene"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None or not has_guides(context.scene):
            cls.poll_message_set(tr("There are no guide objects in this scene."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        with one_step(context, self.bl_label):
            count = remove_guide_objects(context.scene)
        self.announce({"INFO"}, f"{count} guide objects removed.")


CLASSES = (EVENFOLD_OT_make_guides, EVENFOLD_OT_remove_guides)
