"""One call from its inputs to its reports, with workers that do what the files' names say."""

import errno
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from batch import cli, pool, supervisor
from evenfold.core.report import written

HERE = Path(__file__).parent
FAKE = [sys.executable, str(HERE / "fake_worker.py")]
DRIVER = [sys.executable, str(HERE / "fake_call.py")]


class Borrowed:
    """A supervisor that is not closed with the call, so that the next call need not start one."""

    def __init__(self, idle):
        self.idle, self.own = idle, idle.pop() if idle else supervisor.Supervisor(FAKE)
        self.check = self.own.check

    def close(self):
        if self.own not in self.idle:
            self.idle.append(self.own)


@pytest.fixture(scope="module")
def idle():
    """Supervisors that no call needs just now."""
    kept = []
    yield kept
    for one in kept:
        one.close()


@pytest.fixture(autouse=True)
def _invented(monkeypatch, tmp_path, idle):
    monkeypatch.setattr(pool, "Supervisor", lambda _: Borrowed(idle))
    monkeypatch.setenv("EVENFOLD_CACHE", str(tmp_path / "cache"))
    monkeypatch.chdir(tmp_path)


def make(folder, *names):
    folder.mkdir(exist_ok=True)
    for name in names:
        (folder / f"{name}.blend").write_text(name)
    return folder


def call(capfd, *arguments):
    """Exit status, the lines of progress and the table."""
    status = cli.main([str(one) for one in arguments])
    said = capfd.readouterr()
    return status, said.err.splitlines(), said.out


def files(path):
    return {Path(one["path"]).stem: one for one in json.loads(path.read_text("utf-8"))["files"]}


def unchanged(lines):
    return sorted(line.split("/staff/")[1].split(".blend")[0] for line in lines if line.endswith(", unchanged"))


def test_every_input_has_its_result_in_the_order_of_the_inputs(tmp_path, capfd):
    names = [f"even-{number:02}" for number in range(12)]
    names[3:3] = ["crash-1", "garbage-1", "hang-1"]
    staff = make(tmp_path / "staff", *names)
    wanted = sorted(names)
    for jobs in (1, 3):
        out = tmp_path / f"{jobs}.json"
        status, lines, table = call(capfd, staff, "--json", out, "--jobs", jobs, "--time-limit", 3, "--no-cache")
        assert status == 3
        found = files(out)
        assert list(found) == wanted == [line.split("/staff/")[1].split(".blend")[0] for line in table.splitlines() if line.startswith("/")]
        assert {name: one["error"] for name, one in found.items() if name.startswith("even")} == dict.fromkeys(wanted[1:13])
        assert "SIGSEGV" in found["crash-1"]["error"] and "longer than 3 s" in found["hang-1"]["error"]
        assert sorted(int(line.split("/")[0]) for line in lines) == list(range(1, 16))
    assert not unchanged(lines)


def test_only_what_changed_is_checked_again(tmp_path, capfd):
    staff = make(tmp_path / "staff", "even-a", "even-b", "keeper")
    assert unchanged(call(capfd, staff)[1]) == []
    assert unchanged(call(capfd, staff)[1]) == ["even-a", "even-b"]
    (staff / "even-a.blend").write_text("taller")
    assert unchanged(call(capfd, staff)[1]) == ["even-b"]
    (staff / "even-a.blend").write_text("even-a")
    assert unchanged(call(capfd, staff)[1]) == ["even-a", "even-b"]
    assert unchanged(call(capfd, staff, "--time-limit", 7, "--jobs", 1)[1]) == ["even-a", "even-b"]
    assert unchanged(call(capfd, staff, "--no-cache")[1]) == []
    assert unchanged(call(capfd, staff, "--target-heads", 1.5)[1]) == []
    assert unchanged(call(capfd, staff, "--report", tmp_path / "out")[1]) == []
    assert unchanged(call(capfd, staff, "--report", tmp_path / "out", "--no-pictures")[1]) == ["even-a", "even-b"]
    assert unchanged(call(capfd, staff, "--cache", tmp_path / "other")[1]) == []


def test_a_profile_of_a_folder_counts_for_its_files(tmp_path, capfd):
    staff = make(tmp_path / "staff", "even-a")
    make(staff / "cooks", "even-b")
    (staff / "cooks" / "evenfold.toml").write_text("target_heads = 3.0\ntolerance = 0.5\n")
    out = tmp_path / "r.json"
    assert call(capfd, staff, "--json", out, "--tolerance", 0.25)[0] == 0
    found = files(out)
    assert "settings" not in found["even-a"]
    own = found["even-b"]["settings"]
    assert (own["target_heads"], own["tolerance"]) == (3.0, 0.25)
    (staff / "cooks" / "evenfold.toml").write_text("target_heads = -3.0\n")
    assert call(capfd, staff, "--json", out)[0] == 3
    found = files(out)
    assert (found["even-a"]["status"], found["even-b"]["status"]) == ("within", "unreadable")
    assert "target_heads" in found["even-b"]["error"]


