"""Options of the headless check, and one call from them to reports and exit status."""

import argparse
import contextlib
import math
import os
import stat
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TextIO

from evenfold.core.errors import SettingsError
from evenfold.core.kinds import SUFFIXES
from evenfold.core.report.against import Against, compare_with, read_earlier
from evenfold.core.report.as_table import safe
from evenfold.core.report.plain import Json
from evenfold.core.report.written import folder_parts, json_parts, plain_parts, write_all
from evenfold.core.settings import Settings, read_profile
from setup_env import cache_folder

from . import inputs
from .cache import Cache
from .journal import Journal, Results
from .marks import UnknownHostError
from .pool import Pool
from .progress import Progress
from .run import Checker, Input, Plan, Run, stopping
from .supervisor import INTERRUPTED
from .task import MEMORY_MB, SECONDS, Limits

WITHIN, OUTSIDE, WRONG_CALL, NOT_CHECKED = range(4)
REPORT_FILES = ("index.html", "report.json", "report.txt", "junit.xml", "report.sarif", "report.csv")
LEAST_MB = 512
"""Blender itself takes about 300 MB; with less nothing could be checked."""


def main(arguments: Sequence[str], table_to: int = 1) -> int:
    """Run one call; returns the exit status. The table goes to the file descriptor ``table_to``."""
    try:
        with _text_to(table_to) as said, contextlib.redirect_stdout(said):
            options = parser().parse_args(arguments)
    except SystemExit as stop:
        return WITHIN if stop.code in (0, None) else WRONG_CALL
    except BrokenPipeError:  # nobody reads the help
        return WITHIN
    try:
        _require_sense(options)
        plan = _plan(options)
        earlier = None if options.against is None else read_earlier(options.against)
        checker = _checker(options, len(plan.inputs))
        with contextlib.ExitStack() as undone:
            undone.callback(checker.close)
            host = checker.mark()
            undone.pop_all()
    except (SettingsError, UnknownHostError) as error:
        _say(str(error))
        return WRONG_CALL
    folder = options.cache or cache_folder() / "batch"
    cache = Cache(None if options.no_cache else folder, host)
    try:
        journal = Journal(folder / "runs", plan.mark(), len(plan.inputs), options.resume)
        return _go(plan, journal, cache, checker, options, earlier, table_to)
    except OSError as error:
        _say(f"The run's notes in {folder} cannot be kept ({error}): make room there, or name another folder with --cache.")
        return WRONG_CALL
    finally:
        checker.close()


def _go(
    plan: Plan, journal: Journal, cache: Cache, checker: Checker, options: argparse.Namespace, earlier: Json | None, table_to: int
) -> int:
    """Check everything and report it; gives the exit status."""
    progress = Progress(len(plan.inputs))
    run = Run(plan, journal, cache, progress)
    written = False
    try:
        with stopping(run):
            try:
                run.go(checker)
            finally:
                checker.close()
                progress.finish()
            cache.tidy()
            status = _report(plan, journal, options, earlier, table_to)
            written = status != WRONG_CALL
    finally:
        journal.close(finished=written and run.done)
    return status


def parser() -> argparse.ArgumentParser:
    """The options of the headless check."""
    made = argparse.ArgumentParser(
        prog="batch_check.py", description="Heads tall and matching halves of character files."
    )
    add = made.add_argument
    add("paths", nargs="+", metavar="PATH", help="file, folder, pattern, or - for a list on standard input")
    add("--profile", type=Path, metavar="FILE", help="TOML file with targets and limits, instead of the folders' own")
    add("--target-heads", type=float, metavar="N", help="wanted count of heads")
    add("--tolerance", type=float, metavar="LENGTH", help="in metres")
    add("--json", type=Path, metavar="FILE", help="write the report here")
    add("--report", type=Path, metavar="FOLDER", help="write page, JSON, JUnit, SARIF, CSV and table here")
    add("--no-pictures", action="store_true", help="a page without pictures of the figures")
    add("--against", type=Path, metavar="REPORT.json", help="say what is new since that report")
    add("--fail-on", choices=("any", "new"), default="any", help="what makes the exit status 1")
    add("--jobs", type=int, default=min(2, os.cpu_count() or 1), metavar="N", help="files at a time, each in a process of its own (%(default)s)")
    add("--time-limit", type=float, default=SECONDS, metavar="SECONDS", help="for one file (%(default)g)")
    add("--memory-limit", type=int, default=MEMORY_MB, metavar="MB", help="for one file, Blender included; 0 for none (%(default)s)")
    add("--cache", type=Path, metavar="FOLDER", help="where results of unchanged files are kept")
    add("--no-cache", action="store_true", help="check every file anew and keep nothing")
    add("--resume", action="store_true", help="go on with an interrupted run of the same call")
    add("--cluster", metavar="ADDRESS", help="check on the workers of this Dask scheduler")
    return made


def _require_sense(options: argparse.Namespace) -> None:
    if "" in options.paths:
        raise SettingsError("A path is empty: name a file or a folder, or . for this one.")
    if options.jobs < 1:
        raise SettingsError("--jobs must be 1 or more.")
    if not (math.isfinite(options.time_limit) and options.time_limit > 0):
        raise SettingsError("--time-limit must be a number of seconds above zero.")
    if options.memory_limit and options.memory_limit < LEAST_MB:
        raise SettingsError(f"--memory-limit must be {LEAST_MB} or more, or 0 for no limit.")
    if options.fail_on == "new" and options.against is None:
        raise SettingsError("--fail-on new needs an earlier report: name it with --against.")
    if options.cache is not None and options.cache.exists() and not options.cache.is_dir():
        raise SettingsError(f"{options.cache} is not a folder: name another one for --cache.")
    _require_writable(options)


