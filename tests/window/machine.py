"""The machine in the chroot: its screen, its Blender, its mouse and keyboard, and the tally."""

import fcntl
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TextIO

HERE = Path(__file__).resolve().parent
DEMO = HERE.parent.parent / "tools" / "demo"
INSIDE = "/opt/evenfold-window"
DISPLAY = ":77"
SIZE = (1600, 1400)
"""Tall, so that the whole sidebar fits without scrolling."""
STEP_SECONDS = 40.0
BAD_WORDS = ("Traceback", "Error:", "ReferenceError", "EXCEPTION_", "segfault", "Segmentation")


class Window:
    def __init__(self, root: Path, out: Path) -> None:
        self.root, self.out = root, out
        self.shared = root / INSIDE.lstrip("/")
        self.started: list[subprocess.Popen[bytes]] = []
        self.blender: subprocess.Popen[bytes] | None = None
        self.asked = 0
        self.places: dict[str, tuple[int, int]] = {}

    def run(self, *words: str, seconds: float = 60.0) -> subprocess.CompletedProcess[str]:
        command = ["chroot", str(self.root), "env", f"DISPLAY={DISPLAY}", "HOME=/root", *words]
        return subprocess.run(
            command, capture_output=True, text=True, timeout=seconds, check=False
        )

    def start(self, *words: str, log: str) -> subprocess.Popen[bytes]:
        command = [
            "chroot", str(self.root), "env", f"DISPLAY={DISPLAY}", "HOME=/root",
            "LIBGL_ALWAYS_SOFTWARE=1", *words,
        ]
        with (self.out / log).open("wb") as file:
            process = subprocess.Popen(command, stdout=file, stderr=file, start_new_session=True)
        self.started.append(process)
        return process

    def open_screen(self) -> None:
        self.start(
            "Xvfb", DISPLAY, "-screen", "0", f"{SIZE[0]}x{SIZE[1]}x24", "+extension", "GLX",
            "+render", "-noreset", log="screen.log",
        )
        time.sleep(2.0)

    def open_blender(self, scenario: str) -> bool:
        """Start Blender with the inner side of a scenario; True once its sidebar is there."""
        for name in ("seen.json", "ask.json", "answer.json"):
            (self.shared / name).unlink(missing_ok=True)
        self.asked = 0
        self.places.clear()
        self.blender = self.start(
            "blender", "--window-geometry",
            "0", "0", str(SIZE[0]), str(SIZE[1]),
            "--python", f"{INSIDE}/{scenario}.py", "--", INSIDE, log=self.log_name(scenario),
        )
        return self.wait(lambda seen: seen.get("sidebar", {}).get("width", 0) > 1, 90)

    @staticmethod
    def log_name(scenario: str) -> str:
        return f"blender-{scenario}.log"

    def complaints(self, scenario: str) -> list[str]:
        """Lines of Blender's console that speak of an error."""
        text = (self.out / self.log_name(scenario)).read_text(encoding="utf-8", errors="replace")
        return [line for line in text.splitlines() if any(word in line for word in BAD_WORDS)]

    def alive(self) -> bool:
        return self.blender is not None and self.blender.poll() is None

    def close_blender(self) -> None:
        if self.blender is not None:
            end(self.blender)
            self.started.remove(self.blender)
            self.blender = None

    def stop(self) -> None:
        for process in reversed(self.started):
            end(process)

    def settle(self) -> None:
        """Wait until Blender has had several turns to take events and to draw."""
        time.sleep(0.1)
        self.ask("settle")

    def point(self, x: float, y: float) -> None:
        """Move the mouse there, arriving from a few pixels away, so that Blender notices."""
        self.run("xdotool", "mousemove", str(int(x) - 3), str(int(y)))
        self.settle()
        self.run("xdotool", "mousemove", str(int(x)), str(int(y)))
        self.settle()

    def click(self, x: float, y: float) -> None:
        self.point(x, y)
        self.run("xdotool", "mousedown", "1")
        self.settle()
        self.run("xdotool", "mouseup", "1")
        self.settle()

    def wheel(self, x: float, y: float, turns: int) -> None:
        """Turn the wheel there, down for more than 0."""
        self.point(x, y)
        self.run("xdotool", "click", "--repeat", str(abs(turns)), "--delay", "15", "5" if turns > 0 else "4")
        self.settle()

    def key(self, name: str) -> None:
        self.run("xdotool", "key", name)
        self.settle()

    def picture(self, name: str) -> Path:
        """The whole screen once it has come to rest, as a PNG file."""
        self.steady(f"{SIZE[0]}x{SIZE[1]}+0+0")
        self.run("import", "-window", "root", f"{INSIDE}/{name}.png")
        return Path(shutil.copy(self.shared / f"{name}.png", self.out / f"{name}.png"))

    def pixels(self) -> bytes:
        """The free part of the 3D view once it has come to rest, three bytes a pixel."""
        self.ask("settle")
        x, y, width, height = self.ask("free_view")
        return self.steady(f"{width}x{height}+{x}+{SIZE[1] - y - height}")

    def steady(self, crop: str) -> bytes:
        """Have the view drawn and wait until two looks at a part of the screen are equal."""
        self.ask("settle", redraw=True)
        before = self.look(crop)
        for _attempt in range(12):
            time.sleep(0.4)
            now = self.look(crop)
            if now == before:
                break
            before = now
        return before

    def look(self, crop: str) -> bytes:
        self.run(
            "import", "-window", "root", "-crop", crop, "+repage", "-depth", "8",
            f"{INSIDE}/look.ppm",
        )
        return (self.shared / "look.ppm").read_bytes().split(b"\n", 3)[3]

    def seen(self) -> dict[str, Any]:
        path = self.shared / "seen.json"
        return json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}

    def wait(self, test: Callable[[dict[str, Any]], bool], seconds: float = STEP_SECONDS) -> bool:
        end_time = time.monotonic() + seconds
        while time.monotonic() < end_time:
            seen = self.seen()
            if seen and test(seen):
                return True
            time.sleep(0.2)
        return False

    def ask(self, what: str, seconds: float = STEP_SECONDS, **words: Any) -> Any:
        """Have the inner side do something by name; returns its answer, raises TimeoutError."""
        self.asked += 1
        part = self.shared / "ask.part"
        part.write_text(json.dumps({"number": self.asked, "what": what, "words": words}))
        part.replace(self.shared / "ask.json")
        answer = self.shared / "answer.json"
        end_time = time.monotonic() + seconds
        while time.monotonic() < end_time:
            if answer.exists():
                told = json.loads(answer.read_text(encoding="utf-8"))
                if told["number"] == self.asked:
                    return told["answer"]
            time.sleep(0.05)
        raise TimeoutError(f"Blender gave no answer to {what}")


