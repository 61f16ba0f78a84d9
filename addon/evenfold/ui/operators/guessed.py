"""Putting guesses right: the figure, its head bone, and what is left out of the count."""

from typing import Any

import bpy
from bpy.props import EnumProperty, StringProperty

from ...core.errors import EvenfoldError
from ...core.figure import Worn
from ...host import store
from ...host.named import find, found
from .. import first
from ..choice import source_of
from ..language import tr
from ..left_out import worn_below
from ..rig_choice import rig_of
from .shared import NeedsFigure, Reporting, changed, names_of, undoable

KINDS = {"object": "object", "bone": "bone", "material": "material", "vertex group": "group"}
"""What a guess calls a thing, and what it is kept as."""


class EVENFOLD_OT_choose_figure(Reporting, bpy.types.Operator):
    """Make this object the active one, as a click on it would"""

    bl_idname = "evenfold.choose_figure"
    bl_label = "Choose Figure"
    bl_description = "Click this figure: make it the active and only selected object"
    bl_options = {"REGISTER", "UNDO"}

    name: StringProperty(options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.mode != "OBJECT":
            cls.poll_message_set(tr("Go to object mode first."))
            return False
        return True

    def run(self, context: bpy.types.Context) -> None:
        layer = context.view_layer
        item = find(layer.objects, self.name)
        if item is None or not item.visible_get():
            raise EvenfoldError(f"{self.name} is hidden or gone: show it, then click it.")
        for other in layer.objects:
            other.select_set(other == item)
        layer.objects.active = item
        context.scene.evenfold.figure_from = "AUTOMATIC"
        changed(context)


class EVENFOLD_OT_choose_head_bone(Reporting, bpy.types.Operator):
    """Say which bone is the head's"""

    bl_idname = "evenfold.choose_head_bone"
    bl_label = "Choose Head Bone"
    bl_description = "Say which bone is the head's; left empty it is guessed again"
    bl_options = {"REGISTER", "UNDO"}

    bone: StringProperty(name="Head Bone", description="The figure's head bone; empty to guess it", options={"SKIP_SAVE"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        if context.scene is None or rig_of(context) is None:
            cls.poll_message_set(tr("Click the figure's armature, or a mesh it deforms, first."))
            return False
        return undoable(cls, context)

    def invoke(self, context: bpy.types.Context, _event: bpy.types.Event) -> Any:
        rig = rig_of(context)
        known = first.look(context)
        self.bone = store.head_bone_on([rig]) or (known.head_bone if known is not None else None) or ""
        return context.window_manager.invoke_props_dialog(self)

    def draw(self, context: bpy.types.Context) -> None:
        rig = rig_of(context)
        if rig is not None:
            self.layout.prop_search(self, "bone", rig.data, "bones")

    def run(self, context: bpy.types.Context) -> None:
        rig = rig_of(context)
        if self.bone and self.bone not in rig.data.bones:
            raise EvenfoldError(f"{rig.name} has no bone '{self.bone}': choose one of its bones.")
        store.name_head_bone(rig, self.bone or None)
        changed(context)
        self.announce({"INFO"}, f"Head bone: {self.bone}." if self.bone else "The head bone is guessed again.")


class EVENFOLD_OT_count_as_body(NeedsFigure, bpy.types.Operator):
    """Count what was left out by its name as part of the head or body"""

    bl_idname = "evenfold.count_as_body"
    bl_label = "It Is Body"
    bl_description = "This is part of the head or body after all: count it, whatever its name says"
    bl_options = {"REGISTER", "UNDO"}

    kind: EnumProperty(
        name="What", items=[(name, name.capitalize(), "") for name in KINDS], options={"HIDDEN", "SKIP_SAVE"}
    )
    names: StringProperty(name="Names", description="Names, a line each", options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        return super().poll(context) and undoable(cls, context)

    def run(self, context: bpy.types.Context) -> None:
        source = source_of(context)
        here = found(context.scene.objects, names_of(source))
        names = self.names.splitlines()
        if not here or not names:
            raise EvenfoldError("That is not in this scene any more: click the figure again.")
        if self.kind == "bone":
            names = worn_below(rig_of(context), names)
        owners = [self._owner(context, name) or here[0] for name in names]
        for owner in owners:
            store.require_editable(owner)
        for owner, name in zip(owners, names, strict=True):
            store.mark(owner, Worn(KINDS[self.kind], name, excluded=False))
        changed(context)

    def _owner(self, context: bpy.types.Context, name: str) -> bpy.types.Object | None:
        """The object that is meant itself; None where something of the figure's is meant."""
        if self.kind != "object":
            return None
        owner = find(context.scene.objects, name)
        if owner is None:
            raise EvenfoldError(f"{name} is not in this scene any more.")
        return owner


CLASSES = (EVENFOLD_OT_choose_figure, EVENFOLD_OT_choose_head_bone, EVENFOLD_OT_count_as_body)
