"""What a file looks like before anything was measured: what is missing, and what is guessed.

Found out while the artist's hands rest, never while a panel draws: a panel asks ``look``, which
answers with what is known and has the rest found out a moment later.
"""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import bpy
from bpy.app.handlers import persistent

from ..core.errors import EvenfoldError
from ..core.figure import Figure
from ..core.proportion.parts.named_bones import find_head_bone
from ..host import bone_map, store
from ..host.named import find
from ..host.read import FigureSource, find_figures
from . import defaults, state
from .choice import Choice, choice_of, missing, source_of
from .left_out import LeftOut, left_out_of
from .overlay import manager, palette

FEW_VERTICES = 50
"""Fewer than this hardly make a figure; our choice."""
AT_MIDDLE = 0.02
"""A box that ends this near to the middle, as a share of its width, ends there; our choice."""
MOST_OTHERS = 6
"""Figures offered to choose from; our choice."""


@dataclass(frozen=True)
class Said:
    """A sentence on what is missing or unusual, and whether it stands in the way."""

    text: str
    grave: bool = False


@dataclass(frozen=True)
class Look:
    """What is guessed of the figure the panel means, by names and modifiers alone.

    ``others`` are objects to click for other figures of the scene. ``middle`` is where the mirror
    plane is likely to be, as the check names it. Without a figure all but ``said`` and ``others``
    is empty.
    """

    said: tuple[Said, ...] = ()
    others: tuple[str, ...] = ()
    meshes: tuple[str, ...] = ()
    armature: str | None = None
    head_bone: str | None = None
    left_out: tuple[LeftOut, ...] = ()
    middle: str = ""


Key = tuple[Any, ...]
_looks: dict[int, tuple[Key, Choice | None, Look]] = {}
_changes: dict[int, int] = {}
_last: list[float] = [0.0]


def look(context: bpy.types.Context) -> Look | None:
    """What is known of the figure the panel means; None while it has not been looked at yet.

    For drawing: computes nothing, but has a file that has changed looked over soon.
    """
    choice = choice_of(context)
    kept = _looks.get(context.scene.session_uid)
    if kept is None or kept[0] != _key(context, choice):
        _soon()
    return kept[2] if kept is not None and kept[1] == choice else None


def look_now(context: bpy.types.Context) -> Look:
    """Look the file over at once; in a scene new to us the preferences' defaults are taken first."""
    scene = context.scene
    trouble = _defaults(scene)
    choice = choice_of(context)
    found = _look(context, choice)
    if trouble:
        found = replace(found, said=(Said(trouble, grave=True), *found.said))
    _looks[scene.session_uid] = (_key(context, choice), choice, found)
    return found


def chosen_items(context: bpy.types.Context) -> tuple[bpy.types.Object, ...]:
    """The objects of the figure the panel means, its armature first; none until it was looked at.

    For drawing; in the background, where no moment of rest comes, it is looked at here.
    """
    known = look(context)
    if known is None and bpy.app.background:
        known = _look(context, choice_of(context))
    names = () if known is None else (known.armature, *known.meshes)
    items = (_object(context.scene, name) for name in names if name)
    return tuple(item for item in items if item is not None)


def forget() -> None:
    _looks.clear()
    _changes.clear()


def _key(context: bpy.types.Context, choice: Choice | None) -> Key:
    uid = context.scene.session_uid
    return choice, context.scene.evenfold.figure_from, context.scene.evenfold.plane, _changes.get(uid, 0)


def _defaults(scene: bpy.types.Scene) -> str:
    try:
        defaults.apply_if_new(scene)
    except EvenfoldError as error:
        return f"Your default profile is not used. {error}"
    return ""


def _look(context: bpy.types.Context, choice: Choice | None) -> Look:
    if choice is None:
        return Look((Said(_nothing_chosen(context), grave=True),), _others(context))
    try:
        source = source_of(context)
    except EvenfoldError as error:
        return Look((Said(str(error), grave=True),), _others(context))
    return look_at(context.scene, source)


def _nothing_chosen(context: bpy.types.Context) -> str:
    if not any(item.type == "MESH" for item in context.scene.objects):
        return "There is no mesh in this scene: open or import a figure first."
    active = context.view_layer.objects.active
    if active is not None and context.scene.evenfold.figure_from == "AUTOMATIC":
        return f"{active.name} is no part of a figure: click a mesh or armature instead."
    return missing(context)


def _others(context: bpy.types.Context) -> tuple[str, ...]:
    """Something to click for each figure of the scene."""
    found = (one.armature_name or one.mesh_names[0] for one in find_figures(context.scene) if one.instancer is None)
    return tuple(found)[:MOST_OTHERS]


