"""What is kept from run to run holds for the file as it is, or is not used; damage costs time only."""

import os
import threading
import time
from pathlib import Path

import pytest
from batch.cache import Cache
from batch.journal import Journal, Results
from batch.progress import Progress
from batch.task import Answer, Task
from evenfold.core.findings import FileResult


@pytest.fixture
def keeper(tmp_path):
    """A file that was written some time ago."""
    return old(tmp_path / "keeper.blend", "keeper")


def old(path, text):
    path.write_text(text)
    os.utime(path, (time.time() - 100,) * 2)
    return path


def kept(cache, path, depends=(), **more):
    task = Task(str(path), **more)
    found, ticket = cache.find(task)
    if found is None:
        cache.keep(ticket, task, Answer(FileResult(str(path), None, 1.0), "Host", depends, True))
    return found is not None


def test_a_result_rests_on_all_files_it_was_made_from(tmp_path, keeper):
    cache, other = Cache(tmp_path / "cache", "host"), old(tmp_path / "library.blend", "one")
    depends = (str(other), str(tmp_path / "missing.png"))
    assert [kept(cache, keeper, depends) for _ in range(3)] == [False, True, True]
    old(other, "two")
    assert [kept(cache, keeper, depends) for _ in range(2)] == [False, True]
    old(tmp_path / "missing.png", "there")
    assert [kept(cache, keeper, depends) for _ in range(2)] == [False, True]
    (tmp_path / "elsewhere").mkdir()
    moved = old(tmp_path / "elsewhere" / "keeper.blend", "keeper")
    assert not kept(cache, moved, depends)


def test_what_cannot_be_told_is_not_kept(tmp_path, keeper):
    cache = Cache(tmp_path / "cache", "host")
    os.mkfifo(tmp_path / "pipe.blend")
    just_now = tmp_path / "just-now.png"
    just_now.write_text("written while the file was checked")
    for depends in (None, (str(tmp_path / "pipe.blend"),), (str(just_now),)):
        assert [kept(cache, keeper, depends) for _ in range(2)] == [False, False]
    assert not kept(cache, tmp_path / "pipe.blend") and not kept(cache, tmp_path)
    assert [kept(Cache(None, "host"), keeper) for _ in range(2)] == [False, False]


def test_another_host_name_or_wish_is_another_result(tmp_path, keeper):
    cache = Cache(tmp_path / "cache", "host")
    assert [kept(cache, keeper) for _ in range(2)] == [False, True]
    assert not kept(Cache(tmp_path / "cache", "newer host"), keeper)
    assert not kept(cache, keeper, pictures=True)
    assert not kept(cache, old(tmp_path / "cook.blend", "keeper"))


def test_damaged_entries_are_ignored_and_made_again(tmp_path, keeper):
    cache = Cache(tmp_path / "cache", "host")
    kept(cache, keeper)
    (entry,) = (tmp_path / "cache" / "results").glob("??/*")
    whole = entry.read_bytes()
    for damage in (b"", whole[:20], whole[:-5], b"cos\nsystem\n" + whole, whole[:30] + b"\0\0\0" + whole[33:]):
        entry.write_bytes(damage)
        assert [kept(cache, keeper) for _ in range(2)] == [False, True]
    assert entry.read_bytes() == whole and [*entry.parent.iterdir()] == [entry]


def test_what_is_no_file_among_the_results_is_not_waited_for(tmp_path, keeper):
    cache = Cache(tmp_path / "cache", "host")
    kept(cache, keeper)
    (entry,) = (tmp_path / "cache" / "results").glob("??/*")
    for number, put in enumerate((os.mkfifo, Path.mkdir, lambda place: place.symlink_to("/dev/zero"))):
        entry.unlink()
        put(entry)
        task = Task(str(keeper))
        found = []
        asking = threading.Thread(target=lambda task=task, found=found: found.append(cache.find(task)[0]), daemon=True)
        asking.start()
        asking.join(5.0)
        assert found == [None], number
        if entry.is_dir():
            entry.rmdir()
            entry.write_text("")


def test_a_journal_cut_short_keeps_what_is_whole(tmp_path):
    mark = "a" * 64
    one = Journal(tmp_path, mark, 4)
    for index in (2, 0, 3):
        one.add(FileResult(f"{index}.blend"), index, "look", "Host")
    one.close(finished=False)
    (path,) = tmp_path.iterdir()
    path.write_bytes(path.read_bytes()[:-3])
    again = Journal(tmp_path, mark, 4, resume=True)
    assert [again.has(index) for index in range(4)] == [True, False, True, False]
    again.add(FileResult("3.blend", "no"), 3)
    results = [one.error for one in Results(again, [f"{n}.blend" for n in range(4)], "missing")]
    assert results == [None, "missing", None, "no"]
    other = Journal(tmp_path, mark, 4, resume=True)
    assert other.resumed == 0
    other.close(finished=True)
    again.close(finished=True)
    assert not list(tmp_path.iterdir())


def test_a_terminal_shows_count_rate_and_time_left(tmp_path, monkeypatch):
    now = [100.0]
    monkeypatch.setattr(time, "monotonic", lambda: now[0])
    with (tmp_path / "out").open("w+b") as out:
        shown = Progress(200, out.fileno(), terminal=True)
        for number in range(20):
            now[0] += 0.5
            shown.result(FileResult("a\x1b[2J.blend", "no" if number == 3 else None, 0.1))
        shown.finish()
        text = (tmp_path / "out").read_bytes().decode()
    assert "20 of 200, 2.0 a second, 1:30 left: 0 outside, 1 not checked" in text
    assert "\n" not in text[:-1] and "2J" not in text
