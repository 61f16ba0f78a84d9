"""The same checks on the workers of a Dask scheduler that is running already.

Its workers find this code and the files under the same paths as here. Tasks and answers travel as
plain records (see packing); Blender runs in a process of its own beside each worker.
"""

import contextlib
import gc
import logging
import queue
import secrets
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from evenfold.core.errors import SettingsError
from evenfold.core.findings import FileResult

from .marks import digest_of, tool_mark
from .packing import pack, unpack
from .pool import AHEAD, LOOK, Numbered
from .task import Answer

PLACES = (str(Path(__file__).resolve().parents[1]), str(Path(__file__).resolve().parents[2] / "addon"))
"""Where a worker finds this package and the add-on."""
ANSWERS_WITHIN = 15.0
"""Seconds in which a scheduler answers, or is taken for gone. Our choice."""
TRIES = 3
"""How often a file is handed out anew after the scheduler itself has given it up. Our choice."""


class Cluster:
    """A checker (see ``run.Checker``) at a scheduler's address, such as tcp://10.0.0.5:8786.

    ``command`` as a supervisor takes it. Raises SettingsError where there is no such scheduler.
    """

    def __init__(self, address: str, command: Sequence[str] | None = None) -> None:
        self._address = address
        self._client = _connected(address)
        self._command = tuple(command) if command is not None else None
        self._run = secrets.token_hex(8)
        self._done: queue.Queue[_Handed] = queue.Queue()
        self._handed: set[_Handed] = set()

    def mark(self) -> str:
        """Tells the workers' Blenders from every other. Raises SettingsError where none can check."""
        try:
            self._client.wait_for_workers(1, timeout=ANSWERS_WITHIN)
            found = self._client.run(_there, PLACES, "marks", (), on_error="return")
        except Exception as error:
            raise SettingsError(f"The scheduler at {self._address} has no worker that answers: start one, then try again.") from error
        said = [one for one in found.values() if isinstance(one, tuple)]
        if not said:
            why = next(iter(found.values()))
            raise SettingsError(f"The workers at {self._address} cannot read this program at {PLACES[0]} ({why}): put it on a path they share.")
        if any(tool != tool_mark() for tool, _ in said):
            raise SettingsError(f"The workers at {self._address} find another version of this program at {PLACES[0]}: give all the same one.")
        hosts = sorted({host for _, host in said if not host.startswith("!")})
        if not hosts and self._command is None:
            raise SettingsError(f"The workers at {self._address} have no Blender: {said[0][1][1:]}")
        return digest_of(*hosts)

    def run(self, tasks: Iterable[Numbered], stopped: Callable[[], bool]) -> Iterator[tuple[int, Answer]]:
        """As a pool's; ends early only when stopped or when the scheduler is gone.

        A worker that is lost costs no file: what it had is handed to another.
        """
        left, more = iter(tasks), True
        while not stopped():
            room = AHEAD * max(self._threads(), 1)
            while more and len(self._handed) < room:
                task = next(left, None)
                more = task is not None
                if task is not None:
                    self._hand_out(_Handed(*task, 0))
            if not self._handed:
                return
            try:
                handed = self._done.get(timeout=LOOK)
            except queue.Empty:
                if self._client.status not in ("running", "connecting"):
                    return
                continue
            answer = self._answer_of(handed)
            if answer is not None:
                yield handed.number, answer

    def close(self) -> None:
        """Take back what is under way, and end our processes beside the workers."""
        ending = threading.Thread(target=self._end, daemon=True)
        ending.start()
        ending.join(ANSWERS_WITHIN)

    def _end(self) -> None:
        if self._client.status != "running":
            return
        with contextlib.suppress(Exception):
            self._client.cancel([one.future for one in self._handed], force=True)
        with contextlib.suppress(Exception):
            self._client.run(_there, PLACES, "release", (self._run,), on_error="ignore")
        with contextlib.suppress(Exception), _uncollected():
            self._client.close(timeout=2.0)

    def _threads(self) -> int:
        """How many workers there are now; each does one file at a time."""
        try:
            said = self._client.scheduler_info(n_workers=-1)
        except TypeError:  # older versions give all of them unasked
            said = self._client.scheduler_info()
        return len(said.get("workers", ()))

    def _hand_out(self, handed: "_Handed") -> None:
        arguments = (self._run, self._command, pack(handed.task))
        handed.future = self._client.submit(
            _there, PLACES, "check", arguments, pure=False, key=f"evenfold-{self._run}-{handed.number}-{handed.tries}"
        )
        self._handed.add(handed)
        handed.future.add_done_callback(lambda _: self._done.put(handed))

    def _answer_of(self, handed: "_Handed") -> Answer | None:
        """The answer, or None where the task was handed out once more or is still on its way."""
        try:
            answer = unpack(Answer, handed.future.result(timeout=LOOK * 10))
        except TimeoutError:  # its worker was lost after it was done, and it is done again
            self._done.put(handed)
            return None
        except Exception as error:  # noqa: BLE001 - whatever befell the task, its file gets a result
            self._handed.discard(handed)
            if self._client.status != "running":
                return None
            if handed.tries < TRIES:
                self._hand_out(_Handed(handed.number, handed.task, handed.tries + 1))
                return None
            why = str(error).strip().splitlines()[0] if str(error).strip() else type(error).__name__
            return Answer(FileResult(handed.task.path, f"The cluster gave this file up ({why[:200]}): try it on one machine."))
        self._handed.discard(handed)
        return answer


@dataclass(eq=False)
class _Handed:
    """A task under way, and how often it was handed out before."""

    number: int
    task: Any
    tries: int
    future: Any = None


def _there(places: tuple[str, ...], name: str, arguments: tuple[Any, ...]) -> Any:
    """Calls a function of ``cluster_side`` in a worker; needs no globals, since it is sent there."""
    import importlib
    import sys

    sys.path[:0] = [place for place in places if place not in sys.path]
    return getattr(importlib.import_module("batch.cluster_side"), name)(*arguments)


_there.__module__ = "__main__"  # what cannot be found by name is sent as it is: the scheduler has no such package


@contextlib.contextmanager
def _uncollected() -> Iterator[None]:
    """Collects before and not within: a client that never connected ends itself when it is collected,
    and would wait for ever for the lock another one holds while it starts or ends."""
    gc.collect()
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


def _connected(address: str) -> Any:
    try:
        import distributed
    except ImportError as error:
        raise SettingsError("--cluster needs Dask, which this Python lacks: install the extra 'cluster', dask[distributed].") from error
    for noisy in ("distributed", "tornado"):
        logging.getLogger(noisy).setLevel(logging.CRITICAL)
    try:
        with _uncollected():
            return distributed.Client(address, timeout=ANSWERS_WITHIN, set_as_default=False)
    except Exception as error:
        raise SettingsError(f"No scheduler answers at {address}: start it, or correct the address after --cluster.") from error
