"""What a result rests on besides the file: this tool's own code and the Blender that checks."""

import functools
import hashlib
import importlib.util
import os
import stat
import sys
from pathlib import Path

from evenfold.core.errors import EvenfoldError
from evenfold.core.report.as_json import tool_name

from .packing import pack
from .task import Task

ADDON = Path(__file__).resolve().parents[2] / "addon" / "evenfold"
OWN = ("task.py", "packing.py", "worker.py", "depends.py")
"""Of this package, what has a part in a result."""


class UnknownHostError(EvenfoldError):
    """Python finds no Blender module."""


@functools.cache
def tool_mark() -> str:
    """The version with a digest of every source file that has a part in a result."""
    sources = [*sorted((ADDON / "core").rglob("*.py")), *sorted((ADDON / "host").rglob("*.py"))]
    sources += [Path(__file__).with_name(name) for name in OWN]
    digest = hashlib.sha256()
    for source in sources:
        data = source.read_bytes()
        digest.update(f"{source.name} {len(data)} ".encode() + data)
    return f"{tool_name()} {digest.hexdigest()}"


@functools.cache
def host_mark() -> str:
    """Tells this machine's Blender from every other without starting it. Raises UnknownHostError."""
    bpy = sys.modules.get("bpy")
    if bpy is not None:
        build = getattr(bpy.app, "build_hash", b"")
        return f"{bpy.app.version_string} {build!r} {sys.version}"
    found = importlib.util.find_spec("bpy")
    if found is None or found.origin is None:
        raise UnknownHostError("This Python has no bpy: make one with tools/setup_env.py, or use Blender's.")
    own = Path(found.origin).stat()
    return f"{found.origin} {own.st_size} {own.st_mtime_ns} {sys.version}"


def digest_of(*parts: str | bytes) -> str:
    """One name for several parts; no two lists of parts have the same."""
    digest = hashlib.sha256()
    for part in parts:
        data = part.encode("utf-8", "surrogatepass") if isinstance(part, str) else part
        digest.update(len(data).to_bytes(8, "little") + data)
    return digest.hexdigest()


def settings_mark(task: Task) -> bytes:
    """What of a task decides its result, besides the file: settings and pictures, not the limits."""
    return pack(task.settings) + bytes([task.pictures])


def look_of(path: str | Path) -> str:
    """Size and time of a regular file, "" for anything else: tells quickly that nothing was written."""
    try:
        found = os.stat(path)  # noqa: PTH116 - by the name as it is given
    except (OSError, ValueError):
        return ""
    return f"{found.st_size} {found.st_mtime_ns} {found.st_ino}" if stat.S_ISREG(found.st_mode) else ""


def content_of(path: str | Path, most: int | None = None) -> str:
    """A digest of a regular file's bytes; "" where there is none, or more than ``most`` bytes.

    Never waits for a pipe or a device that has the file's name.
    """
    try:
        place = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with open(place, "rb") as file:  # noqa: PTH123 - a descriptor
            found = os.fstat(file.fileno())
            if not stat.S_ISREG(found.st_mode) or (most is not None and found.st_size > most):
                return ""
            return hashlib.file_digest(file, "sha256").hexdigest()
    except (OSError, ValueError):
        return ""
