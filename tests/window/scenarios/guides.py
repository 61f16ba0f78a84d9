"""Guides over the model: switched by a click, seen from all sides, gone without a trace."""

import time

from machine import Tally, Window
from screen import coloured
from sidebar import THIRDS, away, open_tab, press

NAME = "guides"
SHOW = r"evenfold_guides\.show\b"
COLOURS = {"heads": (92, 179, 255), "landmarks": (247, 247, 230), "target": (255, 147, 32)}
"""The colours of the add-on's lines and letters as a screen shows them (measured); Blender's own
outline of the active object is (244, 152, 45)."""
DRAWN = 300
"""Pixels of its own colour at least, when a kind of line is on."""
SPECKS = 20
"""Pixels of those colours at most, beside what was there before, when it is off."""
LEGEND = 120
"""Pixels of each colour at most in the legend alone."""


class Counts:
    """Pixels of the guides' own colours in the view, beyond those an empty view has of them."""

    def __init__(self, window: Window) -> None:
        self.window = window
        self.empty = dict.fromkeys(COLOURS, 0)
        self.empty = self.now()

    def now(self) -> dict[str, int]:
        found = coloured(self.window.pixels(), COLOURS)
        return {name: found[name] - self.empty[name] for name in COLOURS}


def all_drawn(counts: dict[str, int], but: str = "") -> bool:
    return all(n >= DRAWN for name, n in counts.items() if name != but)


def none_drawn(counts: dict[str, int]) -> bool:
    return all(abs(n) <= SPECKS for n in counts.values())


def alike(one: dict[str, int], other: dict[str, int]) -> bool:
    return all(abs(one[name] - other[name]) <= SPECKS for name in COLOURS)


def play(window: Window, tally: Tally) -> None:
    open_tab(window)
    window.ask("use_theme", name="dark")  # the file's own colours are not quite the preset's
    window.ask("want", heads=2.0)
    window.ask("look_from", name="front")
    press(window, r"evenfold\.measure\b")
    tally.note("the keeper is measured", window.wait(lambda s: s["measured"], 20))
    away(window)
    counts = Counts(window)
    tally.note(f"two pictures of nothing are alike ({counts.empty})", none_drawn(counts.now()))
    press(window, SHOW)
    tally.note("a click on Show Guides turns them on", window.wait(lambda s: s["show"], 10))
    away(window)
    drawn = counts.now()
    window.smooth_picture("guides-first")
    tally.note(f"the guides are drawn in each colour ({drawn})", all_drawn(drawn))
    switch_parts(window, tally, counts, drawn)
    draw_two_pictures(window, tally, counts, drawn)
    take_pictures(window, tally, counts)
    make_objects(window, tally)
    press(window, SHOW)
    away(window)
    tally.note("a second click turns them off", window.wait(lambda s: not s["show"], 10))
    left = counts.now()
    tally.note(f"nothing is drawn then ({left})", none_drawn(left))
    press(window, SHOW)
    away(window)
    leave_nothing(window, tally, counts)


def switch_parts(window: Window, tally: Tally, counts: Counts, before: dict[str, int]) -> None:
    """Each kind of line can be left out, it alone, and comes back."""
    for name, third in zip(COLOURS, THIRDS, strict=True):
        x, y = press(window, rf"evenfold_guides\.{name}\b", columns=(third,))
        away(window)
        now = counts.now()
        gone = abs(now[name]) <= SPECKS and all_drawn(now, but=name)
        tally.note(f"without {name} they are gone and the others are there ({now})", gone)
        window.click(x, y)
        away(window)
        again = counts.now()
        tally.note(f"with {name} again it is as before ({again})", alike(again, before))


def draw_two_pictures(
    window: Window, tally: Tally, counts: Counts, before: dict[str, int]
) -> None:
    """The overlay draws several pictures at once, with dots and a legend."""
    window.ask("trial", on=True)
    both = counts.now()
    tally.note(f"a second picture is drawn with the guides ({both})", both["target"] > before["target"] + DRAWN)
    window.picture("guides-and-dots")
    window.ask("trial", on=False)
    tally.note("without it all is as before", alike(counts.now(), before))


