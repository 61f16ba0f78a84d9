"""An even keeper that is kept current; tells what its session counts."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
import bmesh
import bpy
import common
import figure
import looks
from bpy_extras.view3d_utils import location_3d_to_region_2d
from common import ADDON, asked

LIVE = sys.modules[f"{ADDON}.ui.live"]
GUIDES = sys.modules[f"{ADDON}.ui.overlay.guides"]
FEET = 0.04
CHEEK = (0.16, 0.40)
"""Across and up, in metres, of the vertex that is dragged."""


@asked
def take():
    """Select the cheek's vertex alone; its place in window pixels, from the lower left."""
    mesh = bmesh.from_edit_mesh(BODY.data)
    front = [vertex for vertex in mesh.verts if vertex.co.y < -0.05]
    chosen = min(front, key=lambda v: (v.co.x - CHEEK[0]) ** 2 + (v.co.z - CHEEK[1]) ** 2)
    for vertex in mesh.verts:
        vertex.select_set(vertex == chosen)
    mesh.select_flush_mode()
    bmesh.update_edit_mesh(BODY.data, destructive=False)
    bpy.ops.ed.undo_push(message="Taken")
    area = common.view_area()
    region = common.region_of(area, "WINDOW")
    place = location_3d_to_region_2d(region, area.spaces.active.region_3d, BODY.matrix_world @ chosen.co)
    return [place.x + region.x, place.y + region.y]


@asked
def lower_feet(by):
    """Aim at a target, and let all below the knees sink by ``by`` metres, as one step of the artist."""
    bpy.context.scene.evenfold.has_target = True
    for points in (BODY.data.vertices, *(key.points for key in BODY.data.shape_keys.key_blocks)):
        for point in points:
            if point.co.z < FEET:
                point.co.z -= by
    BODY.data.update()
    bpy.ops.ed.undo_push(message="Lowered")


@asked
def guides():
    """The title of the guides' legend and how low their lowest line is; None without guides."""
    picture = GUIDES.source(bpy.context.scene)
    if picture is None:
        return None
    return picture.legend.title, float(min(strokes.segments[..., 2].min() for view in picture.views for strokes in view.strokes))


@asked
def handlers():
    lists = (getattr(bpy.app.handlers, name) for name in dir(bpy.app.handlers))
    return sorted(
        one.__module__.removeprefix(ADDON) for entries in lists if isinstance(entries, list)
        for one in entries if one.__module__.startswith(f"{ADDON}.ui.live")
    )


def look():
    session = LIVE.session_of(bpy.context.scene)
    now = session.now if session else None
    return {
        "on": session is not None, "counts": dict(now.counts) if now else {},
        "worst": now.worst if now else None, "heads": session.heads.value if session else None,
        "told": sorted(session.passed) if session else [], "owed": sorted(session.owed) if session else [],
        "held": [one.bl_idname for one in common.the_window().modal_operators],
        "ended": LIVE.ended(bpy.context.scene),
    }


def open_panel():
    """Register the panel again, open: nothing in Blender's data opens a closed panel."""
    panel = bpy.types.EVENFOLD_PT_live
    bpy.utils.unregister_class(panel)
    panel.bl_options = set()
    bpy.utils.register_class(panel)


open_panel()
BODY, _ = figure.build("keeper")
looks.look_from("front", distance=2.0, height=0.5)
common.begin(look)
