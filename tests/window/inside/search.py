"""The keeper, for Blender's search; tells what commands found by it have done."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
import bpy
import common
import figure
import looks
from common import ADDON

STORE = sys.modules[f"{ADDON}.host.store"]
LIVE = sys.modules[f"{ADDON}.ui.live"]


def look():
    scene = bpy.context.scene
    results = common.state()
    return {
        "measured": bool(results and results.proportion), "checked": bool(results and results.check),
        "guides": scene.evenfold_guides.show, "target": scene.evenfold.has_target,
        "pins": [pin.landmark for item in scene.objects for pin in STORE.stored_pins(item)],
        "worn": [one.kind for item in scene.objects for one in STORE.stored_worn(item)],
        "live": LIVE.session_of(scene) is not None,
        "areas": [area.type for area in common.the_window().screen.areas],
        "windows": len(bpy.context.window_manager.windows),
    }


figure.build("keeper")
looks.look_from("front", distance=2.2)
common.begin(look)
