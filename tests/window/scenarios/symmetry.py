"""Measure, check, select and undo by real clicks."""

from machine import Tally, Window
from sidebar import ICONS, MIDDLE, away, finding_button, open_tab, press

NAME = "symmetry"
NOTES = ("near-miss",)
HEADS = 1.5
"""As the demo builds the keeper: 0.9 / 0.6."""


def play(window: Window, tally: Tally) -> None:
    window.picture("symmetry-1-sidebar-before")
    tally.note("a click on our tab opens it", open_tab(window))
    window.picture("symmetry-2-our-tab")
    press(window, r"evenfold\.measure\b")
    tally.note("a click on Measure measures", window.wait(lambda s: s["measured"], 20))
    heads = window.seen()["heads"] or 0.0
    tally.note(f"the count is that of the figure as built ({heads:.3f})", abs(heads - HEADS) < 0.02)
    window.picture("symmetry-3-measured")
    press(window, r"evenfold\.check_symmetry\b")
    tally.note("a click on Check Symmetry checks", window.wait(lambda s: s["checked"], 20))
    window.picture("symmetry-4-checked")
    seen = window.seen()
    both = {n for _, _, kind, a, b in seen["findings"] if kind == "vertex" for n in (*a, *b)}
    tally.note("the planted vertex is among what was found", seen["planted"] in both)
    tally.note("nothing but the planted pair was found", 0 < len(both - {-1}) <= 2)
    select_and_undo(window, tally)


def select_and_undo(window: Window, tally: Tally) -> None:
    """Select all, then by the finding's own button, each time with undo after it."""
    findings = window.seen()["findings"]
    everything = {
        name: sorted({n for own, code, _, items, _ in findings if own == name and code not in NOTES for n in items})
        for name in {entry[0] for entry in findings}
    }
    name, _, _, items, _ = next(entry for entry in findings if entry[1] not in NOTES)
    ways = (
        ("Select All Asymmetric", r"evenfold\.select_asymmetric\b", MIDDLE, everything),
        ("the finding's own button", finding_button("select_finding", (0, 0)), ICONS, {name: sorted(items)}),
    )
    for number, (way, pattern, columns, wanted) in enumerate(ways, 5):
        press(window, pattern, columns)
        chosen = bool(wanted) and window.wait(
            lambda s, wanted=wanted: {n: sorted(v) for n, v in s["selected"].items() if v} == wanted, 12
        )
        tally.note(f"a click on {way} selects exactly what was found", chosen)
        tally.note(f"after {way} the result is still up to date", chosen and not window.seen()["stale"])
        window.picture(f"symmetry-{number}-selected")
        away(window)
        window.key("ctrl+z")
        undone = window.wait(lambda s: s["mode"] == "OBJECT", 10)
        tally.note(f"undo after {way} goes back to object mode", chosen and undone)
        window.picture(f"symmetry-{number}-undone")
        fresh = window.seen()["checked"] and not window.seen()["stale"]
        tally.note("the result is still up to date after undo", fresh)
