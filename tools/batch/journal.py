"""What a run has found so far, on disk: memory stays flat, and an interrupted run can go on.

One file for each run: a line with the run's mark, then frames of length, checksum and record.
"""

import contextlib
import io
import os
import secrets
import struct
import tempfile
import time
import zlib
from array import array
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from evenfold.core.findings import FileResult

from .packing import PackError, pack, unpack

FRAME = struct.Struct("<II")
MAGIC = b"evenfold-run 1 "
KEPT_DAYS = 14
"""An interrupted run that nobody went on with for so long is taken away. Our choice."""
NOWHERE, IN_MEMORY = -1, -2
STATUSES = ("within", "outside", "unreadable")
DAMAGED = "What was found in it was damaged on the disk while the run went on: check it again."


@dataclass(frozen=True)
class Noted:
    """The result of input number ``index``; ``look`` is how the file looked, ``host`` who checked."""

    index: int
    look: str
    host: str
    result: FileResult


class Journal:
    """The results of ``count`` inputs. ``mark`` names what is run: the same inputs and settings.

    Where its folder cannot be written, a temporary file serves. What does not go onto a full disk
    is kept in memory, and what went there before stays readable.
    """

    def __init__(self, folder: Path | None, mark: str, count: int, resume: bool = False) -> None:
        self._mark = MAGIC + mark.encode("ascii") + b"\n"
        self._places = array("q", [NOWHERE]) * count
        self._statuses = bytearray(count)
        self._memory: dict[int, bytes] = {}
        self.hosts: dict[str, None] = {}
        self.looks: dict[int, str] = {}
        self.resumed = 0
        self._path: Path | None = None
        self._end = 0
        self._file = self._open(folder, mark, resume)

    def __len__(self) -> int:
        return len(self._places)

    def has(self, index: int) -> bool:
        """Whether there is a result for this input."""
        return self._places[index] != NOWHERE

    def add(self, result: FileResult, index: int, look: str = "", host: str = "") -> None:
        """Put a result down; raises nothing."""
        data = pack(Noted(index, look, host, result))
        place = self._end
        try:
            self._append(self._file, FRAME.pack(len(data), zlib.crc32(data)) + data)
            self._memory.pop(index, None)
        except (OSError, ValueError):
            self._memory[index] = data
            place = IN_MEMORY
        self._note(index, place, host, result)

    def forget(self, index: int) -> None:
        """As if there were no result for this input."""
        self._places[index] = NOWHERE

    def get(self, index: int) -> FileResult | None:
        """The result of an input; None where there is none. Raises OSError or PackError."""
        place = self._places[index]
        if place == NOWHERE:
            return None
        if place == IN_MEMORY:
            return unpack(Noted, self._memory[index]).result
        data = _frame(self._file, place, self._end)
        if data is None:
            raise PackError(DAMAGED)
        return unpack(Noted, data).result

    def counts(self) -> dict[str, int]:
        """How many inputs have each status so far."""
        known = [status for status, place in zip(self._statuses, self._places, strict=True) if place != NOWHERE]
        return {name: known.count(number) for number, name in enumerate(STATUSES)}

    def close(self, finished: bool) -> None:
        """Keep it to go on with, or where the run is finished take it and its like away."""
        with contextlib.suppress(OSError):
            self._file.close()
        if self._path is None or not finished:
            return
        name = self._path.name.rsplit("-", 1)[0]
        for path in self._path.parent.glob(f"{name}-*.run"):
            if path == self._path or _is_free(path):
                with contextlib.suppress(OSError):
                    path.unlink()

    def _note(self, index: int, place: int, host: str, result: FileResult) -> None:
        self._places[index] = place
        self._statuses[index] = STATUSES.index(result.status)
        if host:
            self.hosts[host] = None

    def _append(self, file: IO[bytes], data: bytes) -> None:
        """Write the bytes behind what is whole, or nothing of them. Raises OSError or ValueError."""
        try:
            file.seek(self._end)
            view = memoryview(data)
            while view:
                view = view[file.write(view) :]
        except OSError:
            with contextlib.suppress(OSError):
                file.truncate(self._end)
            raise
        self._end += len(data)

    def _open(self, folder: Path | None, mark: str, resume: bool) -> IO[bytes]:
        if folder is not None:
            with contextlib.suppress(OSError):
                folder.mkdir(mode=0o700, parents=True, exist_ok=True)
                _tidy(folder)
                name = mark[:32]
                earlier = self._taken_over(folder, name) if resume else None
                return earlier or self._new(folder / f"{name}-{secrets.token_hex(4)}.run")
        with contextlib.suppress(OSError):
            return tempfile.TemporaryFile("w+b", buffering=0)
        return io.BytesIO()

    def _new(self, path: Path) -> IO[bytes]:
        file = path.open("x+b", buffering=0)
        _lock(file)
        try:
            self._append(file, self._mark)
        except OSError:
            file.close()
            path.unlink()
            raise
        self._path = path
        return file

    def _taken_over(self, folder: Path, name: str) -> IO[bytes] | None:
        """The newest run of this mark that nobody is at, with what it has found."""
        for path in sorted(folder.glob(f"{name}-*.run"), key=lambda one: one.stat().st_mtime, reverse=True):
            file = path.open("r+b", buffering=0)
            if _lock(file) and file.readline(len(self._mark)) == self._mark:
                self._path = path
                self._end = self._read(file, len(self._mark))
                with contextlib.suppress(OSError):
                    file.truncate(self._end)
                return file
            file.close()
        return None

    def _read(self, file: IO[bytes], place: int) -> int:
        """Take in every whole frame from a place on; gives where they end."""
        size = file.seek(0, os.SEEK_END)
        while data := _frame(file, place, size):
            with contextlib.suppress(PackError):
                entry = unpack(Noted, data)
                if 0 <= entry.index < len(self):
                    self.resumed += not self.has(entry.index)
                    self._note(entry.index, place, entry.host, entry.result)
                    self.looks[entry.index] = entry.look
            place += FRAME.size + len(data)
        return place


