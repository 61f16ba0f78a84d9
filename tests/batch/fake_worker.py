"""A worker without a host: what it does with a file stands in the file's name."""

import ctypes
import os
import signal
import sys
import time
from pathlib import Path

TOOLS = Path(__file__).parents[2] / "tools"
sys.path[:0] = [str(TOOLS), str(TOOLS.parent / "addon")]

from batch.own_faults import STOPPED  # noqa: E402
from batch.packing import pack  # noqa: E402
from batch.pipe import LENGTH, own_ends, write_frame  # noqa: E402
from batch.task import Answer, Task  # noqa: E402
from batch.worker import serve, stay_inside  # noqa: E402
from evenfold.core.findings import FileResult  # noqa: E402

REQUESTS, ANSWERS = own_ends(sys.argv)
DONE: list[str] = []


def check(task: Task) -> Answer:
    """The result a test wants of a file of this name; it tells the worker's number."""
    name = Path(task.path).stem.split("-")[0]
    DONE.append(name)
    _DOINGS.get(name, lambda: None)()
    if name == "ourfault":
        return Answer(FileResult(task.path, f"{STOPPED} {Path(task.path).stem.split('-')[1]}: 1. Please report this."))
    if name.startswith("even"):
        return Answer(FileResult(task.path, None, 0.01), depends=(), lasting=True)
    result = FileResult(task.path, f"pid {os.getpid()} file {len(DONE)}", 0.01)
    return Answer(result)


def even_slow() -> None:
    time.sleep(0.25)


def hang() -> None:
    """As a host caught in a loop of its own, which hears no signal of Python's."""
    os.fork() if sys.platform != "win32" else None
    while True:
        time.sleep(60)


def crash() -> None:
    ctypes.string_at(0)


def crash_once() -> None:
    """Only a worker that has done other files before."""
    if len(DONE) > 1:
        os.kill(os.getpid(), signal.SIGSEGV)


def allocate() -> None:
    kept = []
    while True:
        kept.append(bytearray(b"x") * 20_000_000)
        time.sleep(0.01)


def allocate_at_once() -> None:
    bytearray(64 * 2**30)


def noise() -> None:
    os.write(1, b"what a host writes\n" * 1000)
    os.write(2, b"what a host writes\n" * 1000)


def garbage() -> None:
    write_frame(ANSWERS, b"\xff" * 100)


def chatter() -> None:
    for _ in range(9):
        write_frame(ANSWERS, b"what nobody asked for")
    time.sleep(60)


def pickled() -> None:
    write_frame(ANSWERS, b"cos\nsystem\n(S'touch evenfold-was-here'\ntR.")


def other_record() -> None:
    write_frame(ANSWERS, pack(Task("a.blend")))


def endless_frame() -> None:
    os.write(ANSWERS, LENGTH.pack(2**60))
    time.sleep(60)


def half_a_frame() -> None:
    os.write(ANSWERS, LENGTH.pack(1000) + b"{")
    os._exit(0)


def reach_out() -> None:
    """Raises unless the worker may reach the network."""
    import socket

    socket.create_connection(("127.0.0.1", 9))


def start_program() -> None:
    import subprocess

    subprocess.run(["true"], check=False)


_DOINGS = {
    one.__name__.replace("_", ""): one
    for one in (
        even_slow, hang, crash, crash_once, allocate, allocate_at_once, noise, garbage, chatter, pickled, other_record,
        endless_frame, half_a_frame, reach_out, start_program,
    )
}

if __name__ == "__main__":
    if "--never" in sys.argv:
        time.sleep(600)
    guarded = check
    if "--guarded" in sys.argv:
        stay_inside()

        def guarded(task: Task) -> Answer:
            try:
                return check(task)
            except Exception as error:  # noqa: BLE001 - told as the host's own check does
                return Answer(FileResult(task.path, f"{type(error).__name__}: {error}"))

    serve(REQUESTS, ANSWERS, "Lighthouse 1.0", guarded)
