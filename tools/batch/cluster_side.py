"""What runs in a cluster's worker: one supervisor for each run, so that Blender never lives in it."""

import atexit
import contextlib
import threading
from dataclasses import dataclass, field

from .marks import UnknownHostError, host_mark, tool_mark
from .packing import pack, unpack
from .supervisor import Supervisor
from .task import Task


@dataclass
class _Kept:
    """A run's supervisor here; one file at a time, however many threads the worker has."""

    supervisor: Supervisor
    lock: threading.Lock = field(default_factory=threading.Lock)


_KEPT: dict[str, _Kept] = {}
_GUARD = threading.Lock()


def check(run: str, command: tuple[str, ...] | None, packed: bytes) -> bytes:
    """The packed answer to a packed task. Raises PackError where the task is none."""
    task = unpack(Task, packed)
    with _GUARD:
        kept = _KEPT.setdefault(run, _Kept(Supervisor(command)))
    with kept.lock:
        return pack(kept.supervisor.check(task))


def marks() -> tuple[str, str]:
    """Of the code found here, and of the Blender; the latter begins with "!" where there is none."""
    try:
        return tool_mark(), host_mark()
    except UnknownHostError as error:
        return tool_mark(), f"!{error}"


def release(run: str) -> None:
    """End what this run keeps here, even in the middle of a file."""
    with _GUARD:
        kept = _KEPT.pop(run, None)
    if kept is not None:
        kept.supervisor.close()


@atexit.register
def _release_all() -> None:
    for run in list(_KEPT):
        with contextlib.suppress(Exception):
            release(run)
