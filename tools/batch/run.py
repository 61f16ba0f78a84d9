"""One run from its inputs to its results: known ones from journal and cache, the rest from workers."""

import contextlib
import signal
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from types import FrameType
from typing import Protocol

from evenfold.core.findings import FileResult
from evenfold.core.settings import Settings

from .cache import Cache, Ticket
from .journal import Journal
from .marks import digest_of, look_of, settings_mark, tool_mark
from .packing import pack
from .pool import Numbered
from .progress import Progress
from .task import Answer, Limits, Task

SAME_PRESS = 1.0
"""Seconds in which a second request to stop is the first one, passed on by a shell or a wrapper. Our choice."""


class Checker(Protocol):
    """What checks the files: a pool on this machine, or workers on others.

    ``mark`` tells the Blender that checks from every other; ``run`` gives one answer for each task,
    in any order, and none any more once ``stopped()``; ``close`` ends what is under way.
    """

    def run(self, tasks: Iterable[Numbered], stopped: Callable[[], bool]) -> Iterator[tuple[int, Answer]]: ...

    def mark(self) -> str: ...

    def close(self) -> None: ...


@dataclass(frozen=True, slots=True)
class Input:
    """One input as the report shows it; ``own`` settings where a profile of its folder says so.

    ``refused`` is set where there is nothing to open, and says why.
    """

    path: str
    own: Settings | None = None
    refused: str | None = None


@dataclass(frozen=True)
class Plan:
    """What is run: inputs in the order of the report, and what holds for all of them."""

    inputs: Sequence[Input]
    settings: Settings
    pictures: bool
    limits: Limits

    def task(self, index: int) -> Task:
        """The task of an input, by an absolute path."""
        one = self.inputs[index]
        return Task(one.path, one.own or self.settings, self.pictures, self.limits).absolute()

    def mark(self) -> str:
        """A name for this run: the same inputs, settings, limits and code have the same."""
        parts: list[str | bytes] = [tool_mark(), pack(self.limits)]
        marks: dict[int, bytes] = {}
        for index, one in enumerate(self.inputs):
            task = self.task(index)
            which = id(task.settings)
            marks.setdefault(which, settings_mark(task))
            parts += [one.path, task.path, marks[which], one.refused or ""]
        return digest_of(*parts)


class Run:
    """Fills a journal. ``stop`` may be called from a signal's handler."""

    def __init__(self, plan: Plan, journal: Journal, cache: Cache, progress: Progress) -> None:
        self._plan, self._journal, self._cache, self._progress = plan, journal, cache, progress
        self._begun: dict[int, tuple[Ticket | None, str]] = {}
        self._stopped = self.done = False
        self.unchanged = 0

    @property
    def stopped(self) -> bool:
        """Whether somebody asked to stop before everything was done."""
        return self._stopped

    def stop(self) -> None:
        """Begin nothing more and give up what is being checked."""
        self._stopped = True

    def go(self, checker: Checker) -> None:
        """Check everything that is not known yet; returns early when stopped."""
        for index, answer in checker.run(self._unknown(), lambda: self._stopped):
            ticket, look = self._begun.pop(index)
            self._cache.keep(ticket, self._plan.task(index), answer)
            self._put(index, answer, look)
        self.done = not self._stopped and not self._begun

    def _unknown(self) -> Iterator[Numbered]:
        """The tasks that must be checked; what is known goes straight into the journal."""
        for index, one in enumerate(self._plan.inputs):
            if self._stopped:
                return
            if one.refused is not None:
                self._put(index, Answer(FileResult(one.path, one.refused)), "")
                continue
            task = self._plan.task(index)
            if self._still_known(index, task):
                continue
            answer, ticket = self._cache.find(task)
            if answer is not None and ticket is not None:
                self.unchanged += 1
                self._put(index, answer, ticket.look, unchanged=True)
                continue
            self._begun[index] = ticket, look_of(task.path) if ticket is None else ticket.look
            yield index, task

    def _still_known(self, index: int, task: Task) -> bool:
        """Whether the run that is gone on with has a result of the file as it still is."""
        if not self._journal.has(index):
            return False
        if self._journal.looks.pop(index, "") == look_of(task.path):
            with contextlib.suppress(Exception):
                result = self._journal.get(index)
                if result is not None:
                    self._progress.result(result, unchanged=True)
                    return True
        self._journal.forget(index)
        return False

    def _put(self, index: int, answer: Answer, look: str, unchanged: bool = False) -> None:
        one = self._plan.inputs[index]
        result = replace(answer.result, path=one.path, settings=one.own)
        self._journal.add(result, index, look, answer.host)
        self._progress.result(result, unchanged)


@contextlib.contextmanager
def stopping(run: Run) -> Iterator[None]:
    """While inside, Ctrl-C and a polite request to end stop the run.

    A second one later, or one when all is checked, raises KeyboardInterrupt.
    """
    first = 0.0

    def heard(_: int, __: FrameType | None) -> None:
        nonlocal first
        now = time.monotonic()
        if run.stopped and now - first < SAME_PRESS:
            return
        if run.stopped or run.done:
            raise KeyboardInterrupt
        first = now
        run.stop()

    before = {}
    for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
        number = getattr(signal, name, None)
        if number is not None:
            with contextlib.suppress(ValueError, OSError):
                before[number] = signal.signal(number, heard)
    try:
        yield
    finally:
        if run.stopped:
            time.sleep(max(first + SAME_PRESS - time.monotonic(), 0.0))  # or the same press would end us after all
        for number, old in before.items():
            signal.signal(number, old if old is not None else signal.SIG_DFL)
