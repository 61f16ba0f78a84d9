"""The latest results of each scene, for this session only: plain records, nothing of Blender's."""

import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import bpy
from bpy.app.handlers import persistent

from ..core.findings import FigureResult, Proportion
from ..core.planning.compare import Comparison
from ..core.planning.plan import Plan
from ..core.settings import Settings
from ..host.fingerprint import Fingerprint, fingerprint, same
from ..host.named import find, found, unique_name
from ..host.read.place import metres_per_unit

if TYPE_CHECKING:
    from .looking import Looking


@dataclass
class SceneResults:
    """What the panel shows: the last measuring, the last check, and the marks of what was read.

    ``plan`` and ``comparison`` follow from the measuring and the settings of the plan; where one
    was asked for and there is none, its refusal says why. ``compared_with`` names the remembered
    figure, and ``other_stale`` says that it was changed since. ``looking`` has the places of what the
    check found, and which of it is looked at. ``humanoid`` are the bones it was measured by, by standard name,
    ``asked`` what the halves were compared by.
    """

    figure_name: str
    metres_per_unit: float
    marks: dict[str, Fingerprint]
    proportion: Proportion | None = None
    check: FigureResult | None = None
    stale: bool = False
    notes: tuple[str, ...] = field(default_factory=tuple)
    plan: Plan | None = None
    plan_refusal: str = ""
    comparison: Comparison | None = None
    comparison_refusal: str = ""
    compared_with: str = ""
    other_stale: bool = False
    looking: "Looking | None" = None
    humanoid: Mapping[str, str] = field(default_factory=dict)
    asked: Settings | None = None


_results: dict[int, SceneResults] = {}
_remembered: dict[str, Proportion] = {}
_watched: dict[str, tuple[int, dict[str, Fingerprint]]] = {}
"""By remembered figure: its scene, and the marks by which a later change of it is known."""
_due: dict[int, float] = {}

AT_REST = 0.4
"""Seconds without a change after which a result is held against the figure again."""


def of(scene: bpy.types.Scene) -> SceneResults | None:
    """The scene's results; out of date as soon as its unit no longer is what was measured in."""
    results = _results.get(scene.session_uid)
    if results is not None and results.metres_per_unit != metres_per_unit(scene):
        results.stale = True
    return results


def keep(scene: bpy.types.Scene, results: SceneResults) -> None:
    from .planning import refresh  # here, because planning reads what is kept

    _results[scene.session_uid] = results
    refresh(scene)


def remember(
    name: str, found: Proportion, scene: bpy.types.Scene | None = None, names: tuple[str, ...] = ()
) -> None:
    """Keep a measured figure to compare others with, until another file is loaded.

    With the ``names`` of its objects in ``scene`` it is watched: see ``changed_since``.
    """
    _remembered[name] = found
    _watched.pop(name, None)
    if scene is not None:
        _watched[name] = scene.session_uid, marks_of(scene, names)


def changed_since(name: str) -> bool:
    """Whether a watched figure has changed or gone since it was measured."""
    if name not in _watched:
        return False
    uid, marks = _watched[name]
    scene = next((one for one in bpy.data.scenes if one.session_uid == uid), None)
    return scene is None or _differs(scene, marks)


def remembered() -> Mapping[str, Proportion]:
    return _remembered


def forget_remembered() -> None:
    _remembered.clear()
    _watched.clear()


def clear() -> None:
    _results.clear()
    _due.clear()
    forget_remembered()


def marks_of(scene: bpy.types.Scene, names: tuple[str, ...]) -> dict[str, Fingerprint]:
    """The marks of the objects of these names that are in the scene."""
    return {unique_name(item): fingerprint(item) for item in found(scene.objects, names)}


def compare(scene: bpy.types.Scene) -> None:
    """Set the scene's results stale if an object they rest on has changed or gone."""
    results = _results.get(scene.session_uid)
    if results is None:
        return
    results.stale = results.metres_per_unit != metres_per_unit(scene) or _differs(scene, results.marks)
    results.other_stale = changed_since(results.compared_with)


def _differs(scene: bpy.types.Scene, marks: Mapping[str, Fingerprint]) -> bool:
    for name, mark in marks.items():
        item = find(scene.objects, name)
        if item is None or not same(mark, fingerprint(item)):
            return True
    return False


WATCHED = (bpy.types.Armature, bpy.types.Image, bpy.types.Key, bpy.types.Material)
"""Data whose every update may change what is compared, not only that of a shape."""


@persistent
def _after_change(scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    results = of(scene)
    if results is None:
        return
    for update in depsgraph.updates:
        if update.is_updated_geometry or update.is_updated_transform or isinstance(update.id, WATCHED):
            _compare_soon(scene)
            return


def _compare_soon(scene: bpy.types.Scene) -> None:
    """Compare once the scene has been at rest; a drag is never held up by it."""
    if bpy.app.background:
        compare(scene)
        return
    _due[scene.session_uid] = time.monotonic() + AT_REST
    if not bpy.app.timers.is_registered(_compare_due):
        bpy.app.timers.register(_compare_due, first_interval=AT_REST)


def _compare_due() -> float | None:
    now = time.monotonic()
    scenes = {scene.session_uid: scene for scene in bpy.data.scenes}
    for uid in [uid for uid, when in _due.items() if when <= now]:
        del _due[uid]
        scene = scenes.get(uid)
        if scene is not None:
            before = of(scene)
            was = (before.stale, before.other_stale) if before is not None else None
            compare(scene)
            if before is not None and (before.stale, before.other_stale) != was:
                _redraw()
    return max(0.05, min(_due.values()) - now) if _due else None


def _redraw() -> None:
    for window in bpy.context.window_manager.windows:
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


@persistent
def _after_undo(scene: bpy.types.Scene, _unused: object = None) -> None:
    from .planning import retarget  # undoing a setting calls no update of its own

    compare(scene)
    retarget(scene)


@persistent
def _after_load(*_unused: object) -> None:
    """Only now: where loading fails the file before stays open, and its results hold."""
    clear()


_HANDLERS = (
    (bpy.app.handlers.depsgraph_update_post, _after_change),
    (bpy.app.handlers.undo_post, _after_undo),
    (bpy.app.handlers.redo_post, _after_undo),
    (bpy.app.handlers.load_post, _after_load),
)


def register() -> None:
    for handlers, handler in _HANDLERS:
        handlers.append(handler)


def unregister() -> None:
    if bpy.app.timers.is_registered(_compare_due):
        bpy.app.timers.unregister(_compare_due)
    for handlers, handler in _HANDLERS:
        if handler in handlers:
            handlers.remove(handler)
    clear()
