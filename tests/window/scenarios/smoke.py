"""The shortest way through the panel: measure, check, select a kind, mend it and undo that.

It starts and ends with the view's edges smoothed as Blender does it unasked; what edit mode does
to pins and selections is looked at with plain edges, because smoothing draws many times over.
"""

from machine import Tally, Window
from sidebar import ICONS, away, finding_button, open_tab, point_at, press

NAME = "smoke"
HEADS = 1.5
"""As the demo builds the keeper: 0.9 / 0.6."""
TALL, PINNED = 0.9, 0.35
"""Metres."""
WORST = (0, 0)
ROW = 21
"""The menu of kinds, which Blender cannot name, stands so many pixels below Select All Differences."""


def play(window: Window, tally: Tally) -> None:
    tally.note("a click on our tab opens it", open_tab(window))
    press(window, r"evenfold\.measure\b")
    tally.note("a click on Measure measures", window.wait(lambda s: s["measured"], 20))
    heads = window.seen()["heads"] or 0.0
    tally.note(f"the count is that of the figure as built ({heads:.3f})", abs(heads - HEADS) < 0.02)
    pin(window, tally)
    window.draw_edges("plain")
    pin_in_edit_mode(window, tally)
    press(window, r"evenfold\.check_symmetry\b")
    tally.note("a click on Check Symmetry checks", window.wait(lambda s: s["checked"], 20))
    away(window)
    window.picture("smoke-1-checked")
    moved = [f for f in window.seen()["findings"] if f[1] == "drifted"]
    found = {n for f in moved for n in (*f[3], *f[4])}
    tally.note("of places the planted pair differs and nothing else", window.seen()["planted"] in found and len(found) == 2)
    select(window, tally)
    window.draw_edges("unasked")
    mend(window, tally)


def pin(window: Window, tally: Tally) -> None:
    """A chin pinned higher makes the head smaller; undone it is found again."""
    window.ask("put_cursor", height=PINNED)
    press(window, r"evenfold\.pin_cursor\b", (0.75,))
    tally.note("a click on Cursor pins the chin", window.wait(lambda s: s["pins"] == ["chin"], 10))
    press(window, r"evenfold\.measure\b")
    away(window)
    wanted = TALL / (TALL - PINNED)
    taken = window.wait(lambda s: bool(s["heads"]) and abs(s["heads"] - wanted) < 0.03, 20)
    tally.note(f"the count goes by the pin ({window.seen()['heads']}, wanted {wanted:.3f})", taken)
    window.picture("smoke-0-pinned")
    window.key("ctrl+z")
    tally.note("undo takes the pin away", window.wait(lambda s: not s["pins"], 10))


def pin_in_edit_mode(window: Window, tally: Tally) -> None:
    """What an edit session's own undo does not hold is taken back by one step all the same."""
    window.ask("put_mode", mode="EDIT")
    press(window, r"evenfold\.pin_cursor\b", (0.75,))
    tally.note("a click on Cursor pins the chin in edit mode", window.wait(lambda s: s["pins"] == ["chin"], 10))
    away(window)
    window.settle(redraw=True)
    tally.note("the edit session goes on", window.seen()["mode"].startswith("EDIT"))
    window.key("ctrl+z")
    tally.note("one step of undo takes it away", window.wait(lambda s: not s["pins"], 10))
    tally.note("the edit session still goes on", window.seen()["mode"].startswith("EDIT"))
    window.key("ctrl+shift+z")
    tally.note("redo brings it back", window.wait(lambda s: s["pins"] == ["chin"], 10))
    window.key("ctrl+z")
    tally.note("undo takes it away again", window.wait(lambda s: not s["pins"], 10))
    window.ask("put_mode", mode="OBJECT")


def select(window: Window, tally: Tally) -> None:
    name, _, _, items, _ = next(f for f in window.seen()["findings"] if f[1] == "drifted")
    press(window, finding_button("select_finding", WORST), ICONS)
    chosen = window.wait(lambda s: sorted(s["selected"].get(name, [])) == sorted(items), 12)
    tally.note("a click on the finding's arrow selects what was found", chosen)
    away(window)
    window.picture("smoke-2-selected")
    window.key("ctrl+z")
    tally.note("undo goes back to object mode", window.wait(lambda s: s["mode"] == "OBJECT", 10))
    x, y = point_at(window, r"evenfold\.select_asymmetric\b")
    window.click(x, y + ROW)
    window.take_anyway("smoke-2-kinds")
    window.key("Down")
    window.key("Return")
    kind = window.wait(lambda s: sorted(s["selected"].get(name, [])) == sorted(items), 12)
    tally.note("the menu of kinds selects all of the first kind", kind)
    away(window)
    window.key("ctrl+z")
    tally.note("undo goes back to object mode again", window.wait(lambda s: s["mode"] == "OBJECT", 10))


def mend(window: Window, tally: Tally) -> None:
    before = window.ask("print_of_places")
    press(window, finding_button("repair_finding", WORST), ICONS)
    window.picture("smoke-3-question")
    window.key("Return")
    mended = window.wait(lambda s: not any(f[1] == "drifted" for f in s["findings"]), 20)
    tally.note("the repair mends the pair", mended and not window.seen()["stale"])
    tally.note("it has moved something", window.ask("print_of_places") != before)
    away(window)
    window.key("ctrl+z")
    window.wait(lambda s: s["stale"], 5)
    tally.note("one step of undo brings all back to the last bit", window.ask("print_of_places") == before)
    window.picture("smoke-4-undone")
