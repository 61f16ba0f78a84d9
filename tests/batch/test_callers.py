"""What callers do: wrong names, closed streams, readers that leave, Ctrl-C pressed twice."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from batch import cli
from batch.inputs import gather
from evenfold.core.report.written import write_all

HERE = Path(__file__).parent
TOOL = HERE.parents[1] / "tools" / "batch_check.py"
DRIVER = [sys.executable, str(HERE / "fake_call.py")]
LONG = "a" * 300


@pytest.fixture(autouse=True)
def _apart(monkeypatch, tmp_path):
    monkeypatch.setenv("EVENFOLD_CACHE", str(tmp_path / "cache"))
    monkeypatch.chdir(tmp_path)


def make(folder, *names):
    folder.mkdir(exist_ok=True)
    for name in names:
        (folder / f"{name}.blend").write_text(name)
    return folder


def refused(capfd, *arguments):
    """What a call says that is wrong; nothing is checked for it."""
    status = cli.main([str(one) for one in arguments])
    said = capfd.readouterr()
    assert (status, said.out, len(said.err.splitlines())) == (2, "", 1), said.err
    return said.err


def test_a_name_that_cannot_be_opened_costs_the_others_nothing(tmp_path):
    make(tmp_path, "keeper")
    os.mkfifo(tmp_path / "pipe.blend")
    (tmp_path / "device.blend").symlink_to("/dev/zero")
    named = [f"{LONG}.blend", "pipe.blend", "device.blend", "kepeer", "keeper.blend"]
    found = {one.path.name: one.refused.error if one.refused else None for one in gather(named)}
    assert list(found) == named and found["keeper.blend"] is None
    for name, words in zip(named, ("too long", "a pipe or a device", "a pipe or a device", "no folder of this name"), strict=False):
        assert words in found[name]
    inside = {one.path.name for one in gather([tmp_path]) if one.refused is not None}
    assert inside == {"pipe.blend", "device.blend"}


@pytest.mark.parametrize("where", [
    ("--report", "notes.txt/out"), ("--report", "/proc/out"), ("--report", LONG), ("--json", "/proc/r.json"),
    ("--json", f"{LONG}.json"), ("--json", "pipe"), ("--report", "blocked"),
])
def test_a_report_that_cannot_be_written_is_told_before_anything_is_checked(tmp_path, capfd, where):
    make(tmp_path / "staff", "even-1")
    (tmp_path / "notes.txt").write_text("in the way")
    (tmp_path / "blocked" / "index.html").mkdir(parents=True)
    os.mkfifo(tmp_path / "pipe")
    assert where[1].split("/")[0] in refused(capfd, "staff", *where)
    assert sorted(one.name for one in tmp_path.iterdir()) == ["blocked", "notes.txt", "pipe", "staff"]


def test_two_machines_that_write_one_report_do_not_mix_it_up(tmp_path, monkeypatch):
    """In containers both may have the same process number; and any name may be as long as a name can be."""
    monkeypatch.setattr(os, "getpid", lambda: 1)
    place = tmp_path / f"{'a' * 250}.json"
    first = ["first "] * 3

    def pieces():
        yield from first
        write_all({place: "second"})
        yield from first

    write_all({place: pieces()})
    assert place.read_text() == "".join(first * 2) and [*tmp_path.iterdir()] == [place]


def test_an_empty_path_is_not_the_working_folder(tmp_path, capfd):
    make(tmp_path, "even-1")
    assert "empty" in refused(capfd, "")


def test_the_json_report_may_lie_in_a_report_folder_yet_to_be_made(tmp_path):
    make(tmp_path / "staff", "even-1")
    done = subprocess.run([*DRIVER, "staff", "--report", "out", "--json", "out/own.json"], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out" / "own.json").read_bytes() == (tmp_path / "out" / "report.json").read_bytes()


@pytest.mark.parametrize("device", [None, "/dev/full"])
def test_a_table_nobody_takes_is_no_trouble_with_the_notes(tmp_path, device):
    make(tmp_path / "staff", "even-1")
    read, write = os.pipe()
    os.close(read)
    with open(device or write, "wb") as out:  # noqa: PTH123 - perhaps a descriptor
        done = subprocess.run([*DRIVER, "staff", "--json", "r.json"], stdout=out, stderr=subprocess.PIPE, text=True, check=False)
    said = done.stderr.splitlines()
    if device is None:
        assert (done.returncode, len(said)) == (0, 1)
    else:
        os.close(write)
        assert done.returncode == 2 and said[1:] == ["The table could not be printed: [Errno 28] No space left on device."]
    assert [one["status"] for one in json.loads((tmp_path / "r.json").read_text())["files"]] == ["within"]


def test_help_goes_where_it_can_be_read_page_by_page():
    done = subprocess.run([sys.executable, str(TOOL), "--help"], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "") and "--resume" in done.stdout


def test_a_closed_output_is_no_verdict():
    done = subprocess.run(["sh", "-c", 'exec "$@" >&-', "sh", sys.executable, str(TOOL), "--help"], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr


def test_a_python_that_lacks_what_is_needed_is_a_wrong_call():
    done = subprocess.run([sys.executable, "-S", str(TOOL), "staff"], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert "cannot run the check" in done.stderr and len(done.stderr.splitlines()) == 1


def test_ctrl_c_that_comes_twice_at_once_still_leaves_a_report(tmp_path):
    staff = make(tmp_path / "staff", "even-1", "hang-2", "hang-3")
    process = subprocess.Popen([*DRIVER, str(staff), "--jobs", "1", "--json", "r.json"], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    process.stderr.readline()
    for _ in range(3):
        process.send_signal(signal.SIGINT)
        time.sleep(0.03)
    process.communicate(timeout=60)
    assert process.returncode == 3
    found = {Path(one["path"]).stem: one["error"] for one in json.loads((tmp_path / "r.json").read_text())["files"]}
    assert list(found) == ["even-1", "hang-2", "hang-3"] and found["even-1"] is None
    assert "interrupted" in found["hang-2"] and "interrupted" in found["hang-3"]


def test_a_run_that_was_killed_leaves_no_worker_and_no_temporary_folder(tmp_path):
    staff, places = make(tmp_path / "staff", *(f"evenslow-{number}" for number in range(8))), tmp_path / "places"
    places.mkdir()
    process = subprocess.Popen([*DRIVER, str(staff)], stderr=subprocess.PIPE, env={**os.environ, "TMPDIR": str(places)})
    process.stderr.readline()
    (folder, *_) = places.glob("evenfold-worker-*")
    process.kill()
    process.communicate(timeout=60)
    until = time.monotonic() + 10
    while list(places.iterdir()) and time.monotonic() < until:
        time.sleep(0.05)
    assert not folder.exists() and not list(places.iterdir())


def test_going_on_with_a_larger_limit_tries_again_what_the_smaller_one_stopped(tmp_path):
    staff = make(tmp_path / "staff", "evenslow-1", "hang-2", "hang-3")
    call = [*DRIVER, str(staff), "--jobs", "1", "--json", "r.json"]
    process = subprocess.Popen([*call, "--time-limit", "1"], stderr=subprocess.PIPE, stdout=subprocess.DEVNULL)
    assert [b"even" in process.stderr.readline(), b"hang-2" in process.stderr.readline()] == [True, True]
    process.send_signal(signal.SIGINT)
    process.communicate(timeout=60)
    subprocess.run([*call, "--time-limit", "2", "--resume"], capture_output=True, check=False, timeout=60)
    found = [one["error"] or "" for one in json.loads((tmp_path / "r.json").read_text())["files"]]
    assert found[0] == "" and all("longer than 2 s" in one for one in found[1:])
