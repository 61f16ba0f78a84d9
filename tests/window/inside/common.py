"""Runs inside a Blender with a window: writes what it sees, does what the runner asks.

The runner outside clicks and types. This side builds the scene, opens the sidebar, writes what
it sees to a file every quarter of a second, and answers asks: one file in, one file out.
"""

import json
import re
import sys
from pathlib import Path

import bpy

OUT = Path(sys.argv[sys.argv.index("--") + 1])
ADDON = "bl_ext.user_default.evenfold"
LOOKS = []
ASKS = {}
"""What can be asked for by name; a generator is continued at each tick until it returns."""
_running = {"number": 0, "steps": None, "drawn": 0}


def asked(function):
    ASKS[function.__name__] = function
    return function


def state():
    return sys.modules[f"{ADDON}.ui.state"].of(bpy.context.scene)


def the_window():
    return bpy.context.window_manager.windows[0]


def view_area():
    return next(area for area in the_window().screen.areas if area.type == "VIEW_3D")


def region_of(area, kind):
    return next(region for region in area.regions if region.type == kind)


def _sidebar_override():
    area = view_area()
    return bpy.context.temp_override(window=the_window(), area=area, region=region_of(area, "UI"))


@asked
def under():
    """The Python command or data path of the button under the mouse, "" where there is none."""
    manager = bpy.context.window_manager
    manager.clipboard = ""
    with _sidebar_override():
        if bpy.ops.ui.copy_python_command_button.poll():
            bpy.ops.ui.copy_python_command_button()
        elif bpy.ops.ui.copy_data_path_button.poll():
            bpy.ops.ui.copy_data_path_button(full_path=True)
    return manager.clipboard


def _count_draws():
    _running["drawn"] += 1


@asked
def settle(redraw=False):
    """Let several turns of Blender's main loop go by; on request the view is drawn twice in them."""
    before = _running["drawn"]
    for turn in range(400):
        if turn >= 4 and not (redraw and _running["drawn"] < before + 2):
            return
        if redraw:
            view_area().tag_redraw()
        yield


@asked
def sidebar():
    """Where the sidebar is, in window pixels from the lower left, and its open tab."""
    region = region_of(view_area(), "UI")
    return {"x": region.x, "y": region.y, "width": region.width, "height": region.height,
            "tab": region.active_panel_category}


@asked
def free_view():
    """x, y from the lower left, width and height of the view between toolbar and sidebar."""
    area = view_area()
    view, tools, side = (region_of(area, kind) for kind in ("WINDOW", "TOOLS", "UI"))
    left = tools.x + tools.width
    return left, view.y, side.x - left, view.height - 60


@asked
def walk(x, top, bottom, step, pattern):
    """Move the mouse down the sidebar; height at which the button wanted is, None without it."""
    window = the_window()
    for height in range(top, bottom, step):
        window.cursor_warp(x, window.height - height)
        yield
        if re.search(pattern, under()):
            # Blender may be a turn behind, so look again at rest, here and one step above.
            for place in (height, height - step):
                window.cursor_warp(x, window.height - place)
                for _turn in range(4):
                    yield
                if re.search(pattern, under()):
                    return (yield from _inside(window, x, place, pattern))
    return None


def _inside(window, x, place, pattern):
    """A height a little inside the button, because buttons may adjoin."""
    window.cursor_warp(x, window.height - place - 5)
    for _turn in range(4):
        yield
    return place + 2 if re.search(pattern, under()) else place - 2


def _see():
    seen = {"sidebar": sidebar(), "mode": bpy.context.mode}
    for look in LOOKS:
        seen.update(look())
    _write("seen", seen)
    return 0.25


def _write(name, content):
    part = OUT / f"{name}.part"
    part.write_text(json.dumps(content), encoding="utf-8")
    part.replace(OUT / f"{name}.json")


def _answer():
    path = OUT / "ask.json"
    if _running["steps"] is None and path.exists():
        ask = json.loads(path.read_text(encoding="utf-8"))
        if ask["number"] == _running["number"]:
            return 0.05
        _running["number"] = ask["number"]
        made = ASKS[ask["what"]](**ask["words"])
        if not hasattr(made, "send"):
            _write("answer", {"number": ask["number"], "answer": made})
            return 0.05
        _running["steps"] = made
    if _running["steps"] is not None:
        try:
            next(_running["steps"])
        except StopIteration as end:
            _running["steps"] = None
            _write("answer", {"number": _running["number"], "answer": end.value})
        return 0.04
    return 0.05


def _open_sidebar():
    view_area().spaces.active.show_region_ui = True


def begin(*looks):
    """Open the sidebar and start to see and answer."""
    bpy.context.preferences.view.show_splash = False
    LOOKS.extend(looks)
    bpy.types.SpaceView3D.draw_handler_add(_count_draws, (), "WINDOW", "POST_PIXEL")
    for function, first in ((_open_sidebar, 1.0), (_see, 2.0), (_answer, 2.0)):
        bpy.app.timers.register(function, first_interval=first, persistent=True)
