"""A small fault run, and that its account tells what it must."""

import random
import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))

import fault_files
from batch.own_faults import OWN_FAULTS
from fault_run import _account, _full_disk

TOOL = Path(__file__).parents[2] / "tools" / "fault_run.py"


def test_no_damaged_file_is_lost():
    """60 damaged files, one that hangs, one without end; workers killed; a full disk."""
    done = subprocess.run(
        [sys.executable, str(TOOL), "--count", "60", "--seed", "7"], capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stdout[-3000:]
    assert done.stdout.splitlines()[-1] == "62 inputs, 0 wrong"


def report(**more):
    entry = {"path": "in/00001.obj", "status": "within", "error": None, "figures": [{}]}
    return {"files": [{**entry, **more}]}


@pytest.mark.parametrize(("told", "status", "words"), [
    ({"files": []}, 3, "is in the report 0 times"),
    ({"files": report()["files"] * 2}, 3, "is in the report 2 times"),
    (report(), 0, "exit status 0"),
    (report(figures=[]), 3, "has no figure"),
    (report(status="unreadable", error=""), 3, "has no reason"),
    *((report(status="unreadable", error=f"{said} KeyError: 1. Please report this."), 3, said) for said in OWN_FAULTS),
    (report(status="unreadable", error="Blender ended while it had this file open."), 3, "is whole"),
    (report(path="in/2.obj"), 3, "was no input"),
])
def test_the_account_finds_what_is_planted(told, status, words):
    assert _account(report(), 3, {"00001.obj": "whole"}) == []
    assert any(words in one for one in _account(told, status, {"00001.obj": "whole"}))


def test_the_same_seed_damages_alike_and_every_damage_does_something(tmp_path):
    text = b"o Keeper\nv 0.5 1.25 0.0\n" * 40
    seeds = dict.fromkeys(fault_files.KINDS, text)
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        fault_files.damage(tmp_path / name, seeds, 80, 5)
    made = [{one.name: one.read_bytes() for one in (tmp_path / name).iterdir()} for name in ("a", "b")]
    assert made[0] == made[1] and len(made[0]) == 80
    rng = random.Random(1)  # noqa: S311 - any will do
    for name, damage in fault_files.DAMAGES.items():
        changed = [damage(text, rng) for _ in range(8)]
        assert any(one != text for one in changed), name


def test_a_full_disk_leaves_the_report_before(tmp_path, monkeypatch):
    """The account of it notices a report that was changed."""
    (tmp_path / "in").mkdir()
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "report.json").write_text("before")

    def careless(command, **more):
        if "preexec_fn" in more:
            (tmp_path / "full" / "report.json").write_text("half")
        return subprocess.CompletedProcess(command, 2 if "preexec_fn" in more else 1, "", "no room")

    monkeypatch.setattr("fault_run.subprocess.run", careless)
    assert _full_disk(tmp_path / "in", tmp_path) == ["full disk: a report was changed"]
