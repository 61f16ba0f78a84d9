"""A drawing is loaded, marked by real clicks, matched to the model, and all of it undone."""

from itertools import compress

from machine import Tally, Window
from screen import SIZE, differing, masks
from sidebar import away, open_tab, press

NAME = "drawing"
SPOTS = {"crown": (255, 0, 255), "chin": (0, 255, 255), "sole": (255, 255, 0)}
REACH = 59
"""How far a channel of a spot may be from the colour as painted, of 255."""
MARK = r"evenfold\.mark_drawing\b"
MATCH = r"evenfold\.match_drawing\b"
NEAR = 2.0
"""Pixels a spot may be seen from where it is expected, and clicked beside its middle."""
SHARE = 0.006
"""That as a share of the picture: it is at least 500 pixels wide or high on this screen."""
DRAWN = 300


def play(window: Window, tally: Tally) -> None:
    open_tab(window)
    window.ask("look_from", name="front")
    press(window, r"evenfold\.measure\b")
    tally.note("the keeper is measured", window.wait(lambda s: s["measured"], 20))
    window.ask("load")
    tally.note("the drawing is loaded", window.wait(lambda s: s["item"] == "keeper sheet", 10))
    window.picture("drawing-1-loaded")
    seen_where_expected(window, tally, "front")
    mark_all(window, tally)
    match(window, tally)
    undo_all(window, tally)
    give_up(window, tally)
    in_perspective(window, tally)


def spots(window: Window) -> dict[str, tuple[float, float]]:
    """Screen places (from the upper left) of the coloured spots on the picture."""
    window.ask("opaque", on=True)
    x, y, width, height = window.ask("free_view")
    view = window.pixels()
    window.ask("opaque", on=False)
    found = {}
    for name, alike in masks(view, SPOTS, REACH).items():
        hits = list(compress(range(len(alike)), alike))
        if hits:
            column = sum(hit % width for hit in hits) / len(hits)
            row = sum(hit // width for hit in hits) / len(hits)
            found[name] = (x + column + 0.5, SIZE[1] - y - height + row + 0.5)
    return found


def seen_where_expected(window: Window, tally: Tally, view: str) -> dict[str, tuple[float, float]]:
    """The picture on the screen lies where its empty's numbers say."""
    found, wanted = spots(window), window.ask("expected")
    off = [
        max(abs(found[name][0] - x), abs(SIZE[1] - found[name][1] - y)) if name in found else 999.0
        for name, (x, y) in wanted.items()
    ]
    tally.note(f"{view}: the picture is where it is expected (off by {max(off):.1f} pixels)", max(off) < NEAR)
    return found


def right(seen: dict) -> bool:
    """Whether exactly the three landmarks are marked, each at its place on the picture."""
    known = seen["known"]
    return set(seen["marks"]) == set(known) and all(
        abs(a - b) < SHARE
        for name, place in seen["marks"].items() for a, b in zip(place, known[name], strict=True)
    )


def mark_all(window: Window, tally: Tally) -> None:
    places = spots(window)
    press(window, MARK)
    tally.note("a click on Mark waits for clicks", window.wait(lambda s: bool(s["busy"]), 10))
    window.point(40, 700)
    for name in ("crown", "chin", "sole"):
        tally.note(f"the {name} is asked for", window.wait(lambda s, name=name: s["next"] == name, 10))
        if name == "chin":
            window.picture("drawing-2-marking")
            window.run("xdotool", "click", "4")
            window.run("xdotool", "click", "5")
            window.settle()
            tally.note("the wheel zooms while marking", bool(window.seen()["busy"]))
        window.click(*places[name])
    tally.note("after the sole the marking has ended", window.wait(lambda s: not s["busy"], 10))
    tally.note("the marks are where they were clicked", window.wait(right, 10))
    away(window)
    window.picture("drawing-3-marked")


def level(seen: dict, name: str) -> float:
    return abs(seen["heights"][name] - seen["model"][name])


def match(window: Window, tally: Tally) -> None:
    before = window.seen()["heights"]
    press(window, MATCH)
    moved = window.wait(lambda s: s["heights"] != before and level(s, "crown") < 1e-4, 10)
    tally.note("a click on Match to Model brings crown to crown", moved)
    tally.note("and sole to sole", level(window.seen(), "sole") < 1e-4)
    off = level(window.seen(), "chin")
    # half of 0.9 is drawn as head, the model's is 0.6: the drawn chin stands 0.15 higher
    tally.note(f"the chin stays as drawn ({off:.3f})", abs(off - 0.15) < 0.02)
    tally.note("the measuring is still up to date", not window.seen()["stale"])
    away(window)
    window.picture("drawing-4-matched")
    window.ask("aside", x=0.9)
    window.ask("look_from", name="front", distance=3.4)
    window.smooth_picture("drawing-5-beside")
    window.ask("look_from", name="front")


def undo_all(window: Window, tally: Tally) -> None:
    away(window)
    window.key("ctrl+z")
    window.key("ctrl+z")
    back = window.wait(lambda s: bool(s["heights"]) and level(s, "crown") > 1e-3, 10)
    tally.note("one step of undo takes the match back", back and len(window.seen()["marks"]) == 3)
    window.key("ctrl+z")
    tally.note("one more takes back all three marks", window.wait(lambda s: not s["marks"], 10))
    tally.note("the drawing is still there", window.seen()["item"] == "keeper sheet")


def give_up(window: Window, tally: Tally) -> None:
    """Esc and the right button leave the marks as they were."""
    for way in ("Escape", "right"):
        place = spots(window)["crown"]
        press(window, MARK)
        window.wait(lambda s: bool(s["busy"]), 10)
        window.click(*place)
        tally.note("a first mark is set", window.wait(lambda s: set(s["marks"]) == {"crown"}, 10))
        if way == "right":
            window.run("xdotool", "click", "3")
        else:
            window.key(way)
        gone = window.wait(lambda s: not s["busy"] and not s["marks"] and s["next"] == "crown", 10)
        tally.note(f"{way} takes it back and ends the marking", gone)


def in_perspective(window: Window, tally: Tally) -> None:
    window.ask("look_from", name="slanted", perspective="PERSP", distance=2.4)
    places = seen_where_expected(window, tally, "slanted")
    row = press(window, MARK)[1]
    window.wait(lambda s: bool(s["busy"]), 10)
    window.click(60, 800)
    tally.note("a click beside the picture marks nothing", not window.seen()["marks"])
    window.picture("drawing-6-beside-the-picture")
    for name in ("crown", "chin", "sole"):
        window.click(*places[name])
    tally.note("clicks in perspective mark the same places", window.wait(right, 10))
    away(window)
    shown = window.pixels()
    area = window.ask("sidebar")
    place = area["x"] + area["width"] - 50, row  # the eye ends the row of Mark
    window.click(*place)
    away(window)
    changed = differing(shown, window.pixels())
    tally.note(f"the marks can be hidden ({changed} pixels)", changed > DRAWN)
    window.click(*place)
    away(window)
    window.picture("drawing-7-slanted")
