"""Finds buttons by what they do, wherever the panels put them, and clicks them.

Blender does not tell where a button is, but it knows which one is under the mouse: the inner
side walks the mouse down the sidebar and notes the operator or property under it, as Blender's
own "copy Python command" and "copy data path" name it. So a scenario names a button by its
operator or property, and new panels above it change nothing. A walk is slow, because Blender
draws the sidebar at every step; so each button that was met is remembered from one run to the next,
and looked for there first, and around there next. Nothing is clicked before Blender has named it.
What is not in sight is looked for by turning the wheel.
"""

import json
import re
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from machine import INSIDE, Window
from screen import SIZE

STEP = 18
"""Pixels between two looks; a button is 20 high."""
FINE = 6
"""Pixels between two looks where the first went by it."""
MIDDLE = (0.5,)
THIRDS = (0.17, 0.5, 0.83)
"""Where to walk: shares of the sidebar's width, or pixels from its right end if negative."""
ICONS = (-55.0, -76.0, -97.0, -118.0)
"""The small buttons at the right end of a line, up to four of them."""
MARGIN = 8
EDGE = 20
"""Pixels from the sidebar's ends: where to look, and where to click."""
LITTLE, PAGE, WHOLE_WAY = 3, 12, 80
"""Turns of the wheel."""
MOST = 4
"""Places remembered for each button."""


class NoButtonError(Exception):
    """No such button was found in the sidebar."""


@dataclass(frozen=True)
class Bar:
    """The sidebar in pixels from the upper left of the screen, and how far it is scrolled down."""

    x: int
    top: int
    width: int
    height: int
    scrolled: int
    tab: str

    @property
    def middle(self) -> tuple[int, int]:
        return self.x + self.width // 2, self.top + self.height // 2

    def across(self, column: float) -> int:
        """The place of a column on the screen."""
        return int(self.x + (column * (self.width - 20) if column > 0 else self.width + column))


@dataclass(frozen=True)
class Place:
    """Where a button was met: across the screen, and down from the top of the whole sidebar."""

    x: int
    depth: int


class Memory:
    """Where buttons were met and pressed, kept in the tree from one run to the next."""

    def __init__(self, file: Path) -> None:
        self.file = file
        self.met: dict[str, Place] = {}
        self.pressed: dict[str, list[Place]] = {}
        if file.exists():
            kept = json.loads(file.read_text(encoding="utf-8"))
            self.pressed = {name: [Place(*place) for place in places] for name, places in kept.items()}

    def of(self, pattern: str) -> list[Place]:
        """Where it was pressed, the last one first, and where one that matches was met."""
        met = [place for name, place in self.met.items() if re.search(pattern, name)]
        return list(dict.fromkeys([*self.pressed.get(pattern, []), *met[:1]]))

    def press(self, pattern: str, place: Place) -> None:
        places = [one for one in self.pressed.get(pattern, []) if one != place]
        self.pressed[pattern] = [place, *places][:MOST]
        kept = {name: [[one.x, one.depth] for one in each] for name, each in self.pressed.items()}
        part = self.file.with_suffix(f".{threading.get_ident()}")
        part.write_text(json.dumps(kept), encoding="utf-8")
        part.replace(self.file)


@cache
def memory(root: Path) -> Memory:
    """What is remembered of the Blender of this tree."""
    return Memory(root / INSIDE.lstrip("/") / "pressed.json")


def bar_of(window: Window) -> Bar:
    told = window.ask("sidebar")
    top = SIZE[1] - told["y"] - told["height"]
    return Bar(told["x"], top, told["width"], told["height"], told["scrolled"], told["tab"])


def open_tab(window: Window, name: str = "Evenfold") -> bool:
    """Click down the sidebar's tabs until ours is the one that is open."""
    known, bar = memory(window.root), bar_of(window)
    if bar.tab == name and bar.width > 100:
        return True
    before = [place.depth for place in known.of(f"tab {name}")]
    for depth in (*before, *range(60, 600, 28)):
        place = Place(bar.x + bar.width - 10, depth)
        window.click(place.x, bar.top + depth)
        bar = bar_of(window)
        if bar.tab == name and bar.width > 100:
            known.press(f"tab {name}", place)
            return True
    return False


