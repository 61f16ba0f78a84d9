"""A keeper to draw guides on, looked at from anywhere, on a dark and on a light theme."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
import bpy
import common
import figure
import looks  # noqa: F401 - what it does on request
import numpy as np
from common import ADDON, OUT, asked

OTHER = OUT / "other.blend"
MANAGER = sys.modules[f"{ADDON}.ui.overlay.manager"]


@asked
def use_scale(factor):
    bpy.context.preferences.view.ui_scale = factor


@asked
def want(heads):
    bpy.context.scene.evenfold.has_target = heads > 0
    if heads > 0:
        bpy.context.scene.evenfold.target_heads = heads


@asked
def measure():
    bpy.ops.evenfold.measure()


@asked
def load_other():
    bpy.ops.wm.open_mainfile(filepath=str(OTHER), load_ui=False)


@asked
def trial(on):
    """A second picture beside the guides: dots on every vertex, lines across, a legend."""
    records = sys.modules[f"{ADDON}.ui.overlay.records"]
    if not on:
        MANAGER.remove_source("trial")
        MANAGER.redraw()
        return
    mesh = bpy.data.objects["Keeper body"].data
    points = np.array([vertex.co[:] for vertex in mesh.vertices])
    share = np.abs(points[:, 2:] - 0.5) * 2.0
    low, high = np.array([(0.36, 0.70, 1.0, 1.0)]), np.array([(1.0, 0.58, 0.10, 1.0)])
    dots = records.Dots(points, low + (high - low) * share.clip(0, 1))
    pairs = np.stack([points[:40], points[:40] * (-1, 1, 1)], axis=1)
    strokes = records.Strokes(pairs, np.tile(high, (40, 1)), 1.0)
    legend = records.Legend("A trial", ((tuple(low[0]), "near"), (tuple(high[0]), "far away")))
    picture = records.Picture((records.View((strokes,), (dots,)),), legend)
    MANAGER.add_source("trial", lambda _scene: picture)
    MANAGER.redraw()


@asked
def second_window(on):
    """Open a second main window, or close it again."""
    manager = bpy.context.window_manager
    if on:
        with bpy.context.temp_override(window=manager.windows[0]):
            bpy.ops.wm.window_new()
    else:
        with bpy.context.temp_override(window=manager.windows[-1]):
            bpy.ops.wm.window_close()
    return len(manager.windows)


def look():
    scene = bpy.context.scene
    chosen = getattr(scene, "evenfold_guides", None)
    results = common.state() if chosen is not None else None
    objects = [[o.name, o.type, o.hide_select, o.hide_render] for o in scene.objects if o.get("evenfold_guide")]
    return {
        "measured": bool(results and results.proportion), "show": bool(chosen and chosen.show),
        "parts": [getattr(chosen, name, None) for name in ("heads", "landmarks", "target")],
        "guides": objects, "file": bpy.data.filepath, "on": chosen is not None,
    }


figure.build("cook")
bpy.ops.wm.save_as_mainfile(filepath=str(OTHER), copy=True)
figure.build("keeper")
common.begin(look)
