"""The private pipe between a supervisor and its worker: frames of a length and that many bytes.

It is not the standard output, on which Blender writes whatever it likes.
"""

import os
import struct
import subprocess
import sys
from collections.abc import Sequence

LENGTH = struct.Struct("<Q")
MOST_BYTES = 512 * 1024 * 1024
"""A longer frame is taken for damage; our choice, a hundred times what we met."""


class PipeError(Exception):
    """The other side has ended, or sends what is no frame."""


def write_frame(place: int, data: bytes) -> None:
    """Send the bytes to a file descriptor. Raises PipeError when the other side has ended."""
    view = memoryview(LENGTH.pack(len(data)) + data)
    try:
        while view:
            view = view[os.write(place, view[: 1 << 20]) :]
    except OSError as error:
        raise PipeError(str(error)) from error


def read_frame(place: int) -> bytes:
    """The next frame of a file descriptor. Raises PipeError when there is none any more."""
    (length,) = LENGTH.unpack(_read(place, LENGTH.size))
    if length > MOST_BYTES:
        raise PipeError("A frame is too long.")
    return bytes(_read(place, length))


def _read(place: int, length: int) -> bytearray:
    data = bytearray()
    while len(data) < length:
        try:
            part = os.read(place, min(length - len(data), 1 << 20))
        except OSError as error:
            raise PipeError(str(error)) from error
        if not part:
            raise PipeError("The other side has ended.")
        data += part
    return data


def start_with_pipe(command: Sequence[str], **options: object) -> tuple[subprocess.Popen[bytes], int, int]:
    """Start a process that gets the numbers of its two ends as last arguments: requests, answers.

    Gives the process and our ends: where to write requests and where to read answers. Raises
    OSError. Only these two ends are inherited.
    """
    theirs_in, ours_out = os.pipe()
    ours_in, theirs_out = os.pipe()
    try:
        numbers, passed = _inheritable(theirs_in, theirs_out)
        process = subprocess.Popen([*command, *numbers], **passed, **options)  # type: ignore[call-overload]
    except BaseException:
        os.close(ours_out)
        os.close(ours_in)
        raise
    finally:
        os.close(theirs_in)
        os.close(theirs_out)
    return process, ours_out, ours_in


def _inheritable(*places: int) -> tuple[list[str], dict[str, object]]:
    """The numbers the child knows its ends by, and what starting it needs for that.

    Windows passes handles, not descriptors; written from the documentation of ``msvcrt``, not run.
    """
    if sys.platform != "win32":
        return [str(one) for one in places], {"pass_fds": places}
    import msvcrt

    handles = [msvcrt.get_osfhandle(one) for one in places]
    for handle in handles:
        os.set_handle_inheritable(handle, True)
    info = subprocess.STARTUPINFO(lpAttributeList={"handle_list": handles})
    return [str(one) for one in handles], {"startupinfo": info, "close_fds": True}


def own_ends(arguments: Sequence[str]) -> tuple[int, int]:
    """The worker's two ends from its last arguments: requests, answers. Raises ValueError."""
    requests, answers = (int(one) for one in arguments[-2:])
    if sys.platform == "win32":
        import msvcrt

        requests = msvcrt.open_osfhandle(requests, os.O_RDONLY | os.O_BINARY)
        answers = msvcrt.open_osfhandle(answers, os.O_BINARY)
    for one in (requests, answers):
        os.set_inheritable(one, False)
    return requests, answers
