"""Blender's own search, opened from its Edit menu, finds and runs what an artist would type."""

from collections.abc import Callable
from typing import Any

from machine import Tally, Window
from sidebar import away

NAME = "search"
EDIT, MENU_SEARCH = (77, 11), (133, 178)
"""Where Blender's Edit menu and, in it, Menu Search are, in pixels from the upper left."""
TYPED: tuple[tuple[str, str, Callable[[dict[str, Any]], bool]], ...] = (
    ("heads", "measures", lambda s: s["measured"]),
    ("check", "checks", lambda s: s["checked"]),
    ("guides", "shows the guides", lambda s: s["guides"]),
    ("live check", "keeps the figure current", lambda s: s["live"]),
    ("plan to target", "sets the target that is planned for", lambda s: s["target"]),
    ("headwear object", "leaves the object out", lambda s: s["worn"] == ["object"]),
)
"""What is typed, what the first entry found does, and by what that is known."""


def play(window: Window, tally: Tally) -> None:
    for number, (words, does, done) in enumerate(TYPED):
        search(window, words, f"search-{number}-{words.replace(' ', '-')}")
        tally.note(f"'{words}' in Blender's search {does}", window.wait(done, 15))
    pin(window, tally)
    report(window, tally)


def search(window: Window, words: str, picture: str) -> None:
    """Open Blender's search by the mouse, type and take the first entry.

    Its key, F3, does not come through from this keyboard, as none of the F keys does.
    """
    away(window)
    window.click(*EDIT)
    window.click(*MENU_SEARCH)
    window.type(words)
    window.picture(picture)
    window.key("Return")


def pin(window: Window, tally: Tally) -> None:
    search(window, "pin landmark cursor", "search-pin")
    window.settle()
    window.picture("search-pin-dialog")
    window.key("Return")
    tally.note("'pin landmark cursor' asks which and pins it", window.wait(lambda s: s["pins"] == ["chin"], 10))
    away(window)
    window.key("ctrl+z")
    tally.note("undo takes the pin away", window.wait(lambda s: not s["pins"], 10))


def report(window: Window, tally: Tally) -> None:
    search(window, "report page", "search-report")
    opened = window.wait(lambda s: "FILE_BROWSER" in s["areas"] or s["windows"] > 1, 10)
    tally.note("'report page' asks where to write it", opened)
    window.picture("search-report-file")
    window.key("Escape")
