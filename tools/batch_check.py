"""Check character files without a window: python tools/batch_check.py PATH…, or
blender --background --python tools/batch_check.py -- PATH…

Exit status: 0 all within limits, 1 some figure is not, 2 the call is wrong, 3 some input
could not be checked.
"""

import argparse
import os
import pickle
import subprocess
import sys
import tempfile
import traceback
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
from evenfold.core.report.against import Against, compare_with, read_earlier
from evenfold.core.report.as_table import safe
from evenfold.core.report.written import folder_texts, json_text, plain_text, write_all
from evenfold.core.settings import Settings, read_profile
from evenfold.host.batch import check_file
from evenfold.host.files import SUFFIXES

WITHIN, OUTSIDE, WRONG_CALL, NOT_CHECKED = range(4)
CHILD_SECONDS = 900
REPORT_FILES = ("index.html", "report.json", "report.txt", "junit.xml", "report.sarif", "report.csv")


def main(arguments: Sequence[str]) -> int:
    """Run one call; returns the exit status."""
    try:
        options = _parser().parse_args(arguments)
    except SystemExit as stop:
        return WITHIN if stop.code in (0, None) else WRONG_CALL
    try:
        settings = _settings(options)
        _require_writable(options)
        earlier = None if options.against is None else read_earlier(options.against)
    except SettingsError as error:
        _say(str(error))
        return WRONG_CALL
    paths = _inputs(options.paths)
    results = _check(paths, settings, options)
    if options.hand_over is not None:
        options.hand_over.write_bytes(pickle.dumps(results))
        return WITHIN
    against = None if earlier is None else compare_with(results, earlier, str(options.against))
    try:
        _write_reports(results, settings, options, against)
    except OSError as error:
        _say(f"The report could not be written: {error}. No file was left half written.")
        return WRONG_CALL
    _print_table(plain_text(results, settings, against))
    return _status(results, against if options.fail_on == "new" else None)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="batch_check.py", description="Heads tall and matching halves of character files."
    )
    parser.add_argument("paths", nargs="+", metavar="PATH", type=Path, help="file or folder")
    parser.add_argument("--profile", type=Path, metavar="FILE", help="TOML file with targets and limits")
    parser.add_argument("--target-heads", type=float, metavar="N", help="wanted count of heads")
    parser.add_argument("--tolerance", type=float, metavar="LENGTH", help="in metres")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the report here")
    parser.add_argument("--report", type=Path, metavar="FOLDER", help="write page, JSON, JUnit, SARIF, CSV and table here")
    parser.add_argument("--no-pictures", action="store_true", help="a page without pictures of the figures")
    parser.add_argument("--against", type=Path, metavar="REPORT.json", help="say what is new since that report")
    parser.add_argument("--fail-on", choices=("any", "new"), default="any", help="what makes the exit status 1")
    parser.add_argument("--jobs", type=int, default=1, metavar="N", help="processes at a time")
    parser.add_argument("--hand-over", type=Path, help=argparse.SUPPRESS)
    return parser


def _settings(options: argparse.Namespace) -> Settings:
    if options.jobs < 1:
        raise SettingsError("--jobs must be 1 or more.")
    if options.fail_on == "new" and options.against is None:
        raise SettingsError("--fail-on new needs an earlier report: name it with --against.")
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
    read = {path.resolve() for path in (options.profile, options.against) if path is not None}
    for path in _outputs(options):
        if path.resolve() in read:
            raise SettingsError(f"{path} is read in this call and would be overwritten: write the report elsewhere.")


def _outputs(options: argparse.Namespace) -> list[Path]:
    found = [] if options.json is None else [options.json]
    return found + [options.report / name for name in REPORT_FILES if options.report is not None]


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
            result = check_file(entry, settings, _pictures(options))
        _say(f"{result.path}: {result.status}, {result.seconds:.1f} s")
        return result

    if options.jobs == 1:
        return [one(entry) for entry in inputs]
    with ThreadPoolExecutor(options.jobs) as workers:
        return list(workers.map(one, inputs))


def _pictures(options: argparse.Namespace) -> bool:
    """Only a page needs them, this call's or that of the call it hands over to."""
    return not options.no_pictures and (options.report is not None or options.hand_over is not None)


def _check_in_child(path: Path, options: argparse.Namespace) -> FileResult:
    """Check one file in a process of its own, so that not even a crash costs the others."""
    with tempfile.TemporaryDirectory() as folder:
        handed = Path(folder) / "result"
        command = [*_own_command(), str(path.absolute()), "--hand-over", str(handed)]
        for name in ("profile", "target_heads", "tolerance"):
            value = getattr(options, name)
            if value is not None:
                command += [f"--{name.replace('_', '-')}", str(value)]
        if not _pictures(options):
            command.append("--no-pictures")
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
    results: list[FileResult], settings: Settings, options: argparse.Namespace, against: Against | None
) -> None:
    host = f"Blender {bpy.app.version_string}"
    texts: dict[Path, str] = {}
    if options.json is not None:
        texts[options.json] = json_text(results, settings, host, against)
    if options.report is not None:
        options.report.mkdir(parents=True, exist_ok=True)
        made = folder_texts(results, settings, host, against)
        texts |= {options.report / name: made[name] for name in REPORT_FILES}
    write_all(texts)


def _status(results: list[FileResult], against: Against | None) -> int:
    """The exit status; with ``against`` only what is new since then puts a figure outside."""
    found = {result.status for result in results}
    if "unreadable" in found or not results:
        return NOT_CHECKED
    outside = "outside" in found if against is None else against.worse
    return OUTSIDE if outside else WITHIN


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
    try:
        STATUS = main(_own_arguments())
    except Exception:  # noqa: BLE001 - Blender itself would end with 0, as if all were well
        traceback.print_exc()
        STATUS = NOT_CHECKED
    sys.exit(STATUS)
