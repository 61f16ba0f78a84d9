"""The process that checks: stays alive between files and answers over its private pipe.

Started by a supervisor as ``python worker.py REQUESTS ANSWERS``, or by Blender as
``blender --background --factory-startup --python worker.py -- REQUESTS ANSWERS``.
"""

import contextlib
import os
import shutil
import signal
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

TOOLS = Path(__file__).resolve().parents[1]
for folder in (TOOLS, TOOLS.parent / "addon"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

from batch.packing import pack, unpack
from batch.pipe import PipeError, own_ends, read_frame, write_frame
from batch.task import TEMPORARY, Answer, Limits, Task

Check = Callable[[Task], Answer]
LEEWAY = 30.0
"""Seconds beyond twice the time limit after which a worker ends itself, should nobody do it."""
OUTSIDE = (
    "socket.", "subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.spawn", "os.fork",
    "os.startfile", "webbrowser.open", "urllib.Request", "ftplib.connect", "http.client.connect",
)
"""Python's audit events of reaching the network or starting a program."""


def serve(requests: int, answers: int, host: str, check: Check) -> None:
    """Greet with the host's name, then answer every task until the pipe is closed."""
    write_frame(answers, host.encode())
    with contextlib.suppress(PipeError):
        while True:
            task = unpack(Task, read_frame(requests))
            _limit(task.limits)
            write_frame(answers, pack(replace(check(task), host=host)))
            _limit(None)
    _leave_nothing()


def _leave_nothing() -> None:
    """Whoever started this process is gone, and cannot take its temporary folder away."""
    folder = Path(os.environ.get("TMPDIR", ""))
    if folder.name.startswith(TEMPORARY):
        shutil.rmtree(folder, ignore_errors=True)


def _limit(limits: Limits | None) -> None:
    """Let the system hold this process to its limits too, with room to spare; None between files.

    The supervisor watches from outside; this stands by should it be gone, and lets one huge
    request for memory fail at once. Where a system has no such limits there are none.
    """
    if hasattr(signal, "setitimer"):
        seconds = 2.0 * limits.seconds + LEEWAY if limits is not None else 0.0
        signal.setitimer(signal.ITIMER_REAL, min(seconds, 1e8))
    if limits is not None and sys.platform == "linux":
        import resource

        resource.setrlimit(resource.RLIMIT_CORE, (0, resource.getrlimit(resource.RLIMIT_CORE)[1]))
        most = resource.getrlimit(resource.RLIMIT_DATA)[1]
        wanted = most if limits.memory_mb is None else _private_bytes() + limits.memory_mb * 2**20
        if most != resource.RLIM_INFINITY:
            wanted = min(wanted, most)
        resource.setrlimit(resource.RLIMIT_DATA, (wanted, most))


def _private_bytes() -> int:
    """The writable memory this process has reserved, used or not."""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmData:"):
            return int(line.split()[1]) * 1024
    return 0


def stay_inside() -> None:
    """From now on Python code of this process reaches no network and starts no program."""
    def refuse(event: str, _: tuple[object, ...]) -> None:
        if event.startswith(OUTSIDE):
            raise PermissionError(f"A worker that checks files does not do this: {event}.")

    sys.addaudithook(refuse)


def _check_with_host() -> tuple[str, Check]:
    import bpy
    from evenfold.host.batch import check_file

    from batch.depends import other_files

    def check(task: Task) -> Answer:
        result = check_file(task.path, task.settings, task.pictures)
        if result.error is not None:
            return Answer(result)
        return Answer(result, depends=other_files(Path(task.path)), lasting=True)

    return f"Blender {bpy.app.version_string}", check


def main() -> None:
    """Serve with the host of this process, and end without its tear-down, which may crash or hang."""
    requests, answers = own_ends(sys.argv)
    with contextlib.suppress(ValueError, OSError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    status = 1
    try:
        host, check = _check_with_host()
        stay_inside()
        serve(requests, answers, host, check)
        status = 0
    except ImportError as error:
        with contextlib.suppress(PipeError):
            write_frame(answers, f"!{error}".encode())
    finally:
        os._exit(status)


if __name__ == "__main__":
    main()
