"""What is kept from run to run holds for the file as it is, or is not used; damage costs time only."""

import contextlib
import os
import resource
import threading
import time
import tracemalloc
from pathlib import Path

import pytest
from batch.cache import Cache
from batch.journal import Journal, Results
from batch.packing import PackError
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


@contextlib.contextmanager
def full_at(most):
    """As on a disk that is full: no file grows beyond so many bytes."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def long_results(count):
    return [FileResult(f"{number}.blend", f"{number}" * 3000) for number in range(count)]


def test_a_disk_that_fills_up_costs_nothing_that_was_found(tmp_path):
    mark, made = "a" * 64, long_results(6)
    one = Journal(tmp_path, mark, 6)
    for index in range(2):
        one.add(made[index], index)
    with full_at(8000):
        for index in range(2, 5):
            one.add(made[index], index)
        assert list(Results(one, [each.path for each in made], "missing"))[:5] == made[:5]
    one.add(made[5], 5)
    assert list(Results(one, [each.path for each in made], "missing")) == made
    with full_at(8000):
        one.close(finished=False)
    again = Journal(tmp_path, mark, 6, resume=True)
    assert [again.has(index) for index in range(6)] == [True, True, False, False, False, True]
    assert again.get(5) == made[5]
    again.close(finished=True)


@pytest.mark.parametrize("most", [0, 20])
def test_a_disk_that_is_full_from_the_start_leaves_memory(tmp_path, most):
    made = long_results(3)
    with full_at(most):
        one = Journal(tmp_path, "a" * 64, 3)
        for index, each in enumerate(made):
            one.add(each, index)
        assert list(Results(one, [each.path for each in made], "missing")) == made
        one.close(finished=True)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("damage", [
    lambda whole, start: whole[:-2000], lambda whole, start: whole[:start], lambda whole, start: whole[: start + 3],
    lambda whole, start: whole[:-5] + b"12345", lambda whole, start: whole[:start] + b"\xff" * 8 + whole[start + 8 :],
])
def test_a_result_that_cannot_be_read_back_costs_the_others_nothing(tmp_path, damage):
    made = long_results(3)
    one = Journal(tmp_path, "a" * 64, 3)
    for index, each in enumerate(made):
        one.add(each, index)
    (path,) = tmp_path.iterdir()
    path.write_bytes(damage(path.read_bytes(), one._places[2]))
    with pytest.raises(PackError):
        one.get(2)
    results = Results(one, [each.path for each in made], "missing")
    for _ in range(2):
        *whole, lost = results
        assert whole == made[:2]
        assert (lost.path, lost.status) == ("2.blend", "unreadable") and "damaged on the disk" in lost.error
    assert one.counts() == {"within": 0, "outside": 0, "unreadable": 3}
    one.close(finished=True)


def test_a_damaged_length_does_not_ask_for_all_memory(tmp_path):
    one = Journal(tmp_path, "a" * 64, 2)
    one.add(FileResult("0.blend"), 0)
    one.close(finished=False)
    (path,) = tmp_path.iterdir()
    path.write_bytes(path.read_bytes() + b"\xff" * 40)
    tracemalloc.start()
    again = Journal(tmp_path, "a" * 64, 2, resume=True)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert again.resumed == 1 and peak < 10**7
    again.close(finished=True)


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
