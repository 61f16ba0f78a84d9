"""Guides over the model: switched by a click, seen from all sides, gone without a trace."""

import time

from machine import Tally, Window, differing
from sidebar import THIRDS, away, open_tab, press

NAME = "guides"
SHOW = r"evenfold_guides\.show\b"
DRAWN = 3000
"""Pixels that differ at least when a kind of line is on (the target's, the fewest: 4855)."""
NOISE = 2000
"""Pixels that may differ between two pictures of one thing: letters and edges are smoothed a
little differently after a change of theme or scale (up to 1124 seen)."""


def play(window: Window, tally: Tally) -> None:
    time.sleep(3.0)
    open_tab(window)
    window.ask("use_theme", name="dark")  # the file's own colours are not quite the preset's
    window.ask("want", heads=2.0)
    window.ask("look_from", name="front")
    press(window, r"evenfold\.measure\b")
    tally.note("the keeper is measured", window.wait(lambda s: s["measured"], 20))
    away(window)
    empty = window.pixels()
    tally.note("two pictures of nothing are equal", differing(empty, window.pixels()) < NOISE)
    press(window, SHOW)
    tally.note("a click on Show Guides turns them on", window.wait(lambda s: s["show"], 10))
    away(window)
    with_guides = window.pixels()
    changed = differing(empty, with_guides)
    tally.note(f"the guides are drawn ({changed} pixels)", changed > DRAWN)
    switch_parts(window, tally, with_guides)
    draw_two_pictures(window, tally, with_guides)
    take_pictures(window, tally)
    make_objects(window, tally)
    press(window, SHOW)
    away(window)
    tally.note("a second click turns them off", window.wait(lambda s: not s["show"], 10))
    left = differing(empty, window.pixels())
    tally.note(f"nothing is drawn then ({left} pixels)", left < NOISE)
    press(window, SHOW)
    away(window)
    leave_nothing(window, tally, empty)


def switch_parts(window: Window, tally: Tally, before: bytes) -> None:
    """Each kind of line can be left out and comes back."""
    for name, third in zip(("heads", "landmarks", "target"), THIRDS, strict=True):
        x, y = press(window, rf"evenfold_guides\.{name}\b", columns=(third,))
        away(window)
        missing = differing(before, window.pixels())
        tally.note(f"without {name} less is drawn ({missing} pixels)", missing > DRAWN)
        window.click(x, y)
        away(window)
        tally.note(f"with {name} again it is as before", differing(before, window.pixels()) < NOISE)


def draw_two_pictures(window: Window, tally: Tally, before: bytes) -> None:
    """The overlay draws several pictures at once, with dots and a legend."""
    window.ask("trial", on=True)
    both = differing(before, window.pixels())
    tally.note(f"a second picture is drawn with the guides ({both} pixels)", both > DRAWN)
    window.picture("guides-and-dots")
    window.ask("trial", on=False)
    tally.note("without it all is as before", differing(before, window.pixels()) < NOISE)


def take_pictures(window: Window, tally: Tally) -> None:
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
    seen = window.pixels()
    window.picture("guides-top")
    press(window, SHOW)
    away(window)
    left = differing(seen, window.pixels())
    tally.note(f"seen from the top there are no guides ({left} pixels)", left < NOISE)
    press(window, SHOW)
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


def leave_nothing(window: Window, tally: Tally, empty: bytes) -> None:
    """Disable and load with the guides on."""
    both = ["POST_PIXEL", "POST_VIEW"]
    tally.note("there is one draw handler of each kind", window.ask("handles")[0] == both)
    tally.note("a second window opens", window.ask("second_window", on=True) == 2)
    time.sleep(3.0)
    tally.note("and closes with the guides on", window.ask("second_window", on=False) == 1)
    time.sleep(1.0)
    tally.note("after that they are still drawn", differing(empty, window.pixels()) > DRAWN)
    window.ask("switch", on=False)
    tally.note("disabling removes handlers and buffers", window.ask("handles") == [[], 0])
    left = differing(empty, window.pixels())
    tally.note(f"nothing is drawn after disabling ({left} pixels)", left < NOISE)
    window.ask("switch", on=True)
    window.wait(lambda s: s["on"], 10)
    window.ask("measure")
    window.ask("load_other")
    loaded = window.wait(lambda s: s["file"].endswith("other.blend"), 20)
    tally.note("another file loads with the guides on", loaded)
    window.ask("look_from", name="front")
    plain = window.pixels()
    window.ask("measure")
    tally.note("nothing is drawn in it", differing(plain, window.pixels()) < NOISE)
    window.picture("guides-other-file")
    press(window, SHOW)
    away(window)
    tally.note("guides can be shown in it", differing(plain, window.pixels()) > DRAWN)
    window.picture("guides-cook")
