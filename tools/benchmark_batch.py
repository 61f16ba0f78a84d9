"""Time the headless check at scale, as ratios within one run, on a machine with nothing else to do.

    python tools/benchmark_batch.py [--files 200] [--many 10000] [--json FILE]

Needs a Python with bpy. Wanted: workers of their own cost at most 1.15 x one bare process; two are
1.7 x as fast as one; a second run over unchanged files is 20 x as fast as the first; and the
coordinator's peak memory is the same for 100 files and for 10,000. Only for the memory the checks
are simulated: the worker answers with an invented result at once. Best of two.
"""

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

TOOLS = Path(__file__).resolve().parent
sys.path[:0] = [str(TOOLS), str(TOOLS.parent / "addon")]

TOOL = TOOLS / "batch_check.py"
WANTED = {"isolation": 1.15, "two workers": 1.7, "unchanged": 20.0, "memory": 1.1}
FEW = 100
BARE = """
import sys
sys.path.insert(0, {addon!r})
from pathlib import Path
from evenfold.core.report.written import json_text
from evenfold.core.settings import Settings
from evenfold.host.batch import check_files
found = check_files(sorted(Path({folder!r}).iterdir()), Settings())
Path({out!r}).write_text(json_text(found, Settings(), "bare"))
import os
os._exit(0)
"""


def main(arguments: list[str]) -> int:
    """Measure everything and print it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=200)
    parser.add_argument("--many", type=int, default=10_000)
    parser.add_argument("--json", type=Path)
    parser.add_argument("--simulate", nargs=2, help=argparse.SUPPRESS)
    parser.add_argument("--coordinate", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args(arguments)
    if options.simulate:
        return _simulate()
    if options.coordinate:
        return _coordinate(options.coordinate)
    with tempfile.TemporaryDirectory(prefix="evenfold-benchmark-") as made:
        found = _speeds(Path(made), options.files) | _memory(Path(made), options.many)
    _show(found)
    if options.json is not None:
        options.json.write_text(json.dumps(found, indent=1) + "\n")
    return 0


def _speeds(place: Path, count: int) -> dict[str, float]:
    staff = place / "staff"
    _figures(staff, count)
    bare, one, two = [], [], []
    for _ in range(2):
        bare.append(_timed([sys.executable, "-c", BARE.format(addon=str(TOOLS.parent / "addon"), folder=str(staff), out=str(place / "bare.json"))]))
        one.append(_timed(_call(staff, place / "one.json", "--jobs", "1", "--no-cache")))
        two.append(_timed(_call(staff, place / "two.json", "--jobs", "2", "--no-cache")))
    _require_alike(place / "bare.json", place / "one.json", place / "two.json")
    cache = ("--cache", str(place / "cache"))
    first = _timed(_call(staff, place / "first.json", "--jobs", "1", *cache))
    again = min(_timed(_call(staff, place / "again.json", "--jobs", "1", *cache)) for _ in range(2))
    _require_alike(place / "bare.json", place / "first.json", place / "again.json")
    return {
        "files": count, "bare seconds": min(bare), "one worker seconds": min(one), "two workers seconds": min(two),
        "first seconds": first, "again seconds": again,
        "isolation": min(one) / min(bare), "two workers": min(one) / min(two), "unchanged": first / again,
    }


def _figures(folder: Path, count: int) -> None:
    """Small figures with bones and weights, each a little different, saved by a process of its own."""
    folder.mkdir()
    script = f"""
import bpy
for number in range({count}):
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.ops.object.armature_add()
    rig = bpy.context.object
    bpy.ops.mesh.primitive_uv_sphere_add(segments=24, ring_count=16, radius=0.5 + 0.001 * number)
    body = bpy.context.object
    body.parent = rig
    body.modifiers.new("Rig", "ARMATURE").object = rig
    body.vertex_groups.new(name="Bone").add(range(len(body.data.vertices)), 1.0, "REPLACE")
    bpy.ops.wm.save_as_mainfile(filepath={str(folder)!r} + f"/keeper{{number:05}}.blend")
"""
    subprocess.run([sys.executable, "-c", script], stdout=subprocess.DEVNULL, check=True)


def _call(staff: Path, out: Path, *more: str) -> list[str]:
    return [sys.executable, str(TOOL), str(staff), "--json", str(out), *more]


def _timed(command: list[str]) -> float:
    began = time.perf_counter()
    done = subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, check=False)
    took = time.perf_counter() - began
    if done.returncode not in (0, 1):
        raise SystemExit(f"{command[1:3]} ended with {done.returncode}: {done.stderr[-500:]}")
    return took


def _require_alike(*reports: Path) -> None:
    """All the ways give the same results, or the times mean nothing."""
    told = [
        [(Path(one["path"]).name, one["figures"]) for one in json.loads(report.read_text("utf-8"))["files"]]
        for report in reports
    ]
    if any(one != told[0] for one in told):
        raise SystemExit("The ways do not agree in their results.")


def _memory(place: Path, many: int) -> dict[str, float]:
    """Peak memory of the coordinating process, with simulated checks, reports of all kinds included."""
    peaks = {}
    for count in (FEW, many):
        folder = place / f"many{count}"
        folder.mkdir()
        for number in range(count):
            (folder / f"keeper{number}.obj").write_text(f"# {number}\n")
        done = subprocess.run(
            [sys.executable, str(Path(__file__).resolve()), "--coordinate", str(folder)],
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, check=True,
        )
        peaks[count] = float(done.stdout.split()[-1])
    return {"few MB": peaks[FEW], "many MB": peaks[many], "many": many, "memory": peaks[many] / peaks[FEW]}


def _coordinate(folder: Path) -> int:
    """One call with simulated workers; prints this process's peak memory in megabytes."""
    from batch import cli, supervisor

    supervisor.worker_command = lambda: [sys.executable, str(Path(__file__).resolve()), "--simulate"]
    quiet = os.open(os.devnull, os.O_WRONLY)
    cli.main([str(folder), "--json", f"{folder}.json", "--report", f"{folder}-report", "--no-cache", "--no-pictures"], quiet)
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
    return 0


def _simulate() -> int:
    """A worker that answers at once, with an invented figure of a few hundred differences."""
    import numpy as np
    from batch.pipe import own_ends
    from batch.task import Answer, Task
    from batch.worker import serve
    from evenfold.core.findings import (
        FigureResult,
        FileResult,
        Finding,
        MirrorPlane,
        ObjectResult,
        Proportion,
    )

    finding = Finding("drifted", np.arange(300), np.arange(300), np.full(300, 0.01))
    item = ObjectResult("Body", "mesh", 5000, 2500, findings=(finding,))
    figure = FigureResult("Keeper", Proportion(1.5, 1.4, 1.6), MirrorPlane(np.zeros(3), np.eye(3)[0], "world"), 1e-4, (item,))

    def check(task: Task) -> Answer:
        return Answer(FileResult(task.path, None, 0.0, (figure,)), lasting=True)

    serve(*own_ends(sys.argv), "Simulated", check)
    return 0


def _show(found: dict[str, float]) -> None:
    print(f"{found['files']} small figures, {found['many']} simulated; {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    print("| what | ratio | wanted |\n| --- | --- | --- |")
    for name, wanted in WANTED.items():
        kind = "at most" if name in ("isolation", "memory") else "at least"
        print(f"| {name} | {found[name]:.2f} | {kind} {wanted} |")
    print({name: round(value, 2) for name, value in found.items() if name not in WANTED})


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
