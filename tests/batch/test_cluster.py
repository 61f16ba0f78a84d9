"""Workers of a scheduler on this very machine: the same results, whatever becomes of a worker."""

import importlib
import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from batch.cluster import Cluster
from batch.pool import Pool
from batch.task import Limits, Task
from evenfold.core.errors import SettingsError
from host.scenes import add_box, empty_scene

SLOW = (sys.executable, str(Path(__file__).with_name("slow_worker.py")))
TOOL = Path(__file__).parents[2] / "tools" / "batch_check.py"
QUIET = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "start_new_session": True}


class Farm:
    """A scheduler and workers as processes of their own, on the loopback, without any page."""

    def __init__(self, folder):
        self.folder, self.file, self.workers = folder, folder / "scheduler.json", []
        self.scheduler = self._start("scheduler", "--host", "127.0.0.1", "--port", "0")
        last = time.monotonic() + 60
        while not (self.file.exists() and self.file.read_text()) and time.monotonic() < last:
            time.sleep(0.05)
        self.address = json.loads(self.file.read_text())["address"]

    def _start(self, kind, *more):
        command = [
            sys.executable, "-m", f"distributed.cli.dask_{kind}", "--scheduler-file", str(self.file), "--no-dashboard", *more,
        ]
        return subprocess.Popen(command, cwd=self.folder, **QUIET)

    def add_worker(self, threads=1):
        place = self.folder / f"worker{len(self.workers)}"
        self.workers.append(self._start(
            "worker", "--host", "127.0.0.1", "--nthreads", str(threads), "--no-nanny", "--local-directory", str(place)))

    def close(self):
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait()


@pytest.fixture
def farm(tmp_path):
    made = Farm(tmp_path)
    try:
        yield made
    finally:
        made.close()


def tasks(folder, names):
    return [(number, Task(str(folder / f"{name}.blend"), limits=Limits(5.0))) for number, name in enumerate(names)]


def all_of(checker, given, watch=lambda _: None):
    found = {}
    with_end = checker.run(iter(given), lambda: False)
    try:
        for number, answer in with_end:
            assert number not in found
            found[number] = answer
            watch(found)
    finally:
        checker.close()
    return found


def test_a_killed_worker_costs_no_file(farm):
    given = tasks(farm.folder, [f"keeper{number}" for number in range(40)])
    wanted = all_of(Pool(2, SLOW), given)
    for _ in range(3):
        farm.add_worker()
    cluster = Cluster(farm.address, SLOW)
    cluster._client.wait_for_workers(3, timeout=60)
    killed = []

    def watch(found):
        if len(found) == 8 and not killed:
            killed.append(farm.workers[1].pid)
            os.kill(killed[0], signal.SIGKILL)

    found = all_of(cluster, given, watch)
    assert killed and farm.workers[1].wait(10) == -signal.SIGKILL
    assert found == wanted and len(found) == 40


def test_a_worker_that_comes_later_is_used_and_a_file_that_hangs_is_stopped_there(farm):
    farm.add_worker(threads=4)
    given = tasks(farm.folder, ["hang", *(f"cook{number}" for number in range(6))])
    given = [(number, replace(task, limits=Limits(1.0))) for number, task in given]
    cluster = Cluster(farm.address, SLOW)
    assert cluster.mark()
    farm.add_worker()
    found = all_of(cluster, given)
    assert "took longer than 1 s" in found[0].result.error
    assert {found[number].result.error for number in range(1, 7)} == {f"said of cook{number}" for number in range(6)}


def test_where_workers_die_again_and_again_the_file_is_told_and_the_others_are_not(farm, monkeypatch):
    """Blender cannot do this to a cluster's worker; whatever can must not hold up the run."""
    monkeypatch.setattr("batch.cluster._there", _deadly)
    for _ in range(2):
        farm.add_worker()
    cluster = Cluster(farm.address)
    cluster._client.wait_for_workers(2, timeout=60)
    found = all_of(cluster, tasks(farm.folder, ["ends", "stays"]))
    assert "gave this file up" in found[0].result.error
    assert found[1].result.error == "here"


