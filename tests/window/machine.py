"""The machine in the chroot: its screen, its Blender, its mouse and keyboard, and the tally."""

import fcntl
import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from screen import SIZE, WHOLE, Box, Screen, as_png

HERE = Path(__file__).resolve().parent
TOOLS = HERE.parent.parent / "tools"
sys.path.insert(0, str(TOOLS))
import window_host  # noqa: E402 - a tool

DEMO = TOOLS / "demo"
INSIDE = "/opt/evenfold-window"
STEP_SECONDS = 40.0
START_SECONDS = 90.0
BAD_WORDS = ("Traceback", "Error:", "ReferenceError", "EXCEPTION_", "segfault", "Segmentation")


class Window:
    """One Blender on a screen of its own; ``name`` tells its folder and display apart."""

    def __init__(self, root: Path, out: Path, name: str) -> None:
        self.root, self.out = root, out
        self.inside = f"{INSIDE}/{name}"
        self.shared = root / self.inside.lstrip("/")
        self.screen = Screen(root, f"{INSIDE}/screens/{name}")
        self.started: list[subprocess.Popen[bytes]] = []
        self.blender: subprocess.Popen[bytes] | None = None
        self.asked = 0
        self.edges = "plain"

    def run(self, *words: str, seconds: float = 60.0) -> subprocess.CompletedProcess[str]:
        command = ["chroot", str(self.root), "env", *self.settings(), *words]
        return subprocess.run(
            command, capture_output=True, text=True, timeout=seconds, check=False
        )

    def settings(self) -> tuple[str, ...]:
        return f"DISPLAY={self.screen.name}", "HOME=/root", "LIBGL_ALWAYS_SOFTWARE=1"

    def open_screen(self) -> None:
        self.started.append(self.screen.open(self.out / "screen.log"))

    def open_blender(self, scenario: str, edges: str = "plain") -> bool:
        """Start Blender with the inner side of a scenario; True once its sidebar is there.

        ``edges`` are those of ``draw_edges``.
        """
        bring(self.shared)
        self.asked = 0
        command = [
            "chroot", str(self.root), "env", *self.settings(), "blender", "--window-geometry",
            "0", "0", str(SIZE[0]), str(SIZE[1]),
            "--python", f"{self.inside}/{scenario}.py", "--", self.inside,
        ]
        with (self.out / self.log_name(scenario)).open("wb") as file:
            self.blender = subprocess.Popen(command, stdout=file, stderr=file, start_new_session=True)
        self.started.append(self.blender)
        try:
            there = bool(self.ask("sidebar_opens", START_SECONDS))
            self.draw_edges(edges)
        except TimeoutError:
            return False
        return there

    def draw_edges(self, how: str) -> None:
        """Edges of the view from now on: "plain", or smoothed as Blender does "unasked".

        Smoothing draws the view many times over, so it is left to parts of one scenario.
        """
        self.edges = how
        self.ask("smooth", how=how)
        self.settle(redraw=True)

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

    def settle(self, redraw: bool = False) -> None:
        """Wait until Blender has taken its events and has drawn all there is to draw."""
        self.ask("settle", redraw=redraw)

    def point(self, x: float, y: float) -> None:
        """Move the mouse there, arriving from a few pixels away, so that Blender notices."""
        near, there = (str(int(x) - 3), str(int(y))), (str(int(x)), str(int(y)))
        self.run("xdotool", "mousemove", *near, "mousemove", *there)
        self.settle()

    def click(self, x: float, y: float) -> None:
        self.point(x, y)
        self.press_button()

    def press_button(self) -> None:
        """Press and release the mouse's left button where it is."""
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

    def type(self, text: str) -> None:
        self.run("xdotool", "type", "--delay", "60", text)
        self.settle()

    def picture(self, name: str) -> Path:
        """The whole screen once it has come to rest, as a PNG file. Nothing is drawn for it."""
        self.settle()
        made = self.out / f"{name}.png"
        made.write_bytes(as_png(self.screen.steady(WHOLE), WHOLE.width))
        return made

    def smooth_picture(self, name: str) -> Path:
        """The same with smoothed edges, for the README: all of Blender's window is drawn three times."""
        self.ask("smooth", how="picture")
        self.settle(redraw=True)
        made = self.picture(name)
        self.ask("smooth", how=self.edges)
        return made

    def picture_at_rest(self, name: str) -> None:
        """The whole screen once it rests, where there is no 3D view that could be drawn anew."""
        time.sleep(1.0)
        (self.out / f"{name}.png").write_bytes(as_png(self.screen.steady(WHOLE), WHOLE.width))

    def take_anyway(self, name: str) -> None:
        """The screen as it is, even if Blender does not answer."""
        if self.screen.name:
            (self.out / f"{name}.png").write_bytes(as_png(self.screen.look(WHOLE), WHOLE.width))

    def pixels(self) -> bytes:
        """The free part of the 3D view once it has come to rest, three bytes a pixel."""
        x, y, width, height = self.ask("free_view")
        return self.steady(Box(x, SIZE[1] - y - height, width, height))

    def steady(self, box: Box) -> bytes:
        """Have the view drawn and wait until two looks at a part of the screen are equal."""
        self.settle(redraw=True)
        return self.screen.steady(box)

    def seen(self) -> dict[str, Any]:
        """What the scenario's inner side looks at, as it is now."""
        return dict(self.ask("see"))

    def wait(self, test: Callable[[dict[str, Any]], bool], seconds: float = STEP_SECONDS) -> bool:
        end_time = time.monotonic() + seconds
        while time.monotonic() < end_time:
            if test(self.seen()):
                return True
            time.sleep(0.05)
        return False

    def ask(self, what: str, seconds: float = STEP_SECONDS, **words: Any) -> Any:
        """Have the inner side do something by name; returns its answer, raises TimeoutError."""
        self.asked += 1
        answer, part = self.shared / "answer.json", self.shared / "ask.part"
        answer.unlink(missing_ok=True)
        part.write_text(json.dumps({"number": self.asked, "what": what, "words": words}))
        part.replace(self.shared / "ask.json")
        end_time = time.monotonic() + seconds
        while time.monotonic() < end_time and self.alive():
            if answer.exists():
                told = json.loads(answer.read_text(encoding="utf-8"))
                if told["number"] == self.asked:
                    return told["answer"]
            time.sleep(0.005)
        raise TimeoutError(f"Blender gave no answer to {what}")


