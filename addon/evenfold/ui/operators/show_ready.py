"""Selecting what a line of the hand-off list is about."""

import bpy
from bpy.props import IntProperty

from ...core.errors import NothingToCheckError
from ...core.findings import Place
from ...host.select import Wanted, select_bones, select_objects, select_vertices, show_key
from .. import state
from ..budgeting import readiness_now
from ..once import handed_off
from .select import OfTheCheck


class EVENFOLD_OT_show_ready(OfTheCheck, bpy.types.Operator):
    """Select what one line of the hand-off list is about"""

    bl_idname = "evenfold.show_ready"
    bl_label = "Select What Is Told Of"
    bl_description = "Select what this line is about: vertices, bones, objects, or the shape key"
    bl_options = {"REGISTER", "UNDO"}

    number: IntProperty(min=0, options={"HIDDEN", "SKIP_SAVE"})

    def run(self, context: bpy.types.Context) -> None:
        lines = handed_off(readiness_now(context.scene, state.of(context.scene).check))
        places = lines[self.number].places if self.number < len(lines) else []
        if not places:
            raise NothingToCheckError("There is nothing to select for this line: check again.")
        kinds = {place.kind for place in places}
        if "key" in kinds:
            self.show_keys(context, places)
        elif "vertex" in kinds:
            self.select_places(context, places)
        elif kinds == {"bone"}:
            names = [name for place in places for name in place.names]
            self.tell(context, select_bones(context, places[0].owner, names), "bone")
        else:
            self.tell(context, select_objects(context, [place.owner for place in places]), "object")

    def select_places(self, context: bpy.types.Context, places: list[Place]) -> None:
        sizes = {entry.name: entry.vertices for entry in state.of(context.scene).check.objects}
        wanted = {place.owner: Wanted(place.vertices, sizes.get(place.owner, 0)) for place in places if len(place.vertices)}
        self.tell(context, select_vertices(context, wanted), "vertex")

    def show_keys(self, context: bpy.types.Context, places: list[Place]) -> None:
        """The object with its key active, and the vertices concerned where there are any."""
        first = places[0]
        select_objects(context, [first.owner])
        show_key(context, first.owner, first.names[0])
        if len(first.vertices):
            self.select_places(context, places)
        else:
            self.announce({"INFO"}, f"{first.names[0]} is the active shape key of {first.owner}.")


CLASSES = (EVENFOLD_OT_show_ready,)
