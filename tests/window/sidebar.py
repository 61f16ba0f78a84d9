"""Finds buttons by what they do, wherever the panels put them, and clicks them.

Blender does not tell where a button is, but it knows which one is under the mouse: the inner
side walks the mouse down the sidebar and notes the operator or property under it, as Blender's
own "copy Python command" and "copy data path" name it. So a scenario names a button by its
operator or property, and new panels above it change nothing. A tall screen keeps most of the
sidebar in sight; what is not there is looked for by turning the wheel.
"""

import re

from machine import SIZE, Window

STEP = 16
"""Pixels between two looks; a button is 20 high."""
FINE = 6
"""Pixels between two looks where the first went by it."""
MIDDLE = (0.5,)
THIRDS = (0.17, 0.5, 0.83)
"""Where to walk: shares of the sidebar's width, or pixels from its right end if negative."""
ICONS = (-55.0, -76.0, -97.0, -118.0)
"""The small buttons at the right end of a line, up to four of them."""
PAGES = 4
WHOLE_WAY = 80


class NoButtonError(Exception):
    """No such button was found in the sidebar."""


def open_tab(window: Window, name: str = "Evenfold") -> bool:
    """Click down the sidebar's tabs until ours is the one that is open."""
    for height in range(60, 600, 28):
        sidebar = window.ask("sidebar")
        if sidebar["tab"] == name:
            return True
        top = SIZE[1] - sidebar["y"] - sidebar["height"]
        window.click(sidebar["x"] + sidebar["width"] - 10, top + height)
    return False


def find(window: Window, pattern: str, columns: tuple[float, ...] = MIDDLE) -> tuple[int, int]:
    """Screen place of the button whose operator or property matches, scrolling if need be.

    Looks once more in finer steps and between the columns. Raises NoButtonError.
    """
    found = _looked_for(window, pattern, columns, STEP)
    if found is None:
        found = _looked_for(window, pattern, beside(columns), FINE)
    if found is None:
        raise NoButtonError(pattern)
    return found


def beside(columns: tuple[float, ...]) -> tuple[float, ...]:
    """The columns and places a little beside them."""
    near = [
        place
        for column in columns
        for place in ((column, column + 10.0, column - 10.0, column + 20.0) if column < 0
                      else (column, column + 0.12, column - 0.12))
    ]
    return tuple(dict.fromkeys(place for place in near if place < 0.98))


def _looked_for(
    window: Window, pattern: str, columns: tuple[float, ...], step: int
) -> tuple[int, int] | None:
    for page in range(PAGES):
        area = window.ask("sidebar")
        top = SIZE[1] - area["y"] - area["height"]
        for column in columns:
            x = area["x"] + (column * (area["width"] - 20) if column > 0 else area["width"] + column)
            y = window.ask(
                "walk", 120, x=int(x), top=top + 8, bottom=top + area["height"] - 8, step=step,
                pattern=pattern,
            )
            if y is not None:
                return int(x), y
        turns = -WHOLE_WAY if page == 0 else 12
        window.wheel(area["x"] + area["width"] / 2, top + area["height"] / 2, turns)
    return None


def press(window: Window, pattern: str, columns: tuple[float, ...] = MIDDLE) -> tuple[int, int]:
    """A real click on that button, after making sure that it is under the mouse; its place.

    It is looked for where it was last time first.
    """
    for _attempt in range(3):
        x, y = window.places.pop(pattern, None) or find(window, pattern, columns)
        window.point(x, y)
        if re.search(pattern, window.ask("under")):
            window.click(x, y)
            window.places[pattern] = (x, y)
            return x, y
    raise NoButtonError(f"{pattern} moved away")


def away(window: Window) -> None:
    """Put the mouse into the view, where keys go to Blender's view."""
    window.point(600, 650)
