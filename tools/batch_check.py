"""Check character files without a window: python tools/batch_check.py PATH…, or
blender --background --python tools/batch_check.py -- PATH…

Exit status: 0 all within limits, 1 some figure is not, 2 the call is wrong, 3 some input
could not be checked.
"""

import argparse
import json
import os
import pickle
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

if __name__ == "__main__":
    # What Blender says, from its very start, must not stand between the table's lines.
    sys.stdout.flush()
    OWN_STDOUT = os.dup(1)
    os.dup2(2, 1)

import bpy

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "addon"))

from evenfold.core.errors import SettingsError
from evenfold.core.findings import FileResult
from evenfold.core.report.as_json import report_dict
from evenfold.core.report.as_table import safe, table
from evenfold.core.settings import Settings, read_profile
from evenfold.host.batch import check_file
from evenfold.host.files import SUFFIXES

WITHIN, OUTSIDE, WRONG_CALL, NOT_CHECKED = range(4)
CHILD_SECONDS = 900


def main(arguments: Sequence[str]) -> int:
    """Run one call; returns the exit status."""
    try:
        options = _parser().parse_args(arguments)
    except SystemExit as stop:
        return WITHIN if stop.code in (0, None) else WRONG_CALL
    try:
        settings = _settings(options)
        _require_writable(options)
    except SettingsError as error:
        _say(str(error))
        return WRONG_CALL
    paths = _inputs(options.paths)
    results = _check(paths, settings, options)
    if options.hand_over is not None:
        options.hand_over.write_bytes(pickle.dumps(results))
        return WITHIN
    try:
        _write_reports(results, settings, options)
    except OSError as error:
        _say(f"The report could not be written: {error}.")
        return WRONG_CALL
    _print_table(table(results, settings))
    return _status(results)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="batch_check.py", description="Heads tall and matching halves of character files."
    )
    parser.add_argument("paths", nargs="+", metavar="PATH", type=Path, help="file or folder")
    parser.add_argument("--profile", type=Path, metavar="FILE", help="TOML file with targets and limits")
    parser.add_argument("--target-heads", type=float, metavar="N", help="wanted count of heads")
    parser.add_argument("--tolerance", type=float, metavar="LENGTH", help="in metres")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the report here")
    parser.add_argument("--report", type=Path, metavar="FOLDER", help="write report and table here")
    parser.add_argument("--jobs", type=int, default=1, metavar="N", help="processes at a time")
    parser.add_argument("--hand-over", type=Path, help=argparse.SUPPRESS)
    return parser


def _settings(options: argparse.Namespace) -> Settings:
    if options.jobs < 1:
        raise SettingsError("--jobs must be 1 or more.")
    settings = Settings()
    if options.profile is not None:
        settings = read_profile(options.profile, settings)
    given = {"target_heads": options.target_heads, "tolerance": options.tolerance}
    return replace(settings, **{name: one for name, one in given.items() if one is not None})


def _require_writable(options: argparse.Namespace) -> None:
    if options.json is not None and not options.json.absolute().parent.is_dir():
        raise SettingsError(f"The folder of {options.json} does not exist: create it first.")
    if options.json is not None and options.json.is_dir():
        raise SettingsError(f"{options.json} is a folder: name a file for the report.")
    if options.report is not None and options.report.exists() and not options.report.is_dir():
        raise SettingsError(f"{options.report} is not a folder: name another one.")
    inputs = {path.resolve() for path in options.paths}
    if options.json is not None and (
        options.json.resolve() in inputs or options.json.suffix.lower() in SUFFIXES
    ):
        raise SettingsError(f"{options.json} is named like an input: give the report another name.")


def _inputs(given: Sequence[Path]) -> list[Path | FileResult]:
    """Files in order; a folder without any becomes the result that says so."""
    found: list[Path | FileResult] = []
    for path in given:
        if not path.is_dir():
            found.append(path)
            continue
        inside = sorted(p for p in path.rglob("*") if p.suffix.lower() in SUFFIXES and p.is_file())
        kinds = ", ".join(SUFFIXES)
        found += inside or [FileResult(str(path), f"The folder holds no file of these kinds: {kinds}.")]
    return found


def _check(
    inputs: list[Path | FileResult], settings: Settings, options: argparse.Namespace
) -> list[FileResult]:
    def one(entry: Path | FileResult) -> FileResult:
        if isinstance(entry, FileResult):
            result = entry
        elif options.jobs > 1:
            result = _check_in_child(entry, options)
        else:
            result = check_file(entry, settings)
        _say(f"{result.path}: {result.status}, {result.seconds:.1f} s")
        return result

    if options.jobs == 1:
        return [one(entry) for entry in inputs]
    with ThreadPoolExecutor(options.jobs) as workers:
        return list(workers.map(one, inputs))


def _check_in_child(path: Path, options: argparse.Namespace) -> FileResult:
    """Check one file in a process of its own, so that not even a crash costs the others."""
    with tempfile.TemporaryDirectory() as folder:
        handed = Path(folder) / "result"
        command = [*_own_command(), str(path.absolute()), "--hand-over", str(handed)]
        for name in ("profile", "target_heads", "tolerance"):
            value = getattr(options, name)
            if value is not None:
                command += [f"--{name.replace('_', '-')}", str(value)]
        try:
            subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                           timeout=CHILD_SECONDS, check=False)
            (result,) = pickle.loads(handed.read_bytes())  # noqa: S301 - our own child wrote it
        except subprocess.TimeoutExpired:
            return FileResult(str(path), f"Checking took longer than {CHILD_SECONDS} s: try it alone.")
        except (OSError, ValueError, pickle.UnpicklingError, EOFError):
            return FileResult(str(path), "Blender ended while it had this file open: try it alone.")
    return replace(result, path=str(path))


def _is_module() -> bool:
    """True under Python with the bpy wheel; older hosts say so only by having no program."""
    return bool(getattr(bpy.app, "module", not bpy.app.binary_path))


def _own_command() -> list[str]:
    script = str(Path(__file__).resolve())
    if _is_module():
        return [sys.executable, script]
    return [bpy.app.binary_path, "--background", "--factory-startup", "--python", script, "--"]


def _write_reports(
    results: list[FileResult], settings: Settings, options: argparse.Namespace
) -> None:
    host = f"Blender {bpy.app.version_string}"
    text = json.dumps(report_dict(results, settings, host), indent=1, allow_nan=False) + "\n"
    if options.json is not None:
        _write(options.json, text)
    if options.report is not None:
        options.report.mkdir(parents=True, exist_ok=True)
        _write(options.report / "report.json", text)
        _write(options.report / "report.txt", table(results, settings))


def _write(path: Path, text: str) -> None:
    """All of the file or nothing of it."""
    partial = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        partial.write_text(text, "utf-8", errors="backslashreplace")
        partial.replace(path)
    finally:
        partial.unlink(missing_ok=True)


def _status(results: list[FileResult]) -> int:
    found = {result.status for result in results}
    if "unreadable" in found or not results:
        return NOT_CHECKED
    return OUTSIDE if "outside" in found else WITHIN


def _say(text: str) -> None:
    line = safe(text).encode("utf-8", "backslashreplace") + b"\n"
    os.write(2, line)


def _print_table(text: str) -> None:
    with os.fdopen(os.dup(OWN_STDOUT), "wb") as out:
        out.write(text.encode("utf-8", "backslashreplace"))


def _own_arguments() -> list[str]:
    if _is_module():
        return sys.argv[1:]
    return sys.argv[sys.argv.index("--") + 1 :] if "--" in sys.argv else []


if __name__ == "__main__":
    sys.exit(main(_own_arguments()))
