"""Presses the add-on's buttons in a real Blender with a window, on a machine without a screen.

Usage: run_window.py --chroot DIR --zip FILE --out DIR. Needs root for the bind mounts.
Prints "N passed, N failed"; exit status 0 when all passed.
"""

import argparse
import fcntl
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import TextIO

HERE = Path(__file__).resolve().parent
INSIDE = "/opt/evenfold-window"
DISPLAY = ":77"
SIZE = (1600, 900)
STEP_SECONDS = 40.0


class Window:
    """The machine in the chroot: its screen, its Blender, its mouse and keyboard."""

    def __init__(self, root: Path, out: Path) -> None:
        self.root, self.out = root, out
        self.shared = root / INSIDE.lstrip("/")
        self.started: list[subprocess.Popen[bytes]] = []

    def run(self, *words: str, seconds: float = 60.0) -> subprocess.CompletedProcess[str]:
        command = ["chroot", str(self.root), "env", f"DISPLAY={DISPLAY}", "HOME=/root", *words]
        return subprocess.run(
            command, capture_output=True, text=True, timeout=seconds, check=False
        )

    def start(self, *words: str, log: str) -> None:
        command = [
            "chroot", str(self.root), "env", f"DISPLAY={DISPLAY}", "HOME=/root",
            "LIBGL_ALWAYS_SOFTWARE=1", *words,
        ]
        with (self.out / log).open("wb") as file:
            self.started.append(
                subprocess.Popen(command, stdout=file, stderr=file, start_new_session=True)
            )

    def stop(self) -> None:
        for process in reversed(self.started):
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGTERM)
                try:
                    process.wait(10)
                except subprocess.TimeoutExpired:
                    os.killpg(process.pid, signal.SIGKILL)

    def click(self, x: float, y: float) -> None:
        self.run("xdotool", "mousemove", str(int(x) - 3), str(int(y)))
        time.sleep(0.3)
        self.run("xdotool", "mousemove", str(int(x)), str(int(y)))
        time.sleep(0.4)
        self.run("xdotool", "mousedown", "1")
        time.sleep(0.15)
        self.run("xdotool", "mouseup", "1")
        time.sleep(0.8)

    def key(self, name: str) -> None:
        self.run("xdotool", "key", name)
        time.sleep(0.8)

    def picture(self, name: str) -> None:
        time.sleep(0.7)
        self.run("import", "-window", "root", f"{INSIDE}/{name}.png")
        shutil.copy(self.shared / f"{name}.png", self.out / f"{name}.png")

    def seen(self) -> dict:
        path = self.shared / "seen.json"
        return json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}

    def wait(self, test, seconds: float = STEP_SECONDS) -> bool:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            seen = self.seen()
            if seen and test(seen):
                return True
            time.sleep(0.3)
        return False


class Tally:
    def __init__(self) -> None:
        self.passed = self.failed = 0

    def note(self, what: str, good: bool) -> bool:
        self.passed += good
        self.failed += not good
        sys.stdout.write(f"{'pass' if good else 'FAIL'}  {what}\n")
        sys.stdout.flush()
        return good


def take_turn(root: Path, seconds: float = 300.0) -> TextIO:
    """Wait until no other run uses this chroot; the lock lasts until the file is closed."""
    lock = (root / "tmp" / "evenfold-window.lock").open("w")
    end = time.monotonic() + seconds
    while True:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return lock
        except BlockingIOError:
            if time.monotonic() > end:
                raise
            time.sleep(1.0)


def mount(root: Path) -> list[Path]:
    """Bind /proc and /dev unless they are there already; returns what was mounted now."""
    made = []
    for name in ("proc", "dev"):
        target = root / name
        if not os.path.ismount(target):
            subprocess.run(["mount", "--bind", f"/{name}", str(target)], check=True, timeout=20)
            made.append(target)
    return made


def install(window: Window, archive: Path) -> bool:
    shutil.rmtree(window.shared, ignore_errors=True)
    window.shared.mkdir(parents=True)
    shutil.copy(archive, window.shared / "evenfold.zip")
    shutil.copy(HERE / "scenario.py", window.shared / "scenario.py")
    done = window.run(
        "blender", "--command", "extension", "install-file", "-r", "user_default", "--enable",
        f"{INSIDE}/evenfold.zip", seconds=120,
    )
    (window.out / "install.log").write_text(done.stdout + done.stderr, encoding="utf-8")
    return done.returncode == 0