class Results(Collection[FileResult]):
    """All results in the order of the inputs, read from the journal each time they are asked for.

    What has none is not checked, for the reason ``missing``; nor is what cannot be read back.
    """

    def __init__(self, journal: Journal, paths: Sequence[str], missing: str) -> None:
        self._journal, self._paths, self._missing = journal, paths, missing

    def __len__(self) -> int:
        return len(self._paths)

    def __iter__(self) -> Iterator[FileResult]:
        for index, path in enumerate(self._paths):
            try:
                found = self._journal.get(index)
            except (OSError, PackError):
                found = FileResult(path, DAMAGED)
                self._journal.add(found, index)
            yield FileResult(path, self._missing) if found is None else found

    def __contains__(self, one: object) -> bool:
        return any(one is other for other in self)


def _frame(file: IO[bytes], place: int, size: int) -> bytes | None:
    """What the frame at a place holds; None where there is no whole one before ``size``."""
    file.seek(place)
    head = file.read(FRAME.size)
    if len(head) < FRAME.size:
        return None
    length, check = FRAME.unpack(head)
    if place + FRAME.size + length > size:
        return None
    data = file.read(length)
    return data if len(data) == length and zlib.crc32(data) == check else None


def _lock(file: IO[bytes]) -> bool:
    """Whether this process now is the only one at the file; where files cannot be locked, always."""
    try:
        import fcntl
    except ImportError:
        return True
    try:
        fcntl.flock(file.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _is_free(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return _lock(file)
    except OSError:
        return False


def _tidy(folder: Path) -> None:
    """Take away runs that nobody went on with."""
    for path in folder.glob("*.run"):
        with contextlib.suppress(OSError):
            if time.time() - path.stat().st_mtime > KEPT_DAYS * 86400 and _is_free(path):
                path.unlink()
