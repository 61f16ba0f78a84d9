"""Whatever becomes of a worker, each file gets its result and the next file a worker that works."""

import os
import shutil
import signal
import sys
import tempfile
import threading
import time
from pathlib import Path

import pytest
from batch import supervisor as module
from batch.supervisor import Supervisor
from batch.task import Limits, Task
from evenfold.core.settings import Settings

FAKE = [sys.executable, str(Path(__file__).with_name("fake_worker.py"))]


def task(name, seconds=30.0, memory_mb=None):
    return Task(f"/lighthouse/{name}.blend", Settings(), False, Limits(seconds, memory_mb))


def worker_of(result):
    """The worker's process and the number of the file in it, as the fake tells them."""
    words = result.error.split()
    return int(words[1]), int(words[3])


def group(process):
    """Living processes of the worker's group."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            state, _, own = (folder / "stat").read_text().rsplit(")", 1)[1].split()[:3]
        except OSError:
            continue
        if int(own) == process and state != "Z":
            found.append(int(folder.name))
    return found


@pytest.fixture(scope="module")
def fake():
    """One supervisor for all tests here; each must leave it able to work."""
    with Supervisor(FAKE) as one:
        yield one


@pytest.fixture(autouse=True)
def _works_afterwards(fake):
    yield
    assert fake.run(task("keeper")).error.startswith("pid")


def test_a_worker_stays_for_the_next_file(fake):
    first, second = (worker_of(fake.run(task("keeper"))) for _ in range(2))
    assert second == (first[0], first[1] + 1)
    assert fake.host() == "Lighthouse 1.0"


def test_what_the_host_writes_goes_nowhere(fake, capfd):
    assert fake.run(task("noise")).error.startswith("pid")
    assert capfd.readouterr() == ("", "")


def test_a_file_that_hangs_is_stopped_with_all_it_started(fake):
    process, _ = worker_of(fake.run(task("keeper")))
    began = time.monotonic()
    result = fake.run(task("hang", seconds=0.5))
    took = time.monotonic() - began
    assert "longer than 0.5 s" in result.error and result.status == "unreadable"
    assert 0.5 <= result.seconds <= took < 3.0
    assert group(process) == []


@pytest.mark.parametrize(("name", "said"), [
    ("crash", "SIGSEGV"), ("garbage", "made no sense"), ("pickled", "made no sense"),
    ("otherrecord", "made no sense"), ("endlessframe", "stopped answering"), ("halfaframe", "ended with status 0"),
])
def test_a_worker_that_fails_costs_its_file_only(fake, name, said, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    before, _ = worker_of(fake.run(task("keeper")))
    result = fake.run(task(name))
    assert said in result.error and result.path.endswith(f"{name}.blend")
    after, number = worker_of(fake.run(task("keeper")))
    assert (after != before, number) == (True, 1)
    assert group(before) == []
    assert not list(tmp_path.iterdir())


def test_a_worker_that_answers_again_and_again_leaves_nothing_behind():
    def held():
        return threading.active_count(), len([*Path("/proc/self/fd").iterdir()])

    before = held()
    for _ in range(3):
        with Supervisor(FAKE) as one:
            assert "made no sense" in one.run(task("chatter")).error
            time.sleep(0.2)  # the reader has taken one frame more than anybody asked for
        assert held() == before


def test_a_file_is_not_blamed_for_what_an_earlier_one_left(fake):
    fake.run(task("keeper"))
    assert worker_of(fake.run(task("crashonce")))[1] == 1


@pytest.mark.parametrize(("kind", "said"), [
    ("KeyError", "KeyError: 1"), ("MemoryError", "more than 2,000 MB"), ("_ArrayMemoryError", "more than 2,000 MB"),
])
def test_after_a_fault_of_ours_the_next_file_has_a_new_worker(fake, kind, said):
    before, _ = worker_of(fake.run(task("keeper")))
    assert said in fake.run(task(f"ourfault-{kind}", memory_mb=2000)).error
    after, number = worker_of(fake.run(task("keeper")))
    assert (after != before, number) == (True, 1)


def test_memory_without_end_is_stopped(fake):
    result = fake.run(task("allocate", memory_mb=200))
    assert "more than 200 MB" in result.error and "--memory-limit" in result.error
    assert result.seconds < 10.0


def test_one_huge_request_for_memory_fails_at_once(fake):
    result = fake.run(task("allocateatonce", memory_mb=200))
    assert result.error is not None and not result.error.startswith("pid")
    assert result.seconds < 3.0


def test_a_worker_killed_from_outside_costs_no_file(fake):
    process, _ = worker_of(fake.run(task("keeper")))
    os.kill(process, signal.SIGKILL)
    assert worker_of(fake.run(task("keeper")))[0] != process
    process, _ = worker_of(fake.run(task("keeper")))
    timer = threading.Timer(0.3, os.kill, (process, signal.SIGKILL))
    timer.start()
    result = fake.run(task("hang", seconds=1.5))
    timer.join()
    assert "longer than 1.5 s" in result.error


def test_a_worker_is_replaced_after_so_many_files(fake, monkeypatch):
    monkeypatch.setattr(module, "FILES_EACH", 3)
    fake.run(task("crash"))
    found = [worker_of(fake.run(task("keeper"))) for _ in range(7)]
    assert [number for _, number in found] == [1, 2, 3, 1, 2, 3, 1]
    assert len({process for process, _ in found}) == 3


def test_a_worker_that_keeps_memory_is_replaced(fake, monkeypatch):
    fake.run(task("keeper"))
    monkeypatch.setattr(module, "GROWTH_MB", -1000)
    first, second = (worker_of(fake.run(task("keeper"))) for _ in range(2))
    assert first[0] != second[0]


def test_closing_ends_a_file_in_the_middle(monkeypatch, tmp_path):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    one = Supervisor(FAKE)
    process, _ = worker_of(one.run(task("keeper")))
    assert list(tmp_path.glob("evenfold-worker-*"))
    threading.Timer(0.3, one.close).start()
    began = time.monotonic()
    result = one.run(task("hang"))
    assert time.monotonic() - began < 5.0
    assert "interrupted" in result.error and "interrupted" in one.run(task("keeper")).error
    assert group(process) == []
    assert not list(tmp_path.glob("evenfold-worker-*"))


def test_an_interrupted_file_is_answered_once_nothing_of_its_worker_is_left(monkeypatch, tmp_path):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    take_away = shutil.rmtree

    def slowly(*arguments, **options):
        time.sleep(0.5)
        take_away(*arguments, **options)

    one = Supervisor(FAKE)
    one.run(task("keeper"))
    monkeypatch.setattr(module.shutil, "rmtree", slowly)
    threading.Timer(0.3, one.close).start()
    assert "interrupted" in one.run(task("hang")).error
    assert not list(tmp_path.glob("evenfold-worker-*"))


def test_no_host_is_said_and_not_tried_for_ever(monkeypatch):
    with Supervisor(["/no/such/program"]) as one:
        said = [one.run(task("keeper")).error for _ in range(5)]
        assert "could not be started" in said[0] and "/no/such/program" in said[0]
        assert "see the first file" in said[4] and one.host() == ""
    monkeypatch.setattr(module, "START_SECONDS", 0.5)
    with Supervisor([*FAKE, "--never"]) as one:
        assert "within 0.5 s" in one.run(task("keeper")).error


def test_python_in_a_worker_reaches_no_network_and_starts_no_program():
    with Supervisor([*FAKE, "--guarded"]) as one:
        for name in ("reachout", "startprogram"):
            assert "does not do this" in one.run(task(name)).error
        assert one.run(task("keeper")).error.startswith("pid")
