"""Run every check of the project; a part that cannot run counts as failed, never as skipped."""

import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import build_zip
from setup_env import PYTHONS, MissingPythonError, ensure_env
from window_host import NoWindowError, ensure_window

ROOT = Path(__file__).resolve().parent.parent
COUNT = re.compile(r"(\d+) (passed|failed|errors?|skipped|xfailed|xpassed)\b")


@dataclass(frozen=True)
class Outcome:
    """One step's numbers; ``failed`` includes skipped tests."""

    title: str
    passed: int
    failed: int


def start(title: str, command: list[str]) -> tuple[int, str]:
    """Run a command from the project's folder, echo its output, return status and text."""
    print(f"\n== {title}", flush=True)
    lines: list[str] = []
    with subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        errors="replace",
    ) as process:
        for line in process.stdout or ():
            print(line, end="", flush=True)
            lines.append(line)
    return process.returncode, "".join(lines)


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


def window(archive: Path | None) -> Outcome:
    """The panel in a real Blender window."""
    title = "tests/window"
    if archive is None:
        print(f"\n== {title}\nThere is no zip to install.")
        return Outcome(title, 0, 1)
    try:
        tree = ensure_window()
    except NoWindowError as error:
        print(f"\n== {title}\n{error}")
        return Outcome(title, 0, 1)
    out = ROOT / "out" / "window"
    out.mkdir(parents=True, exist_ok=True)
    script = str(ROOT / "tests" / "window" / "run_window.py")
    return counted(
        title,
        [sys.executable, script, "--chroot", str(tree), "--zip", str(archive), "--out", str(out)],
    )


def all_steps(pythons: dict[str, str]) -> list[Outcome]:
    """Every step in order; later ones run even if earlier ones fail."""
    newest = pythons["5.2"]
    pytest = ["-m", "pytest", "-q", "-p", "no:cacheprovider"]
    results = [plain("ruff", [newest, "-m", "ruff", "check", "."])]
    for host in ("5.2", "4.2"):
        typed = [newest, "-m", "mypy", "--python-executable", pythons[host],
                 "--python-version", PYTHONS[host],
                 "--cache-dir", f"out/mypy-{host}"]
        results.append(plain(f"mypy, stubs of {host}", typed))
    results.append(counted("tests/core", [newest, *pytest, "tests/core"]))
    for host, python in pythons.items():
        results.append(counted(f"tests/host in {host}", [python, *pytest, "tests/host"]))
    try:
        archive = build_zip.build(ROOT / "dist")
        results.append(counted("tests/zip", [newest, *pytest, "tests/zip"]))
    except subprocess.CalledProcessError as error:
        archive = None
        print(error)
        results.append(Outcome("tests/zip", 0, 1))
    return [*results, window(archive)]


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
