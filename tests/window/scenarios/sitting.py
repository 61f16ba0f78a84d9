"""A whole sitting: measure, check, step, excuse, repair, undo, keep, save, open again, hand off, disable."""

from typing import Any

from machine import Tally, Window
from sidebar import ICONS, away, finding_button, open_tab, press

NAME = "sitting"
HEADS = 1.5
REASON = "Badge of the lamp watch"


def play(window: Window, tally: Tally) -> None:
    open_tab(window)
    window.ask("use_theme", name="dark")
    measure(window, tally)
    check(window, tally)
    excuse(window, tally)
    repair(window, tally)
    repair_safe(window, tally)
    keep_and_save(window, tally)
    hand_off(window, tally)
    leave_nothing(window, tally)


def place_of(seen: dict[str, Any], code: str) -> tuple[int, int]:
    return next((f[0], f[1]) for f in seen["findings"] if f[3] == code)


def listed(seen: dict[str, Any], code: str) -> set[int]:
    return {item for f in seen["findings"] if f[3] == code for item in f[5]}


def panels(window: Window, *names: str) -> None:
    """Show these of the panels that are closed at first."""
    window.ask("only", names=list(names))
    window.settle()


def scroll_down(window: Window) -> None:
    """Bring the sidebar's last panels into sight, and leave it."""
    area = window.ask("sidebar")
    window.wheel(area["x"] + area["width"] / 2, 700, 60)
    away(window)


def measure(window: Window, tally: Tally) -> None:
    window.ask("want", heads=HEADS)
    press(window, r"evenfold\.measure\b")
    hit = window.wait(lambda s: s["measured"] and s["within"], 20)
    tally.note(f"the keeper is on the target of {HEADS}", hit)
    window.picture("sitting-1-on-target")
    window.ask("want", heads=2.0)
    tally.note("another target is missed and planned for", window.wait(lambda s: s["within"] is False and s["planned"], 10))
    panels(window, "plan_missed")
    window.picture("sitting-2-plan")
    panels(window, "compare")
    window.ask("compare_with", name="stylised-3")
    window.picture("sitting-3-compare")
    panels(window, "landmarks")
    press(window, r"evenfold\.open_landmark\(name=.chin", (0.09, 0.06))
    tally.note("a click opens the chin's evidence", window.wait(lambda s: s["opened"] == "chin", 10))
    window.picture("sitting-4-evidence")
    panels(window)


def check(window: Window, tally: Tally) -> None:
    press(window, r"evenfold\.check_symmetry\b")
    tally.note("the keeper is checked", window.wait(lambda s: s["checked"], 20))
    seen = window.seen()
    codes = {f[3] for f in seen["findings"]}
    wanted = {"drifted", "unpaired", "weight-drifted", "key-pair-drifted", "roll-drifted"}
    tally.note(f"each planted fault is found ({sorted(codes)})", wanted <= codes)
    tally.note("and no other", codes <= wanted | {"near-miss"})
    tally.note("the badge is what has no partner", listed(seen, "unpaired") == set(seen["badge"]))
    window.picture("sitting-5-checked")
    worst = place_of(seen, "drifted")
    press(window, finding_button("step_finding", worst), ICONS[:1])
    tally.note("a click on the lens steps to the worst", window.wait(lambda s: s["at"] == [*worst], 10))
    away(window)
    window.picture("sitting-6-worst")
    window.ask("look_from", name="front")


def answer_dialog(window: Window, text: str = "", picture: str = "") -> None:
    """Type into the field a dialog opens with, if any, look at it and press Return until it is done."""
    window.settle()
    if text:
        window.type(text)
        window.key("Return")
    if picture:
        window.picture(picture)
    window.key("Return")


def excuse(window: Window, tally: Tally) -> None:
    """The badge is meant."""
    before = window.seen()
    press(window, finding_button("allow_finding", place_of(before, "unpaired")), ICONS[1:2])
    answer_dialog(window, REASON, "sitting-7-reason")
    kept = window.wait(lambda s: s["reasons"] == [REASON], 10)
    tally.note("the badge is excused with the reason typed", kept)
    gone = window.wait(lambda s: not listed(s, "unpaired"), 10)
    tally.note("the badge is listed no more", gone and not window.seen()["stale"])
    others = [f[2:] for f in before["findings"] if f[3] != "unpaired"]
    tally.note("all else is still listed", [f[2:] for f in window.seen()["findings"]] == others)
    panels(window, "allowed")
    scroll_down(window)
    window.picture("sitting-8-meant-to-differ")
    panels(window)