def differing(one: bytes, other: bytes) -> int:
    """How many pixels of two pictures of the same size differ."""
    if len(one) != len(other):
        raise ValueError("The view changed its size between two pictures.")
    return sum(one[at : at + 3] != other[at : at + 3] for at in range(0, len(one), 3))


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


def end(process: subprocess.Popen[bytes]) -> None:
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGTERM)
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(10)


class Tally:
    def __init__(self) -> None:
        self.passed = self.failed = 0

    def note(self, what: str, good: bool) -> bool:
        self.passed += good
        self.failed += not good
        sys.stdout.write(f"{'pass' if good else 'FAIL'}  {what}\n")
        sys.stdout.flush()
        return good


def take_turn(root: Path, seconds: float = 900.0) -> TextIO:
    """Wait until no other run uses this chroot; the lock lasts until the file is closed."""
    lock = (root / "tmp" / "evenfold-window.lock").open("w")
    end_time = time.monotonic() + seconds
    while True:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return lock
        except BlockingIOError:
            if time.monotonic() > end_time:
                raise
            time.sleep(1.0)


def mount(root: Path) -> list[Path]:
    """Bind /proc and /dev unless they are there already; returns what was mounted now."""
    made = []
    for name in ("proc", "dev"):
        target = root / name
        if not os.path.ismount(target):
            subprocess.run(["mount", "--bind", f"/{name}", str(target)], check=True, timeout=20)
            made.append(target)
    return made


def install(window: Window, archive: Path) -> bool:
    """Bring the inner sides and the demo's figures in, install the zip and enable it."""
    shutil.rmtree(window.shared, ignore_errors=True)
    window.shared.mkdir(parents=True)
    shutil.copy(archive, window.shared / "evenfold.zip")
    for path in (*(HERE / "inside").glob("*.py"), *DEMO.glob("*.py")):
        shutil.copy(path, window.shared / path.name)
    done = window.run(
        "blender", "--command", "extension", "install-file", "-r", "user_default", "--enable",
        f"{INSIDE}/evenfold.zip", seconds=120,
    )
    (window.out / "install.log").write_text(done.stdout + done.stderr, encoding="utf-8")
    return done.returncode == 0
