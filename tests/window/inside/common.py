"""Runs inside a Blender with a window: writes what it sees, does what the runner asks.

The runner outside clicks and types. This side builds the scene, opens the sidebar and answers
asks: one file in, one file out.
"""

import json
import re
import sys
import time
from pathlib import Path

import bpy

OUT = Path(sys.argv[sys.argv.index("--") + 1])
ADDON = "bl_ext.user_default.evenfold"
LOOKS = []
ASKS = {}
"""What can be asked for by name; a generator is continued at each tick until it returns."""
_running = {"number": 0, "steps": None, "drawn": 0}
TICK = 0.005
"""Seconds between two turns of this side at least; a turn lasts as long as Blender draws."""
BEHIND = 2
"""Turns after which Blender has taken the mouse's place and knows the button there."""
AROUND = 15
"""Pixels within which a button ends both ways."""
REST = 4
"""Turns without drawing after which Blender is at rest."""
RESTLESS = 5.0
SMOOTHING = {"plain": "OFF", "picture": "FXAA", "unasked": bpy.context.preferences.system.viewport_aa}
"""Edges of the view: left as they are, smoothed in one pass, or as Blender does it, in many."""


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
    """Let Blender take events and draw until it comes to rest; on request the view is drawn first."""
    started = _running["drawn"]
    rested, before, end = 0, started, time.monotonic() + RESTLESS
    if redraw:
        view_area().tag_redraw()
    while rested < REST and time.monotonic() < end:
        yield
        rested = rested + 1 if _running["drawn"] == before and (not redraw or before > started) else 0
        before = _running["drawn"]


@asked
def smooth(how):
    """Edges of the view; where they are like that already, nothing is drawn anew."""
    if bpy.context.preferences.system.viewport_aa != SMOOTHING[how]:
        bpy.context.preferences.system.viewport_aa = SMOOTHING[how]


@asked
def sidebar():
    """The sidebar in window pixels from the lower left, its open tab, how far it is scrolled down."""
    region = region_of(view_area(), "UI")
    scrolled = -region.view2d.region_to_view(0, region.height)[1]
    return {"x": region.x, "y": region.y, "width": region.width, "height": region.height,
            "tab": region.active_panel_category, "scrolled": round(scrolled)}


@asked
def sidebar_opens():
    """Come back once the sidebar is there, with its width."""
    while region_of(view_area(), "UI").width <= 1:
        yield
    return region_of(view_area(), "UI").width


@asked
def free_view():
    """x, y from the lower left, width and height of the view between toolbar and sidebar."""
    area = view_area()
    view, tools, side = (region_of(area, kind) for kind in ("WINDOW", "TOOLS", "UI"))
    left = tools.x + tools.width
    return left, view.y, side.x - left, view.height - 60


@asked
def walk(columns, top, bottom, step, pattern, near=None):
    """Move the mouse through the sidebar to the button wanted, from where it was met last.

    A line is looked at in its further columns only where the first one holds a button of its own,
    unless there is nothing to be found that way. Returns the place of the button or None, and all
    buttons on the way with theirs.
    """
    heights = sorted(range(top, bottom, step), key=lambda height: abs(height - (near or 0)))
    passed = []
    for lines_only in (True, False):
        chosen = columns[:1] if lines_only else columns[1:]
        for x in chosen:
            before = None
            for height in heights:
                name = yield from _named(x, height)
                fresh = [(x, name)] if name and name != before else []
                before = name
                if lines_only and fresh and name.startswith("bpy.ops"):
                    fresh += yield from _along(columns[1:], height, name)
                for place, button in fresh:
                    passed.append([place, height, button])
                    if re.search(pattern, button):
                        found = yield from _at_rest(place, height, pattern)
                        if found is not None:
                            return [[place, found], passed]
    return [None, passed]


def _named(x, height):
    """The button there; Blender takes some turns to know it."""
    window = the_window()
    window.cursor_warp(x, window.height - height)
    for _turn in range(BEHIND):
        yield
    return under()


def _along(columns, height, first):
    """The buttons in further columns of a line, none where it is but one wide button."""
    found = []
    for x in columns:
        name = yield from _named(x, height)
        if name == first:
            break
        if name:
            found.append((x, name))
    return found


def _at_rest(x, height, pattern):
    """The middle of the heights around this one at which the button is; None if it is not there."""
    good = []
    for place in range(height - AROUND, height + AROUND + 1, 3):
        name = yield from _named(x, place)
        if re.search(pattern, name):
            good.append(place)
    return good[len(good) // 2] if good else None


@asked
def see():
    """What the scenario looks at, as it is now."""
    seen = {"mode": bpy.context.mode}
    for look in LOOKS:
        seen.update(look())
    return seen


def _write(name, content):
    part = OUT / f"{name}.part"
    part.write_text(json.dumps(content), encoding="utf-8")
    part.replace(OUT / f"{name}.json")


def _answer():
    path = OUT / "ask.json"
    if _running["steps"] is None and path.exists():
        ask = json.loads(path.read_text(encoding="utf-8"))
        if ask["number"] == _running["number"]:
            return TICK
        _running["number"] = ask["number"]
        made = ASKS[ask["what"]](**ask["words"])
        if not hasattr(made, "send"):
            _write("answer", {"number": ask["number"], "answer": made})
            return TICK
        _running["steps"] = made
    if _running["steps"] is not None:
        try:
            next(_running["steps"])
        except StopIteration as end:
            _running["steps"] = None
            _write("answer", {"number": _running["number"], "answer": end.value})
        return TICK
    return TICK


def _open_sidebar():
    view_area().spaces.active.show_region_ui = True


def begin(*looks):
    """Open the sidebar and start to answer."""
    bpy.context.preferences.view.show_splash = False
    smooth("plain")
    LOOKS.extend(looks)
    for region in ("WINDOW", "UI"):
        bpy.types.SpaceView3D.draw_handler_add(_count_draws, (), region, "POST_PIXEL")
    for function, first in ((_open_sidebar, 0.5), (_answer, 1.0)):
        bpy.app.timers.register(function, first_interval=first, persistent=True)
