"""A second main window, with marks, guides and the live check on; it closes, and the first stays right."""

from machine import Tally, Window
from screen import WHOLE, coloured
from sidebar import away, open_tab, press

NAME = "windows"
WINDOW_MENU, NEW_MAIN_WINDOW = (183, 14), (215, 55)
"""Where Blender's Window menu and, in it, New Main Window are, in pixels from the upper left."""
COLOURS = {"worst": (255, 235, 133), "wanted": (184, 255, 224)}
REACH, SPECKS, DRAWN = 6, 12, 60


def counts(window: Window) -> dict[str, int]:
    return coloured(window.pixels(), COLOURS, REACH)


def play(window: Window, tally: Tally) -> None:
    open_tab(window)
    press(window, r"evenfold\.check_symmetry\b")
    window.wait(lambda s: s["checked"], 20)
    press(window, r"evenfold_findings\.show\b")
    press(window, r"evenfold\.keep_current\b")
    tally.note("marks are shown and the figure is kept current", window.wait(lambda s: s["show"] and s["live"] is not None, 20))
    away(window)
    before = counts(window)
    tally.note(f"marks are drawn ({before})", before["worst"] >= DRAWN)
    window.click(*WINDOW_MENU)
    window.picture("windows-0-menu")
    window.click(*NEW_MAIN_WINDOW)
    tally.note("a second main window opens", window.wait(lambda s: len(s["windows"]) == 2, 15))
    window.ask("set_beside")
    window.picture_at_rest("windows-1-both")
    tally.note(f"the marks are drawn in it too ({in_front(window)})", in_front(window)["worst"] >= DRAWN)
    window.ask("push_one", further=1)
    followed = window.wait(lambda s: s["stale"] and s["live"] == {"drifted": 2}, 20)
    tally.note(f"with both open a change is followed ({window.seen()['live']})", followed)
    window.picture_at_rest("windows-2-followed")
    window.ask("other_scene")
    tally.note("another scene in the second has no marks", none(in_front(window)))
    window.picture_at_rest("windows-3-other-scene")
    window.ask("same_scene")
    tally.note("back in the scene they are drawn again", in_front(window)["worst"] >= DRAWN)
    window.ask("close_second")
    tally.note("the second window closes", window.wait(lambda s: len(s["windows"]) == 1, 15))
    left_alone(window, tally)


def in_front(window: Window) -> dict[str, int]:
    """What the window in front of the other shows of the marks."""
    window.settle()
    return coloured(window.screen.steady(WHOLE, every=0.4), COLOURS, REACH)


def none(found: dict[str, int]) -> bool:
    return all(count <= SPECKS for count in found.values())


def left_alone(window: Window, tally: Tally) -> None:
    """The first window afterwards."""
    away(window)
    seen, now = window.seen(), counts(window)
    window.picture("windows-4-one-left")
    tally.note(f"the first still draws the marks ({now})", now["worst"] >= DRAWN and seen["handles"] == 2)
    window.ask("push_one", further=2)
    followed = window.wait(lambda s: s["live"] == {"drifted": 3}, 20)
    tally.note(f"the live check goes on ({window.seen()['live']})", followed)
    press(window, r"evenfold\.check_symmetry\b")
    tally.note("a click on Check Symmetry checks anew", window.wait(lambda s: s["checked"] and not s["stale"], 20))
    press(window, r"evenfold_findings\.show\b")
    away(window)
    window.wait(lambda s: not s["show"], 10)
    tally.note(f"a click hides the marks ({counts(window)})", none(counts(window)))
