"""Presses the add-on's buttons in a real Blender with a window, on a machine without a screen.

Usage: run_window.py --chroot DIR [--chroot DIR ...] --zip FILE --out DIR [--only NAME ...] [--at-once N].
Needs root for the bind mounts. In the first tree every scenario is played, in the others those
that every Blender must pass. Prints "N passed, N failed"; exit status 0 when all passed. Each
scenario starts a Blender of its own on one of the screens; pictures and Blender's console land in
the folder given with --out, in one of its own for each further tree.
"""

import argparse
import signal
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from types import ModuleType

from machine import Tally, Window, install, mounted, take_turn
from scenarios import (
    drawing,
    findings,
    guides,
    live,
    newcomer,
    search,
    sitting,
    smoke,
    symmetry,
    windows,
)
from sidebar import NoButtonError

SCENARIOS = (smoke, guides, sitting, drawing, findings, live, windows, newcomer, search, symmetry)
"""The longest first, because several are played at once."""
EVERYWHERE = (smoke,)
TROUBLE = (
    OSError, subprocess.SubprocessError, KeyError, TypeError, ValueError, NoButtonError, StopIteration,
)
AT_ONCE = 2
OPEN: list[Window] = []
"""What is played now, to be stopped when the run is."""


@dataclass(frozen=True)
class Job:
    """A scenario to be played with the Blender of a tree."""

    root: Path
    out: Path
    scenario: ModuleType


def play(window: Window, scenario: ModuleType) -> Tally:
    """One scenario in a Blender of its own; whatever goes wrong in it counts as one failure."""
    name, began = scenario.NAME, time.monotonic()
    tally = Tally(f"{window.root.name} {name}")
    edges = "unasked" if scenario in EVERYWHERE else "plain"
    try:
        if tally.note("Blender opens with its sidebar", window.open_blender(name, edges)):
            scenario.play(window, tally)
            tally.note("Blender is still running", window.alive())
    except TROUBLE as error:
        window.take_anyway(f"{name}-trouble")
        tally.note(f"the run went to its end ({error!r})", False)
    window.close_blender()
    complaints = window.complaints(name)
    tally.note(f"nothing is wrong in Blender's console {complaints[:3] or ''}", not complaints)
    print(f"      {tally.name} took {time.monotonic() - began:.0f} s", flush=True)
    return tally


def play_job(job: Job, places: "SimpleQueue[int]") -> Tally:
    """Play it on a screen of its own, one of as many as there are places."""
    place = places.get()
    window = Window(job.root, job.out, f"place-{place}")
    OPEN.append(window)
    try:
        window.open_screen()
        return play(window, job.scenario)
    finally:
        window.stop()
        OPEN.remove(window)
        places.put(place)


def play_all(jobs: Iterable[Job], at_once: int) -> list[Tally]:
    places: SimpleQueue[int] = SimpleQueue()
    for place in range(at_once):
        places.put(place)
    with ThreadPoolExecutor(at_once) as pool:
        try:
            return list(pool.map(lambda job: play_job(job, places), jobs))
        except SystemExit:
            pool.shutdown(wait=False, cancel_futures=True)
            for window in OPEN.copy():
                window.stop()
            raise


@contextmanager
def entered(roots: list[Path]) -> Iterator[None]:
    """Have the trees for ourselves, with what programs in them need."""
    with ExitStack() as stack:
        for root in roots:
            stack.enter_context(take_turn(root))
            stack.enter_context(mounted(root))
        yield


def run(roots: list[Path], archive: Path, out: Path, only: list[str] | None, at_once: int) -> list[Tally]:
    tally, jobs = Tally("all"), []
    for number, root in enumerate(roots):
        own = out if number == 0 else out / root.name
        own.mkdir(parents=True, exist_ok=True)
        if tally.note(f"the zip installs and enables in {root.name}", install(root, archive, own)):
            chosen = SCENARIOS if number == 0 else EVERYWHERE
            jobs += [Job(root, own, one) for one in chosen if only is None or one.NAME in only]
    jobs.sort(key=lambda job: SCENARIOS.index(job.scenario))
    return [tally, *play_all(jobs, at_once)]


def told_to_stop(_number: int, _frame: object) -> None:
    """Leave by way of the clean-up."""
    raise SystemExit(1)


def main() -> int:
    signal.signal(signal.SIGTERM, told_to_stop)
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--chroot", type=Path, required=True, action="append")
    parser.add_argument("--zip", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--only", choices=[one.NAME for one in SCENARIOS], action="append")
    parser.add_argument("--at-once", type=int, default=AT_ONCE)
    options = parser.parse_args()
    roots, out = [root.resolve() for root in options.chroot], options.out.resolve()
    try:
        with entered(roots):
            tallies = run(roots, options.zip, out, options.only, options.at_once)
    except (OSError, subprocess.SubprocessError) as error:
        tallies = [Tally("all")]
        tallies[0].note(f"the run went to its end ({error!r})", False)
    failed = sum(tally.failed for tally in tallies)
    sys.stdout.write(f"{sum(tally.passed for tally in tallies)} passed, {failed} failed\n")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
