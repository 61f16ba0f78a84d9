"""Results of files that have not changed, kept from run to run.

A result is found again by the file's bytes and name, the settings, whether pictures are wanted, this
tool's own code and the Blender that checks. Where a file refers to others, these must be unchanged
too, and it must lie in the same folder. What failed is checked anew each time.
"""

import contextlib
import os
import secrets
import stat
import time
import zlib
from dataclasses import dataclass
from pathlib import Path

from .marks import content_of, digest_of, look_of, settings_mark, tool_mark
from .packing import PackError, pack, unpack
from .task import Answer, Task

MAGIC = b"evenfold 1\n"
MOST_BYTES = 256 * 2**20
"""Of one kept result, unpacked; our choice."""
MOST_OTHERS = 2**30
"""Bytes of one file that is referred to; with larger ones nothing is kept. Our choice."""
KEPT_DAYS = 60
"""Results that nobody asked for so long are taken away. Our choice."""
CLOCKS = 2.0
"""Seconds by which a file's time may be off; what was written so lately may not be what was read."""
MISSING = "missing"


@dataclass(frozen=True)
class Kept:
    """An answer, the folder its file lay in, and a digest of each file it depends on."""

    answer: Answer
    folder: str
    digests: tuple[str, ...]


@dataclass(frozen=True)
class Ticket:
    """Where an answer belongs, how the file looked when that was found out, and when that was."""

    name: str
    look: str
    began: float


class Cache:
    """A folder of results. Trouble with it costs time and nothing else; no method raises."""

    def __init__(self, folder: Path | None, host: str) -> None:
        """``folder`` None keeps nothing. ``host`` tells the Blender that checks from every other."""
        self._folder = folder
        self._host = host
        self.stored = 0

    def find(self, task: Task) -> tuple[Answer | None, Ticket | None]:
        """The kept answer, or None and the ticket to keep one by (None where none can be kept)."""
        look, began = look_of(task.path), time.time()
        if self._folder is None or not look:
            return None, None
        content = content_of(task.path)
        if not content or look_of(task.path) != look:
            return None, None
        name = digest_of(content, Path(task.path).name, settings_mark(task), tool_mark(), self._host)
        ticket = Ticket(name, look, began)
        return self._read(ticket, task), ticket

    def _read(self, ticket: Ticket, task: Task) -> Answer | None:
        place = self._place(ticket)
        try:
            data = _bytes_of(place)
            if not data.startswith(MAGIC):
                return None
            opened = zlib.decompressobj()
            plain = opened.decompress(data[len(MAGIC) :], MOST_BYTES)
            kept = unpack(Kept, plain) if opened.eof else None
        except (OSError, zlib.error, PackError, MemoryError):
            return None
        depends = kept.answer.depends if kept is not None else None
        if kept is None or depends is None or len(depends) != len(kept.digests):
            return None
        if depends and (kept.folder != _folder_of(task) or _digests(depends) != kept.digests):
            return None
        with contextlib.suppress(OSError):
            os.utime(place)
        return kept.answer

    def keep(self, ticket: Ticket | None, task: Task, answer: Answer) -> None:
        """Keep the answer, whole or not at all, where it is sure to hold for the file as it is."""
        if self._folder is None or ticket is None or not answer.lasting or answer.depends is None:
            return
        digests = _digests(answer.depends)
        fresh = any(_written(one) > ticket.began - CLOCKS for one in answer.depends)
        if "" in digests or fresh or look_of(task.path) != ticket.look:
            return
        data = MAGIC + zlib.compress(pack(Kept(answer, _folder_of(task), digests)), 1)
        place = self._place(ticket)
        beside = place.with_name(f".{place.name}.{secrets.token_hex(8)}")
        with contextlib.suppress(OSError):
            try:
                place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                beside.write_bytes(data)
                beside.replace(place)
                self.stored += 1
            finally:
                beside.unlink(missing_ok=True)

    def _place(self, ticket: Ticket) -> Path:
        assert self._folder is not None  # noqa: S101 - both callers have made sure
        return self._folder / "results" / ticket.name[:2] / ticket.name[2:]

    def tidy(self) -> None:
        """Take away what was not asked for in a long time; looks at most once a day."""
        if self._folder is None or not self.stored:
            return
        stamp, now = self._folder / "results" / "tidied", time.time()
        with contextlib.suppress(OSError):
            if stamp.exists() and now - stamp.stat().st_mtime < 86400:
                return
            stamp.touch()
            for path in (self._folder / "results").glob("??/*"):
                if now - path.stat().st_mtime > KEPT_DAYS * 86400:
                    path.unlink()


def _bytes_of(place: Path) -> bytes:
    """Of a regular file, and no more than belongs there; waits for no pipe. Raises OSError."""
    with open(os.open(place, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)), "rb") as file:  # noqa: PTH123 - a descriptor
        return file.read(MOST_BYTES) if stat.S_ISREG(os.fstat(file.fileno()).st_mode) else b""


def _folder_of(task: Task) -> str:
    return os.path.dirname(os.path.abspath(task.path))  # noqa: PTH100, PTH120 - links as they are named


def _written(path: str) -> float:
    """When a file was last written; 0 where there is none."""
    try:
        return Path(path).stat().st_mtime
    except (OSError, ValueError):
        return 0.0


def _digests(paths: tuple[str, ...]) -> tuple[str, ...]:
    """A digest for each file; "missing" where there is none, "" where it cannot be told."""
    found = []
    for path in paths:
        there = os.path.lexists(path)
        found.append(content_of(path, MOST_OTHERS) if there else MISSING)
    return tuple(found)
