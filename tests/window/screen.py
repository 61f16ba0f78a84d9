"""A virtual screen in the chroot whose pixels are read from its memory, and pictures of them.

The screen server keeps its pixels in a file in the X window dump format, so that a look at the
screen costs no more than reading it.
"""

import os
import struct
import subprocess
import time
import zlib
from collections.abc import Mapping
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
        return as_pixels(self._memory_of(box))

    def steady(self, box: Box, every: float = 0.1, seconds: float = 6.0) -> bytes:
        """Look until two looks in a row are equal, or the time is over; the pixels seen last."""
        before, end_time = self._memory_of(box), time.monotonic() + seconds
        while time.monotonic() < end_time:
            time.sleep(every)
            now = self._memory_of(box)
            if now == before:
                break
            before = now
        return as_pixels(before)

    def _memory_of(self, box: Box) -> bytes:
        """A part of the screen as it is kept: four bytes a pixel, blue first, the fourth unused."""
        with self.memory.open("rb") as dump:
            head = struct.unpack(f">{HEADER}I", dump.read(4 * HEADER))
            across = head[12]
            dump.seek(head[0] + COLOUR * head[19] + box.y * across)
            rows = dump.read(box.height * across)
        first, last = 4 * box.x, 4 * (box.x + box.width)
        return b"".join(rows[at + first : at + last] for at in range(0, len(rows), across))


def as_pixels(memory: bytes) -> bytes:
    """Three bytes a pixel, red first, of a screen's memory."""
    pixels = bytearray(3 * (len(memory) // 4))
    for channel in range(3):
        pixels[channel::3] = memory[2 - channel :: 4]
    return bytes(pixels)


def as_png(pixels: bytes, width: int) -> bytes:
    """A PNG file of rows of pixels of three bytes."""
    across = 3 * width
    height = len(pixels) // across
    rows = b"".join(b"\0" + pixels[at * across : (at + 1) * across] for at in range(height))
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(rows, 1)), (b"IEND", b""))
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
    return {name: alike.count(1) for name, alike in masks(view, colours, reach).items()}


def masks(view: bytes, colours: Mapping[str, tuple[int, int, int]], reach: int) -> dict[str, bytes]:
    """One byte a pixel of a picture for each colour: 1 where no channel is further off, else 0."""
    count, channels = len(view) // 3, [view[at::3] for at in range(3)]
    found = {}
    for name, wanted in colours.items():
        near = [
            int.from_bytes(channel.translate(bytes(abs(level - value) <= reach for level in range(256))))
            for channel, value in zip(channels, wanted, strict=True)
        ]
        found[name] = (near[0] & near[1] & near[2]).to_bytes(count)
    return found