def repair(window: Window, tally: Tally) -> None:
    """One finding's repair, undone to the last bit and done again."""
    before = window.ask("prints")
    press(window, finding_button("repair_finding", place_of(window.seen(), "drifted")), ICONS[2:3])
    answer_dialog(window, picture="sitting-9-repair")
    mended = window.wait(lambda s: not listed(s, "drifted"), 20)
    after = window.ask("prints")
    tally.note("the repair mends the moved vertices", mended and not window.seen()["stale"])
    same = before["bones"] == after["bones"] and before["weights"] == after["weights"]
    tally.note("it writes places and nothing else", same and before["places"] != after["places"])
    away(window)
    window.picture("sitting-10-repaired")
    window.key("ctrl+z")
    window.wait(lambda s: s["stale"], 5)
    tally.note("one step of undo brings them back to the last bit", window.ask("prints") == before)
    away(window)
    window.picture("sitting-11-undone")
    window.key("ctrl+shift+z")
    window.wait(lambda s: not s["stale"], 5)
    tally.note("redo mends them again to the last bit", window.ask("prints") == after)


def repair_safe(window: Window, tally: Tally) -> None:
    panels(window, "repair")
    scroll_down(window)
    window.picture("sitting-12-repairs")
    press(window, r"evenfold\.repair_all\(code=(\"\"|'')\)")
    answer_dialog(window, picture="sitting-13-repair-safe")
    mended = window.wait(lambda s: not listed(s, "weight-drifted"), 20)
    tally.note("Repair What Is Safe mends the weights", mended)
    left = {f[3] for f in window.seen()["findings"]} - {"near-miss"}
    tally.note(f"and leaves what needs judgement ({sorted(left)})", left == {"key-pair-drifted", "roll-drifted"})
    tally.note("the excuse is still there", window.seen()["reasons"] == [REASON])
    away(window)
    window.picture("sitting-14-safe-repaired")
    panels(window)


def keep_and_save(window: Window, tally: Tally) -> None:
    panels(window, "baseline")
    press(window, r"evenfold\.save_baseline\b")
    tally.note("a click on Save Baseline keeps one", window.wait(lambda s: bool(s["kept"]), 10))
    window.picture("sitting-15-baseline")
    panels(window)
    kept = window.ask("prints")
    away(window)
    window.key("ctrl+s")
    tally.note("Ctrl+S saves", window.wait(lambda s: s["saved"], 10))
    window.ask("reopen")
    tally.note("opened again nothing is checked yet", window.wait(lambda s: not s["checked"], 20))
    seen = window.seen()
    tally.note("the excuse and its reason are in the file", seen["reasons"] == [REASON])
    tally.note("so is the baseline", bool(seen["kept"]))
    tally.note("so is every repair, to the last bit", window.ask("prints") == kept)
    press(window, r"evenfold\.check_symmetry\b")
    window.wait(lambda s: s["checked"], 20)
    seen = window.seen()
    tally.note("checked again the badge is still excused", seen["excused"] == len(seen["badge"]) and not listed(seen, "unpaired"))
    away(window)
    window.picture("sitting-16-opened-again")


def hand_off(window: Window, tally: Tally) -> None:
    panels(window, "ready")
    told = window.seen()["ready"]
    tally.note(f"the hand-off is judged ({told})", bool(told))
    scroll_down(window)
    window.picture("sitting-17-before-hand-off")
    panels(window, "ready", "budget")
    limit = window.seen()["triangles"] - 1
    press(window, r"evenfold_budget\.triangles", (0.83,))
    window.type(str(limit))
    window.key("Return")
    tally.note("a limit is typed into the panel", window.wait(lambda s: s["limit"] == limit, 10))
    told = [text for _, text in window.seen()["ready"] if "1 too many" in text]
    tally.note(f"what is too many is told at once ({told})", len(told) == 1 and not window.seen()["stale"])
    away(window)
    window.picture("sitting-18-budget")
    panels(window)


def leave_nothing(window: Window, tally: Tally) -> None:
    """What is with Blender while the add-on is on goes with it."""
    ours = window.ask("left_over")
    kinds = ("EVENFOLD_PT_", "evenfold.measure", "evenfold_guides", "_after_undo", ".ui.menus")
    tally.note("the add-on is there before", all(any(kind in name for name in ours) for kind in kinds))
    window.ask("switch", on=False)
    left = window.ask("left_over")
    tally.note(f"disabled it leaves nothing ({left[:5]})", not left)
    window.settle()
    window.picture("sitting-19-disabled")
