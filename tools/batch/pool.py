"""Several supervisors at once; answers come as they are ready, with the numbers of their tasks."""

import queue
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence

from evenfold.core.findings import FileResult

from .marks import host_mark
from .own_faults import FAILED
from .supervisor import Supervisor
from .task import Answer, Task

AHEAD = 2
"""Tasks handed out for each worker, so that none waits for the coordinator."""
LOOK = 0.2
"""Seconds between two looks whether the run is to stop."""
Numbered = tuple[int, Task]


class Pool:
    """``jobs`` workers that stay between files; ``command`` as a supervisor takes it.

    Whatever checks in its place has the methods of ``run.Checker``.
    """

    def __init__(self, jobs: int, command: Sequence[str] | None = None) -> None:
        self._supervisors = [Supervisor(command) for _ in range(jobs)]
        self._tasks: queue.Queue[Numbered | None] = queue.Queue()
        self._answers: queue.Queue[tuple[int, Answer]] = queue.Queue()
        self._threads: list[threading.Thread] = []

    def run(self, tasks: Iterable[Numbered], stopped: Callable[[], bool]) -> Iterator[tuple[int, Answer]]:
        """The answers in any order, one for each task; none any more once ``stopped()``.

        Takes tasks only as it needs them, in the caller's thread. Raises nothing of its own.
        """
        left, waiting, more = iter(tasks), 0, True
        while not stopped():
            while more and waiting < AHEAD * len(self._supervisors):
                task = next(left, None)
                more = task is not None
                if task is not None:
                    self._hand_out(task)
                    waiting += 1
            if not waiting:
                return
            try:
                answer = self._answers.get(timeout=LOOK)
            except queue.Empty:
                continue
            waiting -= 1
            yield answer

    def mark(self) -> str:
        """Tells this machine's Blender from every other. Raises UnknownHostError."""
        return host_mark()

    def close(self) -> None:
        """End all workers, even in the middle of a file."""
        for one in self._supervisors:
            one.close()
        for _ in self._threads:
            self._tasks.put(None)
        for thread in self._threads:
            thread.join(10.0)

    def _hand_out(self, task: Numbered) -> None:
        """Workers start with the first tasks, no more of them than there are tasks."""
        self._tasks.put(task)
        if len(self._threads) < len(self._supervisors):
            one = self._supervisors[len(self._threads)]
            thread = threading.Thread(target=self._serve, args=(one,), daemon=True)
            self._threads.append(thread)
            thread.start()

    def _serve(self, supervisor: Supervisor) -> None:
        while True:
            item = self._tasks.get()
            if item is None:
                return
            number, task = item
            try:
                answer = supervisor.check(task)
            except Exception as error:  # noqa: BLE001 - every task has an answer, or the run would wait for ever
                said = f"{FAILED} {type(error).__name__}: {error}. Please report this."
                answer = Answer(FileResult(task.path, said))
            self._answers.put((number, answer))