def _deadly(places, name, arguments):
    import sys

    sys.path[:0] = [place for place in places if place not in sys.path]
    from batch.packing import pack, unpack
    from batch.task import Answer, Task
    from evenfold.core.findings import FileResult

    if name != "check":
        return ("", "")
    task = unpack(Task, arguments[2])
    if "ends" in task.path:
        raise RuntimeError("the worker was lost")
    return pack(Answer(FileResult(task.path, "here")))


_deadly.__module__ = "__main__"


def test_a_lost_scheduler_ends_the_run_early(farm):
    farm.add_worker()
    cluster = Cluster(farm.address, SLOW)
    cluster.mark()

    def watch(found):
        if len(found) == 3:
            farm.scheduler.kill()

    began = time.monotonic()
    found = all_of(cluster, tasks(farm.folder, [f"keeper{number}" for number in range(200)]), watch)
    assert 3 <= len(found) < 200
    assert time.monotonic() - began < 60


def test_stopping_takes_back_what_is_under_way(farm):
    farm.add_worker()
    cluster = Cluster(farm.address, SLOW)
    found = []
    for number, _ in cluster.run(iter(tasks(farm.folder, ["a", "b", "hang", "c", "d"])), lambda: len(found) >= 2):
        found.append(number)
    began = time.monotonic()
    cluster.close()
    assert len(found) == 2 and time.monotonic() - began < 15
    again = Cluster(farm.address, SLOW)
    assert len(all_of(again, tasks(farm.folder, ["a", "b"]))) == 2


def call(*arguments):
    command = [sys.executable, str(TOOL), *map(str, arguments), "--no-cache"]
    return subprocess.run(command, capture_output=True, text=True, timeout=200, check=False)


def test_a_call_gives_what_it_gives_on_one_machine(farm):
    """Real files and Blender; order, verdicts and exit status."""
    import bpy

    staff = farm.folder / "staff"
    staff.mkdir()
    for number in range(4):
        empty_scene()
        item = add_box(f"Keeper{number}")
        item.data.vertices[0].co.x -= 0.1 * (number % 2)
        bpy.ops.wm.save_as_mainfile(filepath=str(staff / f"keeper{number}.blend"))
    (staff / "keeper10.blend").write_bytes(b"BLENDER-v402 cut")
    (staff / "deep").mkdir()
    (staff / "deep" / "cook.glb").write_bytes(b"")
    for _ in range(2):
        farm.add_worker()
    reports, statuses = [], []
    for more in ([], ["--cluster", farm.address]):
        done = call(staff, "--json", farm.folder / "out.json", *more)
        statuses.append(done.returncode)
        report = json.loads((farm.folder / "out.json").read_text())
        reports.append({**report, "files": [{**one, "seconds": 0} for one in report["files"]]})
    assert statuses == [3, 3], done.stderr
    assert reports[0] == reports[1]
    assert [Path(one["path"]).stem for one in reports[0]["files"]] == [*(f"keeper{number}" for number in range(4)), "keeper10", "cook"]
    assert [one["status"] for one in reports[0]["files"]] == ["within", "outside", "within", "outside", "unreadable", "unreadable"]


def test_no_scheduler_is_a_wrong_call(tmp_path, monkeypatch):
    monkeypatch.setattr("batch.cluster.ANSWERS_WITHIN", 1.0)
    with pytest.raises(SettingsError, match="No scheduler answers at"):
        Cluster("tcp://127.0.0.1:9")
    with pytest.raises(SettingsError, match="No scheduler answers at nonsense"):
        Cluster("nonsense://x y")


def test_a_scheduler_without_workers_is_told(farm, monkeypatch):
    monkeypatch.setattr("batch.cluster.ANSWERS_WITHIN", 1.0)
    cluster = Cluster(farm.address, SLOW)
    with pytest.raises(SettingsError, match="no worker that answers"):
        cluster.mark()
    cluster.close()


def test_without_dask_the_call_says_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(SettingsError, match=r"dask\[distributed\]"):
        Cluster("tcp://127.0.0.1:9")
    assert importlib.util.find_spec("dask") is not None
