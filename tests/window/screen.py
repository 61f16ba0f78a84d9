"""A virtual screen in the chroot whose pixels are read from its memory, and pictures of them.

The screen server keeps its pixels in a file in the X window dump format, so that a look at the
screen costs no more than reading it.
"""

import os
import struct
import subprocess
import time
import zlib
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

SIZE = (1600, 1400)
"""Tall, so that the whole sidebar fits without scrolling."""
HEADER = 25
"""Numbers at the start of a dump, four bytes each, the highest first."""
COLOUR = 12
"""Bytes of each entry of a dump's table of colours."""
OPENING = 20.0


@dataclass(frozen=True)
class Box:
    """A part of the screen in pixels, from the upper left."""

    x: int
    y: int
    width: int
    height: int


WHOLE = Box(0, 0, *SIZE)


class ScreenError(OSError):
    """The virtual screen did not open."""


class Screen:
    """A screen server and its pixels. ``folder`` is the place for them as seen from the chroot."""

    def __init__(self, root: Path, folder: str) -> None:
        self.memory = root / folder.lstrip("/") / "Xvfb_screen0"
        self.memory.parent.mkdir(parents=True, exist_ok=True)
        self.command = [
            "chroot", str(root), "Xvfb", "-screen", "0", f"{SIZE[0]}x{SIZE[1]}x24", "-fbdir", folder,
            "+extension", "GLX", "+render", "-noreset", "-nocursor",
        ]
        self.name = ""

    def open(self, log: Path) -> subprocess.Popen[bytes]:
        """Start the server on a free display; raises ScreenError."""
        told, tell = os.pipe()
        with log.open("wb") as file:
            process = subprocess.Popen(
                [*self.command, "-displayfd", str(tell)], stdout=file, stderr=file, pass_fds=(tell,),
                start_new_session=True,
            )
        os.close(tell)
        with os.fdopen(told, encoding="ascii") as answer:
            number = answer.readline().strip()
        end_time = time.monotonic() + OPENING
        while not self.memory.exists() and time.monotonic() < end_time:
            time.sleep(0.05)
        if not number or not self.memory.exists():
            raise ScreenError("The virtual screen did not open.")
        self.name = f":{number}"
        return process

    def look(self, box: Box) -> bytes:
        """The pixels of a part of the screen, three bytes each, row by row."""
        dump = self.memory.read_bytes()
        head = struct.unpack(f">{HEADER}I", dump[: 4 * HEADER])
        start, across = head[0] + COLOUR * head[19], head[12]
        rows = range(box.y, box.y + box.height)
        first, last = 4 * box.x, 4 * (box.x + box.width)
        raw = b"".join(dump[start + row * across + first : start + row * across + last] for row in rows)
        pixels = bytearray(3 * box.width * box.height)
        for channel in range(3):
            pixels[channel::3] = raw[2 - channel :: 4]
        return bytes(pixels)


def steady(look: Callable[[], bytes], every: float = 0.1, seconds: float = 6.0) -> bytes:
    """Look until two looks in a row are equal, or the time is over."""
    before, end_time = look(), time.monotonic() + seconds
    while time.monotonic() < end_time:
        time.sleep(every)
        now = look()
        if now == before:
            break
        before = now
    return before


def as_png(pixels: bytes, width: int) -> bytes:
    """A PNG file of rows of pixels of three bytes."""
    across = 3 * width
    height = len(pixels) // across
    rows = b"".join(b"\0" + pixels[at * across : (at + 1) * across] for at in range(height))
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(rows, 4)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))
        for name, content in parts
    )


def differing(one: bytes, other: bytes) -> int:
    """How many pixels of two pictures of the same size differ."""
    if len(one) != len(other):
        raise ValueError("The view changed its size between two pictures.")
    count = len(one) // 3
    channels = [int.from_bytes(one[at::3]) ^ int.from_bytes(other[at::3]) for at in range(3)]
    return count - (channels[0] | channels[1] | channels[2]).to_bytes(count).count(0)


def coloured(view: bytes, colours: Mapping[str, tuple[int, int, int]], reach: int = 4) -> dict[str, int]:
    """How many pixels of a picture have each colour, no channel further off than ``reach``."""
    seen = Counter(zip(view[0::3], view[1::3], view[2::3], strict=True))
    return {
        name: sum(
            times for pixel, times in seen.items()
            if all(abs(a - b) <= reach for a, b in zip(pixel, wanted, strict=True))
        )
        for name, wanted in colours.items()
    }