def _require_writable(options: argparse.Namespace) -> None:
    if options.report is not None and os.path.exists(options.report) and not options.report.is_dir():  # noqa: PTH110
        raise SettingsError(f"{options.report} is not a folder: name another one.")
    if options.json is not None:
        place = options.json.absolute().parent
        if not os.path.isdir(place) and not (options.report is not None and place == options.report.absolute()):  # noqa: PTH112
            raise SettingsError(f"The folder of {options.json} does not exist: create it first.")
    for path in _outputs(options):
        if os.path.isdir(path):  # noqa: PTH112 - false for a name that is too long
            raise SettingsError(f"{path} is a folder: name a file for the report.")
        _try_to_write(path)
    given = {Path(path).resolve() for path in options.paths}
    if options.json is not None and (
        options.json.resolve() in given or options.json.suffix.lower() in SUFFIXES
    ):
        raise SettingsError(f"{options.json} is named like an input: give the report another name.")
    read = {path.resolve() for path in (options.profile, options.against) if path is not None}
    for path in _outputs(options):
        if path.resolve() in read:
            raise SettingsError(f"{path} is read in this call and would be overwritten: write the report elsewhere.")


def _try_to_write(path: Path) -> None:
    """Now, and not after hours of checking. Raises SettingsError; leaves nothing behind."""
    try:
        with contextlib.suppress(FileNotFoundError):
            if not stat.S_ISREG(path.stat().st_mode):
                raise SettingsError(f"{path} is a pipe or a device: name a file for the report.")
        folder = next(one for one in path.absolute().parents if os.path.lexists(one))
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise SettingsError(f"{path} cannot be written ({error.strerror}): name another place for the report.") from error


def _outputs(options: argparse.Namespace) -> list[Path]:
    found = [] if options.json is None else [options.json]
    return found + [options.report / name for name in REPORT_FILES if options.report is not None]


def _plan(options: argparse.Namespace) -> Plan:
    base = Settings()
    if options.profile is not None:
        base = read_profile(options.profile, base)
    given = {"target_heads": options.target_heads, "tolerance": options.tolerance}
    given = {name: one for name, one in given.items() if one is not None}
    limits = Limits(options.time_limit, options.memory_limit or None)
    known: dict[Path, Settings | str] = {}
    entries = inputs.gather(options.paths, profiles=options.profile is None)
    found = [_input(entry, base, given, known) for entry in entries]
    pictures = options.report is not None and not options.no_pictures
    return Plan(found, replace(base, **given), pictures, limits)


def _input(
    entry: inputs.Entry, base: Settings, given: dict[str, float], known: dict[Path, Settings | str]
) -> Input:
    """With the settings of its folder's profile, over which what the call says itself goes."""
    path = str(entry.path)
    if entry.refused is not None:
        return Input(path, refused=entry.refused.error)
    if entry.profile is None:
        return Input(path)
    if entry.profile not in known:
        try:
            known[entry.profile] = replace(inputs.settings_of(entry, base), **given)
        except SettingsError as error:
            known[entry.profile] = str(error)
    own = known[entry.profile]
    return Input(path, refused=own) if isinstance(own, str) else Input(path, own)


def _checker(options: argparse.Namespace, count: int) -> Checker:
    if options.cluster is None:
        return Pool(min(options.jobs, max(count, 1)))
    from .cluster import Cluster

    return Cluster(options.cluster)


def _report(
    plan: Plan, journal: Journal, options: argparse.Namespace, earlier: Json | None, table_to: int
) -> int:
    """Write everything that is wanted; gives the exit status."""
    results = Results(journal, [one.path for one in plan.inputs], INTERRUPTED)
    host = ", ".join(sorted(journal.hosts))
    against = None if earlier is None else compare_with(results, earlier, str(options.against))
    try:
        texts = {}
        if options.json is not None:
            texts[options.json] = json_parts(results, plan.settings, host, against)
        if options.report is not None:
            options.report.mkdir(parents=True, exist_ok=True)
            made = folder_parts(results, plan.settings, host, against)
            texts |= {options.report / name: made[name] for name in REPORT_FILES}
        write_all(texts)
    except OSError as error:
        _say(f"The report could not be written: {error}. No file was left half written.")
        return WRONG_CALL
    try:
        with _text_to(table_to) as out:
            out.writelines(plain_parts(results, plan.settings, against))
    except BrokenPipeError:
        pass  # whoever reads the table has seen enough of it
    except OSError as error:
        _say(f"The table could not be printed: {error}.")
        return WRONG_CALL
    return _status(journal, against if options.fail_on == "new" else None)


def _status(journal: Journal, against: Against | None) -> int:
    """The exit status; with ``against`` only what is new since then puts a figure outside."""
    counts = journal.counts()
    if counts["unreadable"] or sum(counts.values()) < len(journal) or not len(journal):
        return NOT_CHECKED
    outside = counts["outside"] if against is None else against.worse
    return OUTSIDE if outside else WITHIN


def _text_to(place: int) -> TextIO:
    return os.fdopen(os.dup(place), "w", encoding="utf-8", errors="backslashreplace", newline="\n")


def _say(text: str) -> None:
    line = safe(text).encode("utf-8", "backslashreplace") + b"\n"
    os.write(2, line)
