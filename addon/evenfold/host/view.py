"""Turning the artist's view to a place, and what is selected in a mesh, without operators."""

from typing import cast

import bmesh
import bpy
import numpy as np

from ..core.figure import FloatArray, IntArray

CLOSE = 5.0
"""How many times what is looked at fits across the view. Our choice."""
LEAST_SHARE = 0.5
"""The view never comes closer than this share of the figure's size. Our choice."""


def view_of(context: bpy.types.Context) -> bpy.types.RegionView3D | None:
    """The 3D view the artist is in, else the first one on the screen, None without any."""
    space = context.space_data
    if space is not None and space.type == "VIEW_3D":
        return cast("bpy.types.SpaceView3D", space).region_3d
    for area in context.screen.areas if context.screen is not None else ():
        if area.type == "VIEW_3D":
            return cast("bpy.types.SpaceView3D", area.spaces.active).region_3d
    return None


def look_at(view: bpy.types.RegionView3D, place: FloatArray, reach: float, span: float) -> None:
    """Bring a place (3,) in world space, ``reach`` scene units around it, to the view's middle.

    ``span`` is the figure's size in scene units. The direction stays; a view through the camera
    is left for one of its own.
    """
    if view.view_perspective == "CAMERA":
        view.view_perspective = "PERSP"
    view.view_location = [float(part) for part in place]
    view.view_distance = max(CLOSE * reach, LEAST_SHARE * span)


def selected_vertices(item: bpy.types.Object) -> IntArray:
    """(k,) numbers of a mesh's selected vertices, in edit mode or not."""
    mesh = cast("bpy.types.Mesh", item.data)
    if mesh.is_editmode:
        edit = bmesh.from_edit_mesh(mesh)
        return np.array([vertex.index for vertex in edit.verts if vertex.select], np.int64)
    flags = np.zeros(len(mesh.vertices), bool)
    mesh.vertices.foreach_get("select", flags)
    return np.flatnonzero(flags)