def take_pictures(window: Window, tally: Tally, counts: Counts) -> None:
    """For the eye; what can be counted is that something is there, and nothing from the top."""
    for theme in ("light", "dark"):
        window.ask("use_theme", name=theme)
        for view in ("side", "front"):
            window.ask("look_from", name=view)
            window.picture(f"guides-{theme}-{view}")
    window.ask("look_from", name="back")
    window.picture("guides-back")
    window.ask("look_from", name="slanted", distance=3.0, perspective="PERSP")
    window.picture("guides-slanted")
    window.ask("look_from", name="front", distance=0.9, height=0.5)
    window.picture("guides-near")
    window.ask("look_from", name="front", distance=14.0)
    window.picture("guides-far")
    window.ask("want", heads=1.55)
    window.ask("measure")
    window.ask("use_scale", factor=1.5)
    window.ask("look_from", name="front", distance=5.0)
    window.picture("guides-large-letters")
    window.ask("use_scale", factor=1.0)
    window.ask("want", heads=2.0)
    window.ask("measure")
    window.ask("look_from", name="top")
    window.picture("guides-top")
    left = counts.now()
    tally.note(f"seen from the top there are no guides but in the legend ({left})", all(n <= LEGEND for n in left.values()))
    window.ask("look_from", name="front")


def make_objects(window: Window, tally: Tally) -> None:
    press(window, r"evenfold\.make_guides\b")
    made = window.wait(lambda s: len(s["guides"]) > 3, 10)
    tally.note("a click on Make Guide Objects makes them", made)
    first = window.seen()["guides"]
    tally.note("they are neither selectable nor rendered", made and all(a and b for _, _, a, b in first))
    window.ask("look_from", name="slanted", distance=3.0, perspective="PERSP")
    window.picture("guides-objects")
    press(window, r"evenfold\.make_guides\b")
    tally.note("a second click replaces them", made and window.seen()["guides"] == first)
    away(window)
    window.key("ctrl+z")
    window.key("ctrl+z")
    tally.note("two steps of undo remove them", window.wait(lambda s: not s["guides"], 10))
    tally.note("the guides over the model are still on", bool(window.seen()["show"]))
    window.ask("look_from", name="front")


def leave_nothing(window: Window, tally: Tally, counts: Counts) -> None:
    """Disable and load with the guides on."""
    both = ["POST_PIXEL", "POST_VIEW"]
    tally.note("there is one draw handler of each kind", window.ask("handles")[0] == both)
    tally.note("a second window opens", window.ask("second_window", on=True) == 2)
    time.sleep(1.0)
    window.settle()
    tally.note("and closes with the guides on", window.ask("second_window", on=False) == 1)
    window.settle(redraw=True)
    tally.note("after that they are still drawn", all_drawn(counts.now()))
    window.ask("switch", on=False)
    tally.note("disabling removes handlers and buffers", window.ask("handles") == [[], 0])
    left = counts.now()
    tally.note(f"nothing is drawn after disabling ({left})", none_drawn(left))
    window.ask("switch", on=True)
    window.wait(lambda s: s["on"], 10)
    window.ask("measure")
    window.ask("load_other")
    loaded = window.wait(lambda s: s["file"].endswith("other.blend"), 20)
    tally.note("another file loads with the guides on", loaded)
    window.ask("look_from", name="front")
    window.ask("measure")
    left = counts.now()
    tally.note(f"nothing is drawn in it ({left})", none_drawn(left))
    window.picture("guides-other-file")
    press(window, SHOW)
    away(window)
    now = counts.now()
    tally.note(f"guides can be shown in it ({now})", now["heads"] > DRAWN and now["landmarks"] > DRAWN)
    window.picture("guides-cook")
