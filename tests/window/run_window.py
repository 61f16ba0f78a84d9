"""Presses the add-on's buttons in a real Blender with a window, on a machine without a screen.

Usage: run_window.py --chroot DIR --zip FILE --out DIR [--only NAME]. Needs root for the bind
mounts. Prints "N passed, N failed"; exit status 0 when all passed. Each scenario starts a
Blender of its own; pictures and Blender's console land in the folder given with --out.
"""

import argparse
import signal
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import TextIO

from machine import Tally, Window, install, mount, take_turn
from scenarios import drawing, findings, guides, sitting, symmetry
from sidebar import NoButtonError

SCENARIOS = (symmetry, findings, guides, drawing, sitting)
TROUBLE = (OSError, subprocess.SubprocessError, KeyError, NoButtonError, StopIteration)


def play(window: Window, tally: Tally, scenario: ModuleType) -> None:
    """One scenario in a Blender of its own; whatever goes wrong in it counts as one failure."""
    name = scenario.NAME
    try:
        if tally.note(f"{name}: Blender opens with its sidebar", window.open_blender(name)):
            scenario.play(window, tally)
            tally.note(f"{name}: Blender is still running", window.alive())
    except TROUBLE as error:
        window.picture(f"{name}-trouble")
        tally.note(f"{name}: the run went to its end ({error!r})", False)
    window.close_blender()
    complaints = window.complaints(name)
    tally.note(f"{name}: nothing is wrong in Blender's console {complaints[:3] or ''}", not complaints)


def told_to_stop(_number: int, _frame: object) -> None:
    """Leave by way of the clean-up."""
    raise SystemExit(1)


def main() -> int:
    signal.signal(signal.SIGTERM, told_to_stop)
    parser = argparse.ArgumentParser(description=__doc__)
    for name in ("chroot", "zip", "out"):
        parser.add_argument(f"--{name}", type=Path, required=True)
    parser.add_argument("--only", choices=[one.NAME for one in SCENARIOS])
    options = parser.parse_args()
    options.out.mkdir(parents=True, exist_ok=True)
    window, tally = Window(options.chroot.resolve(), options.out.resolve()), Tally()
    mounted: list[Path] = []
    lock: TextIO | None = None
    try:
        lock = take_turn(window.root)
        mounted = mount(window.root)
        if tally.note("the zip installs and enables", install(window, options.zip)):
            window.open_screen()
            for scenario in SCENARIOS:
                if options.only in (None, scenario.NAME):
                    play(window, tally, scenario)
    except (OSError, subprocess.SubprocessError) as error:
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
