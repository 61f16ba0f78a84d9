"""A keeper with a planted vertex, marked and kept current; tells of every window what it shows."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
import bpy
import common
import figure
import looks
from common import ADDON, asked

LIVE = sys.modules[f"{ADDON}.ui.live"]
PUSH = 0.01
"""Metres that a further vertex is pushed by hand."""


def second():
    return bpy.context.window_manager.windows[1]


@asked
def set_beside():
    """In the second window: the sidebar with our panels, another view, and a shading of its own."""
    area = next(area for area in second().screen.areas if area.type == "VIEW_3D")
    area.spaces.active.region_3d.view_distance = 1.6
    area.spaces.active.show_region_ui = True
    area.tag_redraw()


@asked
def other_scene():
    """The second window shows a new scene, which has nothing of ours."""
    second().scene = bpy.data.scenes.new("Pantry")


@asked
def same_scene():
    second().scene = the_scene()


@asked
def close_second():
    with bpy.context.temp_override(window=second()):
        bpy.ops.wm.window_close()


@asked
def push_one(further):
    """As a change of the model in the first window."""
    for points in (BODY.data.vertices, *(key.points for key in BODY.data.shape_keys.key_blocks)):
        points[PLANTED + further].co.y -= PUSH
    BODY.data.update()


def the_scene():
    return next(scene for scene in bpy.data.scenes if BODY.name in scene.objects)


def look():
    scene = the_scene()
    session = LIVE.session_of(scene)
    results = sys.modules[f"{ADDON}.ui.state"].of(scene)
    return {
        "windows": [window.scene.name for window in bpy.context.window_manager.windows],
        "checked": bool(results and results.check), "stale": bool(results and results.stale),
        "show": scene.evenfold_findings.show, "guides": scene.evenfold_guides.show,
        "live": dict(session.now.counts) if session else None,
        "handles": len(looks.MANAGER._handles),
    }


def open_panel():
    """Register the panel again, open: nothing in Blender's data opens a closed panel."""
    panel = bpy.types.EVENFOLD_PT_live
    bpy.utils.unregister_class(panel)
    panel.bl_options = set()
    bpy.utils.register_class(panel)


open_panel()
BODY, PLANTED = figure.build("keeper", plant=True)
looks.look_from("front")
common.begin(look)