def press(window: Window, pattern: str, columns: tuple[float, ...] = MIDDLE) -> tuple[int, int]:
    """A real click on that button, after making sure that it is under the mouse; its place."""
    spot = point_at(window, pattern, columns)
    window.press_button()
    return spot


def point_at(window: Window, pattern: str, columns: tuple[float, ...] = MIDDLE) -> tuple[int, int]:
    """The mouse on that button, which Blender has named; its place. Raises NoButtonError."""
    known = memory(window.root)
    for place in known.of(pattern):
        if spot := _point_if_there(window, place, pattern):
            known.press(pattern, place)
            return spot
    for _attempt in range(2):
        found = find(window, pattern, columns)
        if spot := _point_if_there(window, found, pattern):
            known.press(pattern, found)
            return spot
    raise NoButtonError(f"{pattern} moved away")


def _point_if_there(window: Window, place: Place, pattern: str) -> tuple[int, int] | None:
    bar = _in_sight(window, place)
    y = bar.top + place.depth - bar.scrolled
    window.point(place.x, y)
    if not re.search(pattern, window.ask("under")):
        return None
    return place.x, y


def _in_sight(window: Window, place: Place) -> Bar:
    """Turn the wheel until the place is well in sight, or as far as that goes."""
    bar = bar_of(window)
    for _attempt in range(20):
        down = place.depth - bar.scrolled
        if EDGE <= down <= bar.height - EDGE:
            break
        turned = _turned(window, bar, LITTLE if down > EDGE else -LITTLE)
        if turned.scrolled == bar.scrolled:
            break
        bar = turned
    return bar


def find(window: Window, pattern: str, columns: tuple[float, ...] = MIDDLE) -> Place:
    """The button whose operator or property matches, scrolling if need be.

    Looks once more in finer steps and between the columns. Raises NoButtonError.
    """
    for step, places in ((STEP, columns), (FINE, beside(columns))):
        for near in memory(window.root).of(pattern)[:1]:
            _in_sight(window, near)
        for bar in _pages(window):
            found = _walk(window, bar, [bar.across(column) for column in places], step, pattern)
            if found is not None:
                return found
    raise NoButtonError(pattern)


def beside(columns: tuple[float, ...]) -> tuple[float, ...]:
    """The columns and places a little beside them."""
    near = [
        place
        for column in columns
        for place in ((column, column + 10.0, column - 10.0, column + 20.0) if column < 0
                      else (column, column + 0.12, column - 0.12))
    ]
    return tuple(dict.fromkeys(place for place in near if place < 0.98))


def _pages(window: Window) -> Iterator[Bar]:
    """What is in sight now, all below it, and then all above it."""
    first = bar = bar_of(window)
    yield bar
    while (further := _turned(window, bar, PAGE)).scrolled > bar.scrolled:
        yield (bar := further)
    if first.scrolled > 0:
        bar = _turned(window, bar, -WHOLE_WAY)
        while bar.scrolled < first.scrolled:
            yield bar
            bar = _turned(window, bar, PAGE)


def _turned(window: Window, bar: Bar, turns: int) -> Bar:
    window.wheel(*bar.middle, turns)
    return bar_of(window)


def _walk(window: Window, bar: Bar, columns: list[int], step: int, pattern: str) -> Place | None:
    """Walk down the columns, around where the button was met first, and remember what is met."""
    known = memory(window.root)
    near = next(iter(known.of(pattern)), None)
    found, passed = window.ask(
        "walk", 120, columns=columns, top=bar.top + MARGIN, bottom=bar.top + bar.height - MARGIN,
        step=step, pattern=pattern, near=near and bar.top + near.depth - bar.scrolled,
    )
    for x, y, name in passed:
        known.met[name] = Place(x, y + 2 - bar.top + bar.scrolled)
    return found and Place(found[0], found[1] - bar.top + bar.scrolled)


def finding_button(name: str, at: tuple[int, int]) -> str:
    """The pattern of a button of one finding, by the numbers of its object and of itself."""
    return rf"evenfold\.{name}\((?=.*\bobject_index={at[0]}\b)(?=.*\bfinding_index={at[1]}\b)"


def away(window: Window) -> None:
    """Put the mouse into the view, where keys go to Blender's view."""
    window.point(600, 650)
