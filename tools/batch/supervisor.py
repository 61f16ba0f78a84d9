"""One worker process and its guard: whatever becomes of the worker, each task gets a result."""

import contextlib
import os
import queue
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Self

from evenfold.core.findings import FileResult

from .memory import resident_mb
from .own_faults import fault_in
from .packing import PackError, pack, unpack
from .pipe import PipeError, read_frame, start_with_pipe, write_frame
from .task import TEMPORARY, Answer, Limits, Task

START_SECONDS = 120.0
"""A worker that has not greeted by then is taken for dead; our choice, Blender needs one or two."""
END_SECONDS = 1.0
"""A worker that has closed its pipe has ended by then, or answers nonsense."""
TICK = 0.05
"""Seconds between two looks at a worker's memory."""
FILES_EACH = 500
GROWTH_MB = 1024
"""A worker is replaced after so many files, or when it keeps so much more than at its start."""
STARTS = 3
"""After so many failed starts in a row no more is tried. Our choice."""
ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
"""Workers share the cores: threads within one would mostly wait for each other. The caller's own setting outranks it."""
WORKER = Path(__file__).with_name("worker.py")
INTERRUPTED = "Not checked: the run was interrupted. Go on with --resume."


def worker_command() -> list[str]:
    """What starts a worker for the host this process itself runs in."""
    bpy = sys.modules.get("bpy")
    program = getattr(getattr(bpy, "app", None), "binary_path", "")
    if program and not getattr(bpy.app, "module", False):  # type: ignore[union-attr]
        return [program, "--background", "--factory-startup", "--python-exit-code", "3", "--python", str(WORKER), "--"]
    return [sys.executable, str(WORKER)]


class Supervisor:
    """Keeps one worker. ``run`` one task at a time; ``close`` may be called from any thread.

    ``command`` starts the worker (see ``worker_command``), which gets two numbers as last arguments.
    """

    def __init__(self, command: Sequence[str] | None = None) -> None:
        self._command = list(command) if command is not None else worker_command()
        self._worker: _Worker | None = None
        self._failed_starts = 0
        self._closed = threading.Event()
        self._lock = threading.Lock()
        self._dropping = threading.RLock()

    def run(self, task: Task) -> FileResult:
        """The result of the task; raises nothing. Trouble of the worker is the file's ``error``."""
        return self.check(task).result

    def check(self, task: Task) -> Answer:
        """The same with what is worth knowing besides; the result has the task's own path.

        A file is to blame only for what it does to a fresh worker: where a used one ends over it,
        or one is ended from outside, it is tried once more.
        """
        began = time.perf_counter()
        again = True
        while True:
            fresh = True
            try:
                worker = self._ready()
                fresh = not worker.answered
                answer = worker.ask(task)
                break
            except _TroubleError as trouble:
                self._drop()
                if self._closed.is_set():
                    return Answer(FileResult(task.path, INTERRUPTED))
                if again and trouble.perhaps_innocent and not (fresh and trouble.own_doing):
                    again = False
                    continue
                return Answer(FileResult(task.path, trouble.sentence, time.perf_counter() - began))
        result = replace(answer.result, path=task.path)
        if fault := fault_in(result.error):
            self._drop()
            if fault.endswith("MemoryError"):
                result = replace(result, error=_too_large(task.limits))
        elif worker.used_up(task.limits):
            self._drop()
        return replace(answer, result=result)

    def host(self) -> str:
        """The name of the Blender that checks, starting a worker if need be; "" where none starts."""
        try:
            return self._ready().host
        except _TroubleError:
            return ""

    def close(self) -> None:
        """End the worker, even in the middle of a file; every later task is answered as interrupted."""
        self._closed.set()
        self._drop()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _ready(self) -> "_Worker":
        with self._lock:
            if self._closed.is_set():
                raise _TroubleError(INTERRUPTED)
            if self._worker is not None:
                return self._worker
            if self._failed_starts >= STARTS:
                raise _TroubleError("No worker could be started for this file either: see the first file's reason.")
            try:
                self._worker = worker = _Worker(self._command)
            except OSError as error:
                self._failed_starts += 1
                raise _TroubleError(f"The worker {self._command[0]} could not be started: {error.strerror}.") from error
        try:
            worker.greet()
        except _TroubleError:
            self._failed_starts += 1
            raise
        self._failed_starts = 0
        return worker

    def _drop(self) -> None:
        """End the worker. Whoever comes second, waits: afterwards nothing of it is left in any thread."""
        with self._dropping:
            with self._lock:
                worker, self._worker = self._worker, None
            if worker is not None:
                worker.end()


class _TroubleError(Exception):
    """Why there is no answer, as a sentence.

    ``perhaps_innocent``: the file may not be to blame. ``own_doing``: the worker ended by itself.
    """

    def __init__(self, sentence: str, perhaps_innocent: bool = False, own_doing: bool = False) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.perhaps_innocent = perhaps_innocent
        self.own_doing = own_doing


