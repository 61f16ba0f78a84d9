"""Where in a 3D view the mouse points."""

from dataclasses import dataclass

import bpy
import numpy as np

from ..core.figure import FloatArray

NAVIGATION = frozenset({
    "MIDDLEMOUSE", "WHEELUPMOUSE", "WHEELDOWNMOUSE", "WHEELINMOUSE", "WHEELOUTMOUSE",
    "WHEELLEFTMOUSE", "WHEELRIGHTMOUSE", "TRACKPADPAN", "TRACKPADZOOM", "MOUSEROTATE",
    "MOUSESMARTZOOM", "MOUSEMOVE", "INBETWEEN_MOUSEMOVE", "HOME", "ACCENT_GRAVE",
})


@dataclass(frozen=True)
class PointedView:
    """Only for the event at hand: regions do not outlive changes of the window."""

    region: bpy.types.Region
    view: bpy.types.RegionView3D


def is_navigation(event: bpy.types.Event) -> bool:
    """Whether an event is left to the view: turning, zooming, view keys, moving the mouse."""
    kind = event.type
    if kind == "NUMPAD_ENTER":
        return False
    if kind == "LEFTMOUSE":
        return event.alt
    return kind in NAVIGATION or kind.startswith(("NUMPAD_", "NDOF_", "TIMER"))


def view_under(context: bpy.types.Context, event: bpy.types.Event) -> PointedView | None:
    """The 3D view under the mouse, None over anything else, such as a sidebar lying over it."""
    for area in context.window.screen.areas:
        if area.type != "VIEW_3D":
            continue
        under = [one for one in area.regions if _holds(one, event)]
        if under and all(one.type == "WINDOW" for one in under):
            return PointedView(under[0], under[0].data)
    return None


def ray_through(view: PointedView, event: bpy.types.Event) -> tuple[FloatArray, FloatArray, bool]:
    """World origin (3,) and direction (3,) of what is under the mouse; True in a parallel view.

    In a parallel view the picture may also lie behind the origin.
    """
    from bpy_extras import view3d_utils

    place = (event.mouse_x - view.region.x, event.mouse_y - view.region.y)
    origin = view3d_utils.region_2d_to_origin_3d(view.region, view.view, place)
    direction = view3d_utils.region_2d_to_vector_3d(view.region, view.view, place)
    return np.array(origin), np.array(direction), not view.view.is_perspective


def _holds(region: bpy.types.Region, event: bpy.types.Event) -> bool:
    if region.width <= 1 or region.height <= 1:
        return False
    across, rise = event.mouse_x - region.x, event.mouse_y - region.y
    return 0 <= across < region.width and 0 <= rise < region.height
