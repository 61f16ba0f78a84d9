"""What a run has found so far, on disk: memory stays flat, and an interrupted run can go on.

One file for each run: a line with the run's mark, then frames of length, checksum and record.
"""

import contextlib
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
from typing import BinaryIO

from evenfold.core.findings import FileResult

from .packing import PackError, pack, unpack

FRAME = struct.Struct("<II")
MAGIC = b"evenfold-run 1 "
KEPT_DAYS = 14
"""An interrupted run that nobody went on with for so long is taken away. Our choice."""
NOWHERE, IN_MEMORY = -1, -2
STATUSES = ("within", "outside", "unreadable")


@dataclass(frozen=True)
class Noted:
    """The result of input number ``index``; ``look`` is how the file looked, ``host`` who checked."""

    index: int
    look: str
    host: str
    result: FileResult


class Journal:
    """The results of ``count`` inputs. ``mark`` names what is run: the same inputs and settings.

    Where its folder cannot be written, a temporary file serves; where that is full, memory does.
    """

    def __init__(self, folder: Path | None, mark: str, count: int, resume: bool = False) -> None:
        self._mark = MAGIC + mark.encode("ascii") + b"\n"
        self._places = array("q", [NOWHERE]) * count
        self._statuses = bytearray(count)
        self._memory: dict[int, bytes] = {}
        self._last: tuple[int, FileResult] | None = None
        self.hosts: dict[str, None] = {}
        self.looks: dict[int, str] = {}
        self.resumed = 0
        self._path: Path | None = None
        self._file = self._open(folder, mark, resume)

    def __len__(self) -> int:
        return len(self._places)

    def has(self, index: int) -> bool:
        """Whether there is a result for this input."""
        return self._places[index] != NOWHERE

    def add(self, result: FileResult, index: int, look: str = "", host: str = "") -> None:
        """Put a result down; raises nothing."""
        data = pack(Noted(index, look, host, result))
        try:
            place = self._file.seek(0, os.SEEK_END)
            self._file.write(FRAME.pack(len(data), zlib.crc32(data)) + data)
            self._file.flush()
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
        self._file.seek(place)
        length, check = FRAME.unpack(self._file.read(FRAME.size))
        data = self._file.read(length)
        if zlib.crc32(data) != check:
            raise PackError("What the run had found so far was damaged while it ran.")
        return unpack(Noted, data).result

    def counts(self) -> dict[str, int]:
        """How many inputs have each status so far."""
        known = [status for status, place in zip(self._statuses, self._places, strict=True) if place != NOWHERE]
        return {name: known.count(number) for number, name in enumerate(STATUSES)}

    def close(self, finished: bool) -> None:
        """Keep it to go on with, or where the run is finished take it and its like away."""
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

    def _open(self, folder: Path | None, mark: str, resume: bool) -> BinaryIO:
        if folder is not None:
            with contextlib.suppress(OSError):
                folder.mkdir(mode=0o700, parents=True, exist_ok=True)
                _tidy(folder)
                name = mark[:32]
                earlier = self._taken_over(folder, name) if resume else None
                return earlier or self._new(folder / f"{name}-{secrets.token_hex(4)}.run")
        return tempfile.TemporaryFile("w+b")  # type: ignore[return-value]

    def _new(self, path: Path) -> BinaryIO:
        file = path.open("x+b")
        _lock(file)
        file.write(self._mark)
        file.flush()
        self._path = path
        return file

    def _taken_over(self, folder: Path, name: str) -> BinaryIO | None:
        """The newest run of this mark that nobody is at, with what it has found."""
        for path in sorted(folder.glob(f"{name}-*.run"), key=lambda one: one.stat().st_mtime, reverse=True):
            file = path.open("r+b")
            if _lock(file) and file.readline(len(self._mark)) == self._mark:
                self._path = path
                file.truncate(self._read(file))
                return file
            file.close()
        return None

    def _read(self, file: BinaryIO) -> int:
        """Take in every whole frame; gives where they end."""
        while True:
            place = file.tell()
            head = file.read(FRAME.size)
            data = file.read(FRAME.unpack(head)[0]) if len(head) == FRAME.size else b""
            if not data or zlib.crc32(data) != FRAME.unpack(head)[1]:
                return place
            with contextlib.suppress(PackError):
                entry = unpack(Noted, data)
                if 0 <= entry.index < len(self):
                    self.resumed += not self.has(entry.index)
                    self._note(entry.index, place, entry.host, entry.result)
                    self.looks[entry.index] = entry.look


class Results(Collection[FileResult]):
    """All results in the order of the inputs, read from the journal each time they are asked for.

    What has none is not checked, for the reason ``missing``.
    """

    def __init__(self, journal: Journal, paths: Sequence[str], missing: str) -> None:
        self._journal, self._paths, self._missing = journal, paths, missing

    def __len__(self) -> int:
        return len(self._paths)

    def __iter__(self) -> Iterator[FileResult]:
        for index, path in enumerate(self._paths):
            found = self._journal.get(index)
            yield FileResult(path, self._missing) if found is None else found

    def __contains__(self, one: object) -> bool:
        return any(one is other for other in self)


def _lock(file: BinaryIO) -> bool:
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
