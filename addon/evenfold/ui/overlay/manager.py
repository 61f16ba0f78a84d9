"""The only draw handlers: one for lines in the view, one for labels in its pixels.

A source is a function of a scene that returns a Picture or None. It is asked at every redraw
and must be cheap: it returns the very same record until something has changed, and buffers are
made again only when it returns another one.
"""

from collections.abc import Callable
from typing import Any

import bpy
import numpy as np
from bpy.app.handlers import persistent

from ...core.figure import FloatArray
from . import buffers, writing
from .records import Picture, View

Source = Callable[[bpy.types.Scene], Picture | None]

_sources: dict[str, Source] = {}
_forgets: dict[str, Callable[[], None]] = {}
_handles: dict[str, Any] = {}
_layers: dict[tuple[int, str, int], tuple[View, tuple[buffers.Layer, ...]]] = {}


def add_source(name: str, source: Source, forget: Callable[[], None] | None = None) -> None:
    """Have a picture drawn over every 3D view of the scene it belongs to.

    ``forget`` is called when another file has been loaded and when the add-on is disabled.
    """
    _sources[name] = source
    if forget is not None:
        _forgets[name] = forget


def remove_source(name: str) -> None:
    _sources.pop(name, None)
    _forgets.pop(name, lambda: None)()
    for key in [key for key in _layers if key[1] == name]:
        del _layers[key]


def in_background() -> bool:
    """Whether there is no window, so that nothing can be drawn and no shader be made."""
    return bool(bpy.app.background)


def view_space() -> Any:
    """Where draw handlers are added and removed."""
    return bpy.types.SpaceView3D


def start() -> None:
    """Add the draw handlers unless they are there, or there is nothing to draw on."""
    if _handles or in_background():
        return
    space = view_space()
    _handles["POST_VIEW"] = space.draw_handler_add(_draw_view, (), "WINDOW", "POST_VIEW")
    _handles["POST_PIXEL"] = space.draw_handler_add(_draw_pixels, (), "WINDOW", "POST_PIXEL")


def pause() -> None:
    """Remove the draw handlers and let go of every buffer."""
    for handle in _handles.values():
        view_space().draw_handler_remove(handle, "WINDOW")
    _handles.clear()
    _layers.clear()


def stop() -> None:
    """The same, and let go of what the sources keep."""
    pause()
    for forget in _forgets.values():
        forget()


def redraw() -> None:
    """Have every 3D view drawn again."""
    manager = bpy.context.window_manager
    for window in manager.windows if manager is not None else ():
        for area in window.screen.areas:
            if area.type == "VIEW_3D":
                area.tag_redraw()


def pictures(scene: bpy.types.Scene) -> dict[str, Picture]:
    """What there is to draw for a scene now, by name."""
    found = {name: source(scene) for name, source in _sources.items()}
    return {name: picture for name, picture in found.items() if picture is not None}


def _wanted(context: bpy.types.Context) -> dict[str, Picture]:
    space = context.space_data
    if context.region_data is None or space is None or not space.overlay.show_overlays:
        return {}
    return pictures(context.scene)


def _towards_viewer(context: bpy.types.Context) -> FloatArray:
    return np.array(context.region_data.view_matrix, np.float64)[2, :3]


def _scale(context: bpy.types.Context) -> float:
    return float(context.preferences.system.ui_scale)


def layers_of(scene_uid: int, name: str, number: int, view: View) -> tuple[buffers.Layer, ...]:
    """The buffers of a picture's view of this number, made only if it is another one than before."""
    key = (scene_uid, name, number)
    kept = _layers.get(key)
    if kept is None or kept[0] is not view:
        kept = (view, buffers.make_layers(view))
        _layers[key] = kept
    return kept[1]


def _draw_view() -> None:
    context = bpy.context
    wanted = _wanted(context)
    towards = _towards_viewer(context) if wanted else None
    for name, picture in wanted.items():
        number = picture.facing(towards)
        if number is not None:
            layers = layers_of(context.scene.session_uid, name, number, picture.views[number])
            size = (float(context.region.width), float(context.region.height))
            buffers.draw_layers(layers, size, _scale(context))


def _draw_pixels() -> None:
    context = bpy.context
    wanted = _wanted(context)
    if not wanted:
        return
    towards, scale = _towards_viewer(context), _scale(context)
    numbers = [(picture, picture.facing(towards)) for picture in wanted.values()]
    labels = tuple(
        label for picture, number in numbers if number is not None
        for label in picture.views[number].labels
    )
    writing.write_labels(context, labels, scale)
    legends = [picture.legend for picture in wanted.values() if picture.legend is not None]
    if legends:
        writing.write_legends(context, legends[::-1], scale)


@persistent
def _before_load(*_unused: object) -> None:
    pause()


@persistent
def _after_load(*_unused: object) -> None:
    stop()
    start()


@persistent
def _after_failure(*_unused: object) -> None:
    """The file could not be loaded: the one before is still open, and all that is known of it holds."""
    start()


_HANDLERS = (("load_pre", _before_load), ("load_post", _after_load), ("load_post_fail", _after_failure))


def register() -> None:
    for name, handler in _HANDLERS:
        getattr(bpy.app.handlers, name).append(handler)
    start()
    redraw()


def unregister() -> None:
    stop()
    for name, handler in _HANDLERS:
        handlers = getattr(bpy.app.handlers, name)
        if handler in handlers:
            handlers.remove(handler)
    _sources.clear()
    _forgets.clear()
    redraw()