def started(staff, *more):
    """A call in a process of its own, and its first three lines of progress."""
    process = subprocess.Popen(
        [*DRIVER, str(staff), "--jobs", "1", "--no-cache", *map(str, more)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )
    return process, [process.stderr.readline() for _ in range(3)]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_an_interrupted_run_tells_what_is_done_and_can_go_on(tmp_path, capfd, number):
    names = [f"evenslow-{number}" for number in range(8)]
    staff, out = make(tmp_path / "staff", *names), tmp_path / "r.json"
    process, first = started(staff, "--json", out)
    os.kill(process.pid, number)
    table, rest = process.communicate(timeout=60)
    done = [line.split("/staff/")[1].split(".blend")[0] for line in (*first, *rest.splitlines())]
    if number == signal.SIGKILL:
        assert not out.exists()
    else:
        assert process.returncode == 3, rest
        found = files(out)
        assert list(found) == names
        assert [name for name, one in found.items() if one["status"] == "within"] == done
        assert all("interrupted" in found[name]["error"] for name in names if name not in done)
        assert 3 <= len(done) < 8 and f"{8 - len(done)} not checked" in table
    (staff / f"{names[0]}.blend").write_text("another")
    status, lines, _ = call(capfd, staff, "--jobs", 1, "--no-cache", "--json", out, "--resume")
    assert status == 0 and unchanged(lines) == done[1:]
    assert all(one["status"] == "within" for one in files(out).values())
    assert unchanged(call(capfd, staff, "--jobs", 2, "--no-cache", "--resume")[1]) == []
    assert not list((tmp_path / "cache" / "batch" / "runs").iterdir())


def test_going_on_is_for_the_same_call_only(tmp_path, capfd):
    staff = make(tmp_path / "staff", *(f"evenslow-{number}" for number in range(6)))
    process, _ = started(staff)
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=60)
    assert unchanged(call(capfd, staff, "--no-cache", "--resume", "--target-heads", 2)[1]) == []
    assert len(unchanged(call(capfd, staff, "--no-cache", "--resume")[1])) >= 3


def test_no_worker_outlives_an_interrupted_run(tmp_path):
    staff = make(tmp_path / "staff", "even-1", "even-2", "even-3", "hang-4")
    process, _ = started(staff)
    time.sleep(0.5)
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=60)
    time.sleep(0.2)
    mark = str(tmp_path)
    left = [one for one in Path("/proc").glob("[0-9]*/environ") if mark in _text(one)]
    assert [one for one in left if "fake_worker" in _text(one.with_name("cmdline"))] == []


def _text(path):
    try:
        return path.read_bytes().decode("utf-8", "replace")
    except OSError:
        return ""


def test_a_full_disk_costs_neither_the_old_report_nor_what_was_found(tmp_path, capfd, monkeypatch):
    staff, out = make(tmp_path / "staff", "even-1", "cook-2"), tmp_path / "out"
    assert call(capfd, staff, "--report", out, "--no-cache")[0] == 3
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    make(staff, "even-3")

    def full(_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(written.os, "fsync", full)
        status, lines, table = call(capfd, staff, "--report", out, "--no-cache")
    assert (status, table) == (2, "")
    assert "could not be written" in lines[-1] and "No space left" in lines[-1]
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before
    status, lines, _ = call(capfd, staff, "--report", out, "--no-cache", "--resume")
    assert status == 3 and unchanged(lines) == ["cook-2", "even-1", "even-3"]
    assert list(files(out / "report.json")) == ["cook-2", "even-1", "even-3"]


def test_nowhere_to_keep_anything_still_gives_a_report(tmp_path, capfd):
    staff, out = make(tmp_path / "staff", "even-1", "even-2"), tmp_path / "r.json"
    (tmp_path / "blocked").mkdir()
    for name in ("runs", "results"):
        (tmp_path / "blocked" / name).write_text("in the way")
    status, _, _ = call(capfd, staff, "--json", out, "--cache", tmp_path / "blocked")
    assert status == 0 and list(files(out)) == ["even-1", "even-2"]


@pytest.mark.parametrize(("wrong", "words"), [
    (("--time-limit", "0"), "--time-limit"), (("--time-limit", "nan"), "--time-limit"), (("--memory-limit", "100"), "512"),
    (("--memory-limit", "-1"), "512"), (("--jobs", "0"), "--jobs"), (("--cache", "staff/even-1.blend"), "not a folder"),
])
def test_a_wrong_call_says_why(tmp_path, capfd, wrong, words):
    make(tmp_path / "staff", "even-1")
    status, lines, table = call(capfd, "staff", *wrong)
    assert (status, table) == (2, "") and words in lines[-1]


def test_no_name_steers_the_terminal(tmp_path, capfd):
    staff = make(tmp_path / "staff", "even\x1b[2J\nname")
    _, lines, table = call(capfd, staff)
    assert len(lines) == 1 and "\x1b" not in lines[0] + table
