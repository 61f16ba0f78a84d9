"""Finds buttons by what they do, wherever the panels put them, and clicks them.

Blender does not tell where a button is, but it knows which one is under the mouse: the inner
side walks the mouse down the sidebar and notes the operator or property under it, as Blender's
own "copy Python command" and "copy data path" name it. So a scenario names a button by its
operator or property, and new panels above it change nothing.
"""

import re
import time

from machine import SIZE, Window

STEP = 12
"""Pixels between two looks; a button is 20 high."""
COLUMNS = (0.5, 0.17, 0.83)
"""Where to walk: shares of the sidebar's width, or pixels from its right end if negative."""
ICONS = (-97.0, -76.0, -55.0)
"""The small buttons at the right end of a line, up to three of them."""


class NoButtonError(Exception):
    """No such button was found in the sidebar."""


def open_tab(window: Window, name: str = "Evenfold") -> bool:
    """Click down the sidebar's tabs until ours is the one that is open."""
    for height in range(60, 500, 22):
        if window.seen()["tab"] == name:
            return True
        area = window.seen()["area"]
        window.click(area["x"] + area["width"] - 10, SIZE[1] - area["y"] - area["height"] + height)
    return bool(window.seen()["tab"] == name)


def find(
    window: Window, pattern: str, columns: tuple[float, ...] = COLUMNS, after: bool = False
) -> tuple[int, int]:
    """Screen place of the button whose operator or property matches; raises NoButtonError.

    ``after`` starts below the button found last.
    """
    for column in columns:
        area = window.seen()["area"]
        x = area["x"] + (column * (area["width"] - 20) if column > 0 else area["width"] + column)
        top = SIZE[1] - area["y"] - area["height"]
        walked = window.ask(
            "walk", 120, x=int(x), top=window.last_height if after else top + 8,
            bottom=top + area["height"] - 8, step=STEP, pattern=pattern,
        )
        hits = [y for y, text in walked if re.search(pattern, text)]
        if hits:
            window.last_height = int(hits[len(hits) // 2])
            return int(x), window.last_height
    raise NoButtonError(pattern)


def press(
    window: Window, pattern: str, columns: tuple[float, ...] = COLUMNS, after: bool = False
) -> None:
    """A real click on that button, after making sure that it is under the mouse."""
    for _attempt in range(2):
        x, y = find(window, pattern, columns, after)
        window.point(x, y)
        if re.search(pattern, window.ask("under")):
            window.last_place = (x, y)
            window.click(x, y)
            return
        time.sleep(0.5)
    raise NoButtonError(f"{pattern} moved away")


def away(window: Window) -> None:
    """Put the mouse into the view, where keys go to Blender's view."""
    window.run("xdotool", "mousemove", "600", "650")
    time.sleep(0.4)
