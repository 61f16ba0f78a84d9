"""Run every check of the project; a part that cannot run counts as failed, never as skipped."""

import os
import re
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import build_zip
from setup_env import PYTHONS, MissingPythonError, ensure_env
from window_host import NoWindowError, ensure_windows

ROOT = Path(__file__).resolve().parent.parent
PYTEST = ["-m", "pytest", "-q", "-p", "no:cacheprovider"]
AT_ONCE = 2
LONGEST = 1800.0
"""Seconds after which a step is stopped; a host that hangs at its end must not hold up the rest."""
COUNT = re.compile(r"(\d+) (passed|failed|errors?|skipped|xfailed|xpassed)\b")


@dataclass(frozen=True)
class Outcome:
    """One step's numbers; ``failed`` includes skipped tests."""

    title: str
    passed: int
    failed: int


def start(title: str, command: list[str]) -> tuple[int, str]:
    """Run a command from the project's folder; its output is shown when it has ended."""
    print(f"== started: {title}", flush=True)
    began = time.monotonic()
    try:
        done = subprocess.run(
            command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            errors="replace", timeout=LONGEST, check=False, env=surroundings(),
        )
        status, text = done.returncode, done.stdout
    except subprocess.TimeoutExpired as error:
        status, text = 1, f"{_text(error.stdout)}\nStopped after {LONGEST / 60:.0f} minutes.\n"
    took = time.monotonic() - began
    print(f"\n== {title}\n{text}== took {took:.0f} s: {title}", flush=True)
    return status, text


def surroundings() -> dict[str, str]:
    """Compiled modules are kept in the folder for output: many tests start Pythons of their own.

    One thread each for numpy's products: steps run two at a time already.
    """
    known = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return {"OPENBLAS_NUM_THREADS": "1", **known, "PYTHONPYCACHEPREFIX": str(ROOT / "out" / "pycache")}


def _text(output: str | bytes | None) -> str:
    return output.decode(errors="replace") if isinstance(output, bytes) else output or ""


def counted(title: str, command: list[str]) -> Outcome:
    """A command that ends with counts of tests. No test at all is a failure."""
    status, text = start(title, command)
    summary = [line for line in text.splitlines() if COUNT.search(line)]
    numbers = {word.rstrip("s"): int(n) for n, word in COUNT.findall(summary[-1] if summary else "")}
    passed = numbers.pop("passed", 0)
    failed = sum(numbers.values())
    if failed == 0 and (status != 0 or passed == 0):
        failed = 1
        print(f"{title}: status {status} with {passed} tests passed counts as a failure.")
    return Outcome(title, passed, failed)


def plain(title: str, command: list[str]) -> Outcome:
    """A command that only passes or fails."""
    passed = start(title, command)[0] == 0
    return Outcome(title, int(passed), int(not passed))


def window(archive: Path | None, python: str) -> list[Outcome]:
    """The panel in real Blender windows, and the report's page in a browser."""
    titles = ("tests/window", "tests/page")
    if archive is None:
        print("\n== tests/window\nThere is no zip to install.")
        return [Outcome(title, 0, 1) for title in titles]
    try:
        trees = ensure_windows()
    except NoWindowError as error:
        print(f"\n== tests/window\n{error}")
        return [Outcome(title, 0, 1) for title in titles]
    out = ROOT / "out" / "window"
    out.mkdir(parents=True, exist_ok=True)
    script = str(ROOT / "tests" / "window" / "run_window.py")
    roots = [text for tree in trees.values() for text in ("--chroot", str(tree))]
    return [
        counted(
            titles[0], [sys.executable, script, *roots, "--zip", str(archive), "--out", str(out)]
        ),
        counted(titles[1], [python, *PYTEST, "tests/page"]),
    ]


def zipped(python: str) -> Outcome:
    """Build the zip and try it; window tests use the same one."""
    try:
        build_zip.build(ROOT / "dist")
    except subprocess.CalledProcessError as error:
        print(error)
        return Outcome("tests/zip", 0, 1)
    return counted("tests/zip", [python, *PYTEST, "tests/zip"])


def all_steps(pythons: dict[str, str]) -> list[Outcome]:
    """Every step, two at a time, the longest first; windows, which need a quiet machine, alone at the end."""
    newest = pythons["5.2"]
    steps: list[Callable[[], Outcome]] = [
        *(
            partial(counted, f"tests/host in {host}", [python, *PYTEST, "tests/host"])
            for host, python in pythons.items()
        ),
        partial(counted, "tests/core", [newest, *PYTEST, "tests/core"]),
        partial(counted, "tests/batch", [newest, *PYTEST, "tests/batch"]),
        *(
            partial(plain, f"mypy, stubs of {host}", [
                newest, "-m", "mypy", "--python-executable", pythons[host],
                "--python-version", PYTHONS[host], "--cache-dir", f"out/mypy-{host}",
            ])
            for host in ("5.2", "4.2")
        ),
        partial(plain, "ruff", [newest, "-m", "ruff", "check", "."]),
        partial(zipped, newest),
    ]
    with ThreadPoolExecutor(AT_ONCE) as pool:
        results = [one.result() for one in [pool.submit(step) for step in steps]]
    archives = sorted((ROOT / "dist").glob("evenfold-*.zip"))
    return [*results, *window(archives[-1] if archives and not results[-1].failed else None, newest)]


def main() -> int:
    try:
        pythons = {host: str(ensure_env(host, "test")) for host in PYTHONS}
    except (MissingPythonError, subprocess.CalledProcessError) as error:
        print(error, file=sys.stderr)
        print("0 passed, 1 failed")
        return 1
    results = all_steps(pythons)
    print("\n== Summary")
    for each in results:
        print(f"{each.title}: {each.passed} passed, {each.failed} failed")
    failed = sum(each.failed for each in results)
    print(f"{sum(each.passed for each in results)} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
