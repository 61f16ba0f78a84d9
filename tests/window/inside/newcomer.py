"""A figure nobody has looked at yet; the preferences, other languages, and the report from the panel."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
import bpy
import common
import figure
import looks
from common import ADDON, OUT, asked

SHOWN = []
FILE = OUT / "newcomer.blend"
REPORT = sys.modules[f"{ADDON}.ui.operators.report"]
FIRST = sys.modules[f"{ADDON}.ui.first"]


@asked
def speak(language):
    view = bpy.context.preferences.view
    view.language = language
    view.use_translate_interface = view.use_translate_tooltips = True
    common.view_area().tag_redraw()
    return {
        text: bpy.app.translations.pgettext(text, context)
        for text, context in (("Check Symmetry", "Operator"), ("Measure", "*"), ("Heads Tall", "*"), ("Symmetry", "*"))
    }


def preferences_window():
    """The window of Blender's preferences, None while it is closed."""
    windows = bpy.context.window_manager.windows
    return next((one for one in windows if one.screen.areas[0].type == "PREFERENCES"), None)


@asked
def show_section(name):
    """In Blender's preferences, which are open: the add-on's own page at one of its sections."""
    window = preferences_window()
    bpy.context.preferences.active_section = "ADDONS"
    bpy.context.window_manager.addon_search = "Evenfold"
    own = bpy.context.preferences.addons[ADDON].preferences
    own.section = name
    if not SHOWN:
        with bpy.context.temp_override(window=window, area=window.screen.areas[0]):
            bpy.ops.preferences.addon_expand(module=ADDON)
        SHOWN.append(name)
    window.screen.areas[0].tag_redraw()


@asked
def close_preferences():
    with bpy.context.temp_override(window=preferences_window()):
        bpy.ops.wm.window_close()


def open_report():
    """Register the report's panel again, open: nothing in Blender's data opens a closed panel."""
    panel = bpy.types.EVENFOLD_PT_report
    bpy.utils.unregister_class(panel)
    panel.bl_options = set()
    bpy.utils.register_class(panel)
    bpy.context.preferences.view.filebrowser_display_type = "SCREEN"


def look():
    scene = bpy.context.scene
    results, path = common.state(), REPORT.last_written(scene)
    first = FIRST.look(bpy.context) if hasattr(bpy.context, "view_layer") else None
    return {
        "measured": bool(results and results.proportion), "checked": bool(results and results.check),
        "guessed": [first.armature, first.head_bone, len(first.meshes)] if first else None,
        "written": str(path) if path else "", "text": path.read_text(encoding="utf-8")[:200] if path else "",
        "preferences": preferences_window() is not None,
        "areas": [area.type for area in common.the_window().screen.areas],
    }


open_report()
figure.build("keeper")
looks.look_from("front", distance=2.2)
bpy.ops.wm.save_as_mainfile(filepath=str(FILE))
common.begin(look)