class _Worker:
    """A process in a group of its own, with a temporary folder of its own that goes with it."""

    def __init__(self, command: Sequence[str]) -> None:
        self.host = ""
        self.answered = 0
        self._start_mb = 0.0
        self._peak_mb = 0.0
        self._given_up = False
        self._writing = threading.Lock()
        self._folder = tempfile.mkdtemp(prefix=TEMPORARY)
        apart = {"creationflags": subprocess.CREATE_NEW_PROCESS_GROUP} if sys.platform == "win32" else {"start_new_session": True}
        places = dict.fromkeys(("TMPDIR", "TEMP", "TMP"), self._folder)
        try:
            self._process, self._requests, self._answers = start_with_pipe(
                command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                env={**ONE_THREAD, **os.environ, **places}, **apart,
            )
        except BaseException:
            shutil.rmtree(self._folder, ignore_errors=True)
            raise
        self._frames: queue.Queue[bytes | None] = queue.Queue(1)
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        try:
            while not self._given_up:
                self._hand_over(read_frame(self._answers))
        except PipeError:
            self._hand_over(None)
        finally:
            os.close(self._answers)

    def _hand_over(self, frame: bytes | None) -> None:
        """Wait until somebody takes the frame, or nobody will any more."""
        while not self._given_up:
            with contextlib.suppress(queue.Full):
                self._frames.put(frame, timeout=TICK)
                return

    def greet(self) -> None:
        """Wait for the host's name. Raises _TroubleError where the worker cannot start."""
        frame = self._next(Limits(START_SECONDS, None), "Blender did not start within {seconds:g} s.")
        said = frame.decode("utf-8", "replace") if frame is not None else ""
        if frame is None or said.startswith("!"):
            how, outside = self._ending() if not said else ("", False)
            why = said[1:] or f"it {how}"
            raise _TroubleError(f"Blender could not be started ({why}): try a Python with bpy, or Blender itself.", outside)
        self.host = said
        self._start_mb = resident_mb(self._process.pid)

    def ask(self, task: Task) -> Answer:
        """The worker's answer. Raises _TroubleError where there is none in time, in bounds and in order."""
        self._peak_mb = 0.0
        packed = pack(task.absolute())
        with self._writing, contextlib.suppress(PipeError):
            if not self._given_up:
                write_frame(self._requests, packed)
        frame = self._next(task.limits, "Checking took longer than {seconds:g} s and was stopped: try it alone with a larger --time-limit.")
        if frame is None:
            raise self._ended(task.limits)
        try:
            answer = unpack(Answer, frame)
            if answer.result.path != task.absolute().path:
                raise PackError("it is about another file")
        except PackError as error:
            why = str(error)[:200].rstrip(".")
            raise _TroubleError(f"The worker's answer on this file made no sense ({why}): try it alone.", True, True) from None
        self.answered += 1
        return answer

    def _next(self, limits: Limits, too_long: str) -> bytes | None:
        """The next frame, None where the worker has ended; raises _TroubleError beyond a limit."""
        last = time.monotonic() + limits.seconds
        while True:
            try:
                return self._frames.get(timeout=max(min(TICK, last - time.monotonic()), 0.001))
            except queue.Empty:
                if self._given_up:
                    return None
            if limits.memory_mb is not None:
                self._peak_mb = max(self._peak_mb, resident_mb(self._process.pid))
                if self._peak_mb > limits.memory_mb:
                    raise _TroubleError(_too_large(limits))
            if time.monotonic() >= last:
                raise _TroubleError(too_long.format(seconds=limits.seconds))

    def _ended(self, limits: Limits) -> _TroubleError:
        how, outside = self._ending()
        if limits.memory_mb is not None and self._peak_mb > 0.8 * limits.memory_mb:
            return _TroubleError(_too_large(limits))
        return _TroubleError(f"Blender {how} while it had this file open: try it alone.", True, not outside)

    def _ending(self) -> tuple[str, bool]:
        """How the worker ended, in words, and whether somebody else ended it."""
        try:
            status = self._process.wait(END_SECONDS)
        except subprocess.TimeoutExpired:
            return "stopped answering", False
        if status >= 0:
            return f"ended with status {status}", False
        with contextlib.suppress(ValueError):
            return f"ended ({signal.Signals(-status).name})", -status in (signal.SIGKILL, signal.SIGTERM)
        return f"ended (signal {-status})", False

    def used_up(self, limits: Limits) -> bool:
        """Whether the next file had better have a new worker."""
        most = self._start_mb + GROWTH_MB
        if limits.memory_mb is not None:
            most = min(most, max(limits.memory_mb / 2, self._start_mb + 64))
        return self.answered >= FILES_EACH or resident_mb(self._process.pid) > most

    def end(self) -> None:
        """Kill the process and all it may have started, and take its temporary folder away."""
        if sys.platform != "win32":
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(self._process.pid, signal.SIGKILL)
        with contextlib.suppress(OSError):
            self._process.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(5.0)
        with self._writing:
            self._given_up = True
            os.close(self._requests)
        self._reader.join(END_SECONDS)
        shutil.rmtree(self._folder, ignore_errors=True)


def _too_large(limits: Limits) -> str:
    return f"Checking needed more than {limits.memory_mb:,} MB of memory and was stopped: try it alone with a larger --memory-limit."
