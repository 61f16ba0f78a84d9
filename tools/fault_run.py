"""Runs the headless check over damaged files, kills its workers at random, and accounts for every file.

    python tools/fault_run.py --count 2000 --seed 1 [--keep FOLDER]

Ends with 0 when every input is in the report once, each with a verdict or a reason, and nothing was
left half written. Linux only: workers are found in /proc.
"""

import argparse
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

from batch.own_faults import OWN_FAULTS
from fault_files import DAMAGES, damage, endless, hanging, make_seeds

TOOL = Path(__file__).with_name("batch_check.py")
SECONDS, MEMORY_MB = 10.0, 1500


def main(arguments: list[str]) -> int:
    """One run; prints its figures and returns the exit status."""
    options = _options(arguments)
    place = Path(tempfile.mkdtemp(prefix="evenfold-faults-"))
    try:
        inputs = place / "in"
        inputs.mkdir()
        done = damage(inputs, make_seeds(place), options.count, options.seed)
        done |= {hanging(inputs).name: "hangs", endless(inputs).name: "allocates without end"}
        report, status, killed, seconds = _run(inputs, place, options)
        wrong = _account(report, status, done)
        _show(report, done, killed, seconds)
        wrong += _full_disk(inputs, place)
        if options.keep is not None:
            _keep(report, inputs, options.keep)
    finally:
        shutil.rmtree(place, ignore_errors=True)
    for one in wrong:
        print(f"WRONG: {one}")
    print(f"{len(done)} inputs, {len(wrong)} wrong")
    return 1 if wrong else 0


