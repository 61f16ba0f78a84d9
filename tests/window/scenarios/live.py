"""The figure is kept current: a vertex is dragged in Edit Mode and the numbers follow after a pause."""

from machine import Tally, Window
from screen import SIZE, Box, as_png
from sidebar import away, open_tab, press

NAME = "live"
SWITCH = r"evenfold\.keep_current\b"
SHOW = r"evenfold_findings\.show\b"
GUIDES = r"evenfold_guides\.show\b"
SINKS = 0.06
HEADS = 1.5
DRAG = (0, 4, 10, 18, 28, 38)
"""Pixels that the mouse has moved at each look."""
FILM = Box(440, 330, 846, 570)


def play(window: Window, tally: Tally) -> None:
    open_tab(window)
    window.ask("use_theme", name="dark")
    press(window, SWITCH)
    tally.note("a click on Keep Current switches it on", window.wait(lambda s: s["on"], 20))
    seen = window.seen()
    tally.note("an even figure differs nowhere", not any(seen["counts"].values()))
    tally.note(f"its heads are those it is built with ({seen['heads']})", abs((seen["heads"] or 0) - HEADS) < 0.02)
    press(window, SHOW)
    away(window)
    window.key("Tab")
    tally.note("Tab goes into Edit Mode", window.wait(lambda s: s["mode"] == "EDIT_MESH", 10))
    window.picture("live-1-even")
    drag(window, tally)
    take_back(window, tally)
    follow(window, tally)
    switch_off(window, tally)


class Film:
    """Pictures of a part of the screen, one after the other."""

    def __init__(self, window: Window) -> None:
        self.window, self.count = window, 0

    def take(self, times: int = 1) -> None:
        self.window.settle(redraw=True)
        made = as_png(self.window.screen.look(FILM), FILM.width)
        for _ in range(times):
            (self.window.out / f"live-film-{self.count:02}.png").write_bytes(made)
            self.count += 1


def drag(window: Window, tally: Tally) -> None:
    """Grab, move in several steps, pause, let go."""
    for old in window.out.glob("live-film-*.png"):
        old.unlink()
    film = Film(window)
    x, y = window.ask("take")
    window.point(x, SIZE[1] - y)
    film.take(2)
    window.key("g")
    held = window.wait(lambda s: bool(s["held"]), 10)
    tally.note("G holds the vertex", held)
    for step in DRAG:
        window.point(x + step, SIZE[1] - y + step // 2)
        film.take()
    paused = window.wait(lambda s: bool(s["held"]) and sum(s["counts"].values()) > 0, 20)
    tally.note("in a pause of the drag the pair that is pulled apart is counted", paused)
    window.press_button()
    film.take()
    found = window.wait(lambda s: sum(s["counts"].values()) > 0 and not s["held"] and not s["owed"], 20)
    seen = window.seen()
    tally.note(f"after a longer pause all is up to date ({seen['counts']})", found)
    tally.note("and it alone", set(seen["counts"]) == {"drifted"} and seen["counts"]["drifted"] == 1)
    tally.note(f"its size is told ({seen['worst']})", bool(seen["worst"]) and 0.002 < seen["worst"] < 0.1)
    film.take(4)
    window.picture("live-2-dragged")


def take_back(window: Window, tally: Tally) -> None:
    away(window)
    window.key("ctrl+z")
    back = window.wait(lambda s: not any(s["counts"].values()), 20)
    tally.note("after undo and a pause nothing differs any more", back)
    film = Film(window)
    film.count = len(list(window.out.glob("live-film-*.png")))
    film.take(3)
    window.picture("live-3-undone")


def follow(window: Window, tally: Tally) -> None:
    """The guides go with the feet, and the panel tells how far off the target that is."""
    window.key("Tab")
    window.wait(lambda s: s["mode"] == "OBJECT", 10)
    press(window, GUIDES)
    title, low = window.ask("guides")
    tally.note(f"without any measuring the guides are those kept current ({title})", title == "Guides, kept current")
    window.ask("lower_feet", by=SINKS)
    tally.note("after a pause heads tall has changed", window.wait(lambda s: (s["heads"] or 0) > HEADS + 0.05, 20))
    title, lower = window.ask("guides")
    tally.note(f"the lowest guide went down with the feet ({low - lower:.3f})", abs(low - lower - SINKS) < 0.01)
    away(window)
    window.picture("live-4-followed")
    window.key("ctrl+z")
    tally.note("undo brings heads tall back", window.wait(lambda s: abs((s["heads"] or 0) - HEADS) < 0.02, 20))


def switch_off(window: Window, tally: Tally) -> None:
    tally.note("it listens to Blender while it is on", bool(window.ask("handlers")))
    press(window, SWITCH)
    tally.note("a second click switches it off", window.wait(lambda s: not s["on"], 10))
    tally.note("then it listens no more", window.ask("handlers") == [])
    away(window)
    window.picture("live-5-off")