def look_at(scene: bpy.types.Scene, source: FigureSource) -> Look:
    """The guesses for one figure, and what is unusual about it."""
    meshes = [item for name in source.mesh_names if (item := _object(scene, name)) is not None]
    rig = _object(scene, source.armature_name) if source.armature_name else None
    named = store.head_bone_on([rig, *meshes] if rig is not None else meshes)
    head = None if rig is None else _head_bone(rig, named)
    worn = store.worn_on([*meshes, rig] if rig is not None else meshes)
    middle = scene.evenfold.plane
    if middle == "automatic":
        middle = "armature" if rig is not None else "object"
    return Look(
        tuple(_unusual(source, meshes, rig, head)), (), source.mesh_names, source.armature_name, head,
        left_out_of(meshes, rig, worn), middle,
    )


def _object(scene: bpy.types.Scene, name: str) -> bpy.types.Object | None:
    return find(scene.objects, name) or find(bpy.data.objects, name)


def _head_bone(rig: bpy.types.Object, named: str | None) -> str | None:
    """The bone taken for the head's, by what was said and by names: weights are not looked at."""
    figure = Figure(
        rig.name, (), (), bone_map.rest_bones(rig), humanoid=bone_map.stored_map(rig) or bone_map.guess_map(rig),
        head_bone=named,
    )
    return find_head_bone(figure)


def _unusual(
    source: FigureSource, meshes: list[bpy.types.Object], rig: bpy.types.Object | None, head: str | None
) -> Iterator[Said]:
    name = source.name
    vertices = sum(len(item.data.vertices) for item in meshes)
    if not any(item.data.is_editmode for item in meshes) and vertices < FEW_VERTICES:
        yield Said(f"{name} has {vertices} vertices, few for a figure: is it the right object?", grave=True)
    if source.instancer is not None:
        yield Said(f"{source.instancer} shows a linked collection: it can be measured and checked, not changed.")
    elif any(item.library is not None or item.data.library is not None for item in meshes):
        yield Said(f"{name} is linked from another file: it can be measured and checked, not changed.")
    if rig is None:
        yield Said(f"{name} has no armature: the head is found by its shape. Pin crown and chin if it is found wrongly.")
    elif head is None:
        yield Said(f"No bone of {rig.name} is named like a head: choose the head bone below.", grave=True)
    if any(_is_mirrored(item) for item in meshes):
        yield Said("A Mirror modifier makes the other half: only the middle is compared, and what depends on it.")
    elif meshes and _is_half(max(meshes, key=lambda item: len(item.data.vertices))):
        yield Said(f"{name} looks like one half of a figure: give it a Mirror modifier, or choose both halves.", grave=True)
    yield from (Said(note) for note in source.notes)


def _is_half(item: bpy.types.Object) -> bool:
    """Whether a mesh lies on one side of its own X = 0 and ends there, by its box."""
    across = [corner[0] for corner in item.bound_box]
    low, high = min(across), max(across)
    return high > low and min(abs(low), abs(high)) < AT_MIDDLE * (high - low)


def _is_mirrored(item: bpy.types.Object) -> bool:
    return any(one.type == "MIRROR" and one.show_viewport for one in item.modifiers)


def _soon() -> None:
    """Look the files over once there has been no change for a moment."""
    if not bpy.app.background and not bpy.app.timers.is_registered(_due):
        bpy.app.timers.register(_due, first_interval=0.05)


def _due() -> float | None:
    left = _last[0] + state.AT_REST - time.monotonic()
    if left > 0:
        return max(left, 0.05)
    for window in bpy.context.window_manager.windows:
        with bpy.context.temp_override(window=window):
            look_now(bpy.context)
    manager.redraw()
    return None


@persistent
def _after_change(scene: bpy.types.Scene, _depsgraph: object = None) -> None:
    _changes[scene.session_uid] = _changes.get(scene.session_uid, 0) + 1
    _last[0] = time.monotonic()


@persistent
def _before_load(*_unused: object) -> None:
    forget()
    palette.forget()  # factory settings bring other preferences without a word


_HANDLERS: tuple[tuple[str, Callable[..., None]], ...] = (
    ("depsgraph_update_post", _after_change),
    ("undo_post", _after_change),
    ("redo_post", _after_change),
    ("load_pre", _before_load),
)


def register() -> None:
    for name, handler in _HANDLERS:
        getattr(bpy.app.handlers, name).append(handler)


def unregister() -> None:
    if bpy.app.timers.is_registered(_due):
        bpy.app.timers.unregister(_due)
    for name, handler in _HANDLERS:
        handlers = getattr(bpy.app.handlers, name)
        if handler in handlers:
            handlers.remove(handler)
    forget()