def end(process: subprocess.Popen[bytes]) -> None:
    if process.poll() is None:
        os.killpg(process.pid, signal.SIGTERM)
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait(10)


class Tally:
    """What passed and failed in one scenario; lines of several come out one at a time."""

    writing = threading.Lock()

    def __init__(self, name: str) -> None:
        self.name = name
        self.passed = self.failed = 0

    def note(self, what: str, good: bool) -> bool:
        self.passed += good
        self.failed += not good
        with self.writing:
            sys.stdout.write(f"{'pass' if good else 'FAIL'}  {self.name}: {what}\n")
            sys.stdout.flush()
        return good


@contextmanager
def take_turn(root: Path, seconds: float = 900.0) -> Iterator[None]:
    """Wait until no other run uses this chroot, and keep others out."""
    with (root / "tmp" / "evenfold-window.lock").open("w") as lock:
        end_time = time.monotonic() + seconds
        while True:
            try:
                fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if time.monotonic() > end_time:
                    raise
                time.sleep(1.0)
        yield


@contextmanager
def mounted(root: Path) -> Iterator[None]:
    """Have /proc and /dev in the tree."""
    made = window_host.mount(root)
    try:
        yield
    finally:
        window_host.unmount(made)


def bring(folder: Path) -> None:
    """A folder with nothing but the inner sides and the demo's figures in it."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    for path in (*(HERE / "inside").glob("*.py"), *DEMO.glob("*.py")):
        shutil.copy(path, folder / path.name)


def install(root: Path, archive: Path, out: Path) -> bool:
    """Install the zip in the Blender of a tree and enable it."""
    place = root / INSIDE.lstrip("/")
    place.mkdir(parents=True, exist_ok=True)
    shutil.copy(archive, place / "evenfold.zip")
    command = [
        "chroot", str(root), "env", "HOME=/root", "blender", "--command", "extension", "install-file",
        "-r", "user_default", "--enable", f"{INSIDE}/evenfold.zip",
    ]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    (out / "install.log").write_text(done.stdout + done.stderr, encoding="utf-8")
    return done.returncode == 0
