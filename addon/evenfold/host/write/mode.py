"""Out of edit mode for the time of writing, and back with everything as it was."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import bpy

from ...core.errors import EvenfoldError
from ..named import find, unique_name

MODES = frozenset({"OBJECT", "EDIT", "POSE"})
"""The modes in which writing is safe; sculpting and painting keep an undo history of their own."""


def refuse_mode(item: bpy.types.Object) -> str | None:
    """A sentence where the object is in a mode that nothing may be written in."""
    if item.mode in MODES:
        return None
    mode = item.mode.replace("_", " ").title()
    return f"{item.name} is in {mode} mode: go to Object or Edit Mode first."


@contextmanager
def object_mode(items: Iterable[bpy.types.Object]) -> Iterator[None]:
    """Object mode inside; afterwards the edit session of these objects goes on.

    Keeps which objects are edited, selected and active, the active key, and what is selected in
    the meshes. Raises EvenfoldError when the session cannot be left from here.
    """
    if not any(item.mode == "EDIT" for item in items):
        yield
        return
    layer = bpy.context.view_layer
    active = layer.objects.active
    edited = [unique_name(item) for item in layer.objects if item.mode == "EDIT"]
    chosen = [unique_name(item) for item in layer.objects if item.select_get()]
    if active is None or active.mode != "EDIT":
        raise EvenfoldError("Leave Edit Mode first: no active object is in it.")
    name = unique_name(active)
    bpy.ops.object.mode_set(mode="OBJECT")
    try:
        yield
    finally:
        _back(layer, name, edited, chosen)


def _back(layer: bpy.types.ViewLayer, active: str, edited: list[str], chosen: list[str]) -> None:
    for item in list(layer.objects):
        item.select_set(unique_name(item) in edited)
    layer.objects.active = find(layer.objects, active)
    bpy.ops.object.mode_set(mode="EDIT")
    for item in list(layer.objects):
        item.select_set(unique_name(item) in chosen)
