"""Findings marked on the model and stepped through by real clicks; gone without a trace."""

from machine import Tally, Window
from screen import SIZE, Box, coloured
from sidebar import ICONS, away, finding_button, open_tab, press

NAME = "findings"
SHOW = r"evenfold_findings\.show\b"
STEP = finding_button("step_finding", (0, 0))
ROW = 20
"""The arrows stand one row below the lens: left arrow at the left end, right arrow under the lens."""
COLOURS = {"worst": (255, 235, 133), "small": (84, 46, 168), "plain": (64, 224, 204), "wanted": (184, 255, 224)}
REACH = 6
"""How far a channel on the screen may be from the colour as written, of 255."""
SPECKS = 12
DRAWN = 60
NEAR = 40
"""Pixels around the view's middle in which what is stepped to must be."""


def counts(window: Window) -> dict[str, int]:
    return coloured(window.pixels(), COLOURS, REACH)


def none_drawn(found: dict[str, int]) -> bool:
    return all(count <= SPECKS for count in found.values())


def in_the_middle(window: Window) -> dict[str, int]:
    x, y = window.ask("middle")
    near = Box(x - NEAR, SIZE[1] - y - NEAR, 2 * NEAR, 2 * NEAR)
    return coloured(window.steady(near), {**COLOURS, "ring": (255, 255, 255)}, REACH)


def play(window: Window, tally: Tally) -> None:
    open_tab(window)
    window.ask("use_theme", name="dark")
    window.ask("look_from", name="front")
    press(window, r"evenfold\.check_symmetry\b")
    tally.note("the keeper is checked", window.wait(lambda s: s["checked"], 20))
    found = window.seen()["codes"]
    tally.note(f"faults of several kinds are found ({found})", sum(map(len, found)) >= 4)
    away(window)
    empty = counts(window)
    tally.note(f"nothing is marked before it is asked for ({empty})", none_drawn(empty))
    window.picture("findings-1-checked")
    press(window, SHOW)
    tally.note("a click on Show on Model turns it on", window.wait(lambda s: s["show"], 10))
    away(window)
    drawn = counts(window)
    tally.note(f"marks of each kind are drawn ({drawn})", all(n >= DRAWN for n in drawn.values()))
    window.picture("findings-2-front-dark")
    from_behind(window, tally, drawn)
    step_through(window, tally)
    select(window, tally)
    take_pictures(window)
    leave_nothing(window, tally)


def from_behind(window: Window, tally: Tally, before: dict[str, int]) -> None:
    """What the model covers is faint."""
    window.ask("look_from", name="back")
    behind = counts(window)
    window.picture("findings-3-back")
    tally.note(
        f"seen from behind the worst marks are faint ({behind['worst']} of {before['worst']})",
        behind["worst"] < before["worst"] - DRAWN,
    )
    window.ask("look_from", name="front")


def step_through(window: Window, tally: Tally) -> None:
    start = window.seen()["view"]
    lens = press(window, STEP, ICONS)
    row, area = lens[1] + ROW, window.ask("sidebar")
    window.wait(lambda s: s["at"] is not None and s["view"] != start, 10)
    away(window)
    seen, wanted = window.seen(), window.ask("where")
    close = all(abs(a - b) < 1e-4 for a, b in zip(seen["view"][:3], wanted, strict=True))
    tally.note(f"a click on the lens goes to the worst one ({seen['view']}, wanted {wanted})", close and seen["step"] == 0)
    middle = in_the_middle(window)
    tally.note(f"it is ringed in the middle of the view ({middle})", middle["worst"] >= 15 and middle["ring"] >= 30)
    window.smooth_picture("findings-4-first-step")
    for number in (1, 2):
        before = window.seen()["view"]
        window.click(lens[0], row)
        moved = window.wait(
            lambda s, before=before, number=number: s["step"] == number and s["view"] != before, 10
        )
        tally.note(f"a click on the right arrow goes to number {number + 1}, the view with it", moved)
    third = window.seen()["view"]
    window.click(area["x"] + 25, row)
    back = window.wait(lambda s: s["step"] == 1 and s["view"] != third, 10)
    tally.note("a click on the left arrow goes back", back)
    away(window)
    seen = window.seen()
    tally.note("nothing is selected and nothing is out of date by it", not seen["selected"] and not seen["stale"])
    tally.note("the artist stays in object mode", seen["mode"] == "OBJECT")
    all_kinds = counts(window)
    window.ask("mark", kinds="ONE")
    one = counts(window)
    tally.note(f"of one finding alone less is marked ({one}, before {all_kinds})", one["plain"] < all_kinds["plain"])
    window.picture("findings-5-this-one")
    window.ask("mark", kinds="ALL")


def select(window: Window, tally: Tally) -> None:
    press(window, r"evenfold\.select_step\b", (0.2,))
    one = window.wait(lambda s: len(s["selected"]) == 1, 12)
    tally.note("a click on Select This selects one vertex", one and not window.seen()["stale"])
    window.picture("findings-6-selected")
    away(window)
    window.key("ctrl+z")
    tally.note("undo goes back to object mode", window.wait(lambda s: s["mode"] == "OBJECT", 10))


def take_pictures(window: Window) -> None:
    for theme in ("light", "dark"):
        window.ask("use_theme", name=theme)
        window.ask("look_from", name="front", distance=1.8)
        window.picture(f"findings-7-front-{theme}")
        window.ask("look_from", name="slanted", distance=2.2, perspective="PERSP")
        window.picture(f"findings-8-slanted-{theme}")
    window.ask("look_from", name="front")


def leave_nothing(window: Window, tally: Tally) -> None:
    press(window, SHOW)
    away(window)
    tally.note("a second click hides the marks", window.wait(lambda s: not s["show"], 10))
    left = counts(window)
    tally.note(f"nothing is drawn then ({left})", none_drawn(left))
    press(window, SHOW)
    away(window)
    again = counts(window)
    tally.note(f"a third one brings them back ({again})", again["worst"] >= DRAWN)
    window.ask("switch", on=False)
    tally.note("disabling removes handlers and buffers", window.ask("handles") == [[], 0])
    left = counts(window)
    tally.note(f"nothing is drawn after disabling ({left})", none_drawn(left))