def open_blender(window: Window) -> bool:
    window.start(
        "Xvfb", DISPLAY, "-screen", "0", f"{SIZE[0]}x{SIZE[1]}x24", "+extension", "GLX", "+render",
        "-noreset", log="screen.log",
    )
    time.sleep(2.0)
    window.start(
        "blender", "--window-geometry", "0", "0", str(SIZE[0]), str(SIZE[1]),
        "--python", f"{INSIDE}/scenario.py", "--", INSIDE, log="blender.log",
    )
    return window.wait(lambda seen: seen.get("area", {}).get("width", 0) > 1, 90)


def press_buttons(window: Window, tally: Tally) -> None:
    time.sleep(3.0)
    window.picture("1-sidebar-before")
    open_tab(window)
    window.picture("2-our-tab")
    left = middle_of_sidebar(window)
    window.click(left, BUTTONS["measure"])
    tally.note("a click on Measure measures", window.wait(lambda s: s["measured"], 20))
    heads = window.seen()["heads"] or 0.0
    tally.note(f"the count is that of the two balls ({heads:.3f})", abs(heads - 1.95 / 0.9) < 0.1)
    window.picture("3-measured")
    window.click(left, BUTTONS["check"])
    tally.note("a click on Check Symmetry checks", window.wait(lambda s: s["checked"], 20))
    window.picture("4-checked")
    seen = window.seen()
    listed = {
        name: sorted(elements) for name, code, elements, _ in seen["findings"] if code != "near-miss"
    }
    both = {n for _, _, a, b in seen["findings"] for n in (*a, *b)}
    tally.note("the planted vertex is among what was found", seen["planted"] in both)
    tally.note("nothing but the planted pair was found", 0 < len(both - {-1}) <= 2)
    select_and_undo(window, tally, listed)


def select_and_undo(window: Window, tally: Tally, listed: dict[str, list[int]]) -> None:
    """Select all, then by the finding's own button, each time with undo after it."""
    window.click(middle_of_sidebar(window), BUTTONS["heads panel"])
    wanted = {name: items for name, items in listed.items() if items}
    ways = (
        ("Select All Asymmetric", middle_of_sidebar(window), BUTTONS["select"]),
        ("the finding's own button", right_of_sidebar(window) - 55, BUTTONS["finding"]),
    )
    for number, (way, x, y) in enumerate(ways, 5):
        window.click(x, y)
        chosen = bool(wanted) and window.wait(
            lambda s: {n: sorted(v) for n, v in s["selected"].items() if v} == wanted, 12
        )
        tally.note(f"a click on {way} selects exactly what was found", chosen)
        still = chosen and not window.seen()["stale"]
        tally.note(f"after {way} the result is still up to date", still)
        window.picture(f"{number}-selected")
        window.run("xdotool", "mousemove", "600", "450")
        time.sleep(0.4)
        window.key("ctrl+z")
        undone = window.wait(lambda s: s["mode"] == "OBJECT", 10)
        tally.note(f"undo after {way} goes back to object mode", chosen and undone)
        window.picture(f"{number}-undone")
        fresh = window.seen()["checked"] and not window.seen()["stale"]
        tally.note("the result is still up to date after undo", fresh)
    tally.note("Blender is still running", window.started[-1].poll() is None)


BUTTONS = {"measure": 277, "check": 303, "heads panel": 342, "select": 452, "finding": 607}
"""Heights of the buttons in a 1600 x 900 window, from the top."""


def middle_of_sidebar(window: Window) -> float:
    area = window.seen()["area"]
    return area["x"] + area["width"] / 2 - 10


def right_of_sidebar(window: Window) -> float:
    area = window.seen()["area"]
    return area["x"] + area["width"]


def open_tab(window: Window) -> None:
    """Click our tab at the right edge of the sidebar."""
    window.click(right_of_sidebar(window) - 10, TAB_HEIGHT)


TAB_HEIGHT = 330


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    for name in ("chroot", "zip", "out"):
        parser.add_argument(f"--{name}", type=Path, required=True)
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    window, tally = Window(options.chroot.resolve(), options.out.resolve()), Tally()
    mounted: list[Path] = []
    lock: TextIO | None = None
    try:
        lock = take_turn(window.root)
        mounted = mount(window.root)
        if tally.note("the zip installs and enables", install(window, options.zip)) and tally.note(
            "Blender opens with its sidebar", open_blender(window)
        ):
            press_buttons(window, tally)
    except (OSError, subprocess.SubprocessError, KeyError) as error:
        tally.note(f"the run went to its end ({error!r})", False)
    finally:
        window.stop()
        for target in reversed(mounted):
            subprocess.run(["umount", "-l", str(target)], check=False, timeout=20)
        if lock is not None:
            lock.close()
    sys.stdout.write(f"{tally.passed} passed, {tally.failed} failed\n")
    return 1 if tally.failed else 0


if __name__ == "__main__":
    sys.exit(main())