def _options(arguments: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--kill-every", type=float, default=15.0, metavar="SECONDS", help="mean time between killed workers")
    parser.add_argument("--keep", type=Path, help="where to put files over which the host ended or our code failed")
    return parser.parse_args(arguments)


def _command(place: Path, *more: object) -> list[str]:
    return [
        sys.executable, str(TOOL), *map(str, more), "--no-cache", "--cache", str(place / "cache"),
        "--time-limit", str(SECONDS), "--memory-limit", str(MEMORY_MB),
    ]


def _run(inputs: Path, place: Path, options: argparse.Namespace) -> tuple[dict, int, int, float]:  # type: ignore[type-arg]
    """The report of one run over everything, its status, how many workers were killed, and its time."""
    report = place / "report.json"
    began = time.monotonic()
    with (place / "said.txt").open("wb") as said:
        run = subprocess.Popen(
            _command(place, inputs, "--json", report, "--report", place / "report", "--jobs", options.jobs), stdout=said, stderr=said,
        )
        killer = _Killer(run.pid, options)
        killer.start()
        status = run.wait()
        killer.over.set()
        killer.join()
    if not report.exists():
        print((place / "said.txt").read_text("utf-8", "replace")[-2000:])
        raise SystemExit("There is no report.")
    return json.loads(report.read_text("utf-8")), status, killer.count, time.monotonic() - began


class _Killer(threading.Thread):
    """Ends one of the run's workers now and then."""

    def __init__(self, parent: int, options: argparse.Namespace) -> None:
        super().__init__(daemon=True)
        self.count, self.over = 0, threading.Event()
        self._parent, self._mean = parent, options.kill_every
        self._rng = random.Random(options.seed)  # noqa: S311 - to be repeated

    def run(self) -> None:
        while not self.over.wait(self._rng.expovariate(1.0 / self._mean)):
            found = [one for one in _children(self._parent) if b"worker.py" in _words_of(one)]
            if found:
                try:
                    os.kill(self._rng.choice(found), signal.SIGKILL)
                    self.count += 1
                except ProcessLookupError:
                    pass


def _children(parent: int) -> list[int]:
    found = []
    for task in Path(f"/proc/{parent}/task").glob("*/children"):
        try:
            found += [int(one) for one in task.read_text().split()]
        except OSError:
            continue
    return found


def _words_of(number: int) -> bytes:
    try:
        return Path(f"/proc/{number}/cmdline").read_bytes()
    except OSError:
        return b""


def _account(report: dict, status: int, done: dict[str, str]) -> list[str]:  # type: ignore[type-arg]
    """What is not as it must be; nothing, if all is well."""
    told = Counter(Path(one["path"]).name for one in report["files"])
    wrong = [f"{name} is in the report {told[name]} times" for name in done if told[name] != 1]
    wrong += [f"{name} was no input" for name in told if name not in done]
    wrong += [f"exit status {status}, not 3"] if status != 3 else []
    for one in report["files"]:
        name, error = Path(one["path"]).name, one["error"] or ""
        if one["status"] == "unreadable" and not error:
            wrong.append(f"{name} has no reason")
        if one["status"] != "unreadable" and not one["figures"]:
            wrong.append(f"{name} has no figure")
        if error.startswith(OWN_FAULTS):
            wrong.append(f"{name} ({done.get(name)}): {error}")
        if done.get(name) == "whole" and one["status"] == "unreadable" and "SIGKILL" not in error:
            wrong.append(f"{name} is whole: {error}")
        if done.get(name) == "hangs" and not ("took longer" in error or "SIGKILL" in error):
            wrong.append(f"{name}: {error or one['status']}")
        if done.get(name) == "allocates without end" and not ("of memory" in error or "SIGKILL" in error):
            wrong.append(f"{name}: {error or one['status']}")
    return wrong


def _show(report: dict, done: dict[str, str], killed: int, seconds: float) -> None:  # type: ignore[type-arg]
    columns = ("within", "outside", "refused", "host ended", "took too long", "too large", "killed twice")
    rows = {name: Counter[str]() for name in [*DAMAGES, "wrong suffix", "whole", "hangs", "allocates without end"]}
    kinds: Counter[str] = Counter()
    for one in report["files"]:
        name = Path(one["path"]).name
        verdict = _verdict(one)
        rows[done[name]][verdict] += 1
        if verdict == "host ended":
            kinds[Path(name).suffix] += 1
    print("| damage | " + " | ".join(columns) + " |\n| --- |" + " --- |" * len(columns))
    for name, row in rows.items():
        print(f"| {name} | " + " | ".join(str(row[one]) for one in columns) + " |")
    print(f"host ended, by kind: {dict(kinds)}; workers killed: {killed}; {seconds:.0f} s, {len(done) / seconds:.1f} files a second")


def _verdict(one: dict) -> str:  # type: ignore[type-arg]
    error = one["error"] or ""
    if one["status"] != "unreadable":
        return str(one["status"])
    marks = {"took longer": "took too long", "of memory": "too large", "SIGKILL": "killed twice", "while it had this file open": "host ended"}
    return next((verdict for mark, verdict in marks.items() if mark in error), "refused")


def _full_disk(inputs: Path, place: Path) -> list[str]:
    """A report that cannot be written: said, with the one before still whole."""
    folder = place / "full"
    few = sorted(inputs.glob("0*.obj"))[:1]
    before = subprocess.run(_command(place, *few, "--report", folder), capture_output=True, check=False)
    kept = {one.name: one.read_bytes() for one in folder.iterdir()}
    most = max(map(len, kept.values()), default=1) * 3 // 4  # bytes a file may grow to, as on a disk that fills up
    after = subprocess.run(
        [*_command(place, *few, "--report", folder), "--tolerance", "0.5"], capture_output=True, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (most, most)),
    )
    now = {one.name: one.read_bytes() for one in folder.iterdir()}
    wrong = [] if before.returncode in (0, 1, 3) and kept else [f"full disk: no first report ({before.returncode})"]
    wrong += [] if now == kept else [f"full disk: {sorted(set(now) ^ set(kept)) or 'a report was changed'}"]
    wrong += ["full disk: " + after.stderr[-300:]] if "Traceback" in after.stderr else []
    wrong += [] if after.returncode == 2 and after.stderr else ["full disk: it was not said"]
    print(f"full disk: status {after.returncode}, said: {(after.stderr.strip().splitlines() or ['nothing'])[-1]}")
    return wrong


def _keep(report: dict, inputs: Path, folder: Path) -> None:  # type: ignore[type-arg]
    folder.mkdir(parents=True, exist_ok=True)
    for one in report["files"]:
        error = one["error"] or ""
        if _verdict(one) in ("host ended", "took too long", "too large") or error.startswith(OWN_FAULTS):
            name = Path(one["path"]).name
            if (inputs / name).is_file():
                if "alloc" not in name:
                    shutil.copyfile(inputs / name, folder / name)
                (folder / f"{name}.txt").write_text(error)


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
