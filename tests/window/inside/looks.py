"""Where the view looks from, the theme, and the add-on's draw handlers, for several scenarios."""

import math
import sys
from pathlib import Path

import addon_utils
import bpy
import common
from common import ADDON, asked
from mathutils import Euler, Vector

VIEWS = {
    "front": (math.pi / 2, 0.0, 0.0), "side": (math.pi / 2, 0.0, math.pi / 2), "back": (math.pi / 2, 0.0, math.pi),
    "slanted": (1.25, 0.0, 0.5), "top": (0.0, 0.0, 0.0),
}
THEMES = {"dark": "Blender_Dark", "light": "Blender_Light"}
MANAGER = sys.modules[f"{ADDON}.ui.overlay.manager"]


@asked
def look_from(name, distance=2.6, height=0.5, perspective="ORTHO"):
    region = common.view_area().spaces.active.region_3d
    region.view_perspective = perspective
    region.view_rotation = Euler(VIEWS[name]).to_quaternion()
    region.view_location, region.view_distance = Vector((0.0, 0.0, height)), distance
    common.view_area().tag_redraw()


@asked
def use_theme(name):
    paths = [Path(folder) / f"{THEMES[name]}.xml" for folder in bpy.utils.preset_paths("interface_theme")]
    (path,) = [one for one in paths if one.exists()]
    bpy.ops.script.execute_preset(filepath=str(path), menu_idname="USERPREF_MT_interface_theme_presets")


@asked
def handles():
    """The draw handlers that are on, and how many buffers there are."""
    return sorted(MANAGER._handles), len(MANAGER._layers)


@asked
def switch(on):
    (addon_utils.enable if on else addon_utils.disable)(ADDON)
