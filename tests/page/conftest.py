"""The report page in a real browser without a screen, from disk, in the window host's tree."""

import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parents[1]
ROOT = TESTS.parent
for folder in (ROOT / "addon", ROOT / "tools", TESTS, TESTS / "window", TESTS / "page"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

from browser import Browser  # noqa: E402 - beside this file
from machine import end, mounted, take_turn  # noqa: E402
from window_host import ensure_window  # noqa: E402

OPENING = 30.0


def free_port() -> int:
    with socket.socket() as trial:
        trial.bind(("127.0.0.1", 0))
        return int(trial.getsockname()[1])


def answers(port: int) -> bool:
    with socket.socket() as trial:
        trial.settimeout(1.0)
        return trial.connect_ex(("127.0.0.1", port)) == 0


@pytest.fixture(scope="session")
def driver_port() -> Iterator[tuple[Path, int]]:
    """The tree and the port at which its browser's driver listens, on loopback only."""
    tree = ensure_window("sid")
    with take_turn(tree), mounted(tree):
        port = free_port()
        command = ["chroot", str(tree), "env", "chromedriver", f"--port={port}", "--log-level=SEVERE"]
        process = subprocess.Popen(command, stdout=subprocess.DEVNULL, start_new_session=True)
        try:
            end_time = time.monotonic() + OPENING
            while not answers(port) and time.monotonic() < end_time:
                time.sleep(0.1)
            yield tree, port
        finally:
            end(process)


@pytest.fixture(scope="session")
def opened(driver_port: tuple[Path, int]) -> Iterator[Browser]:
    tree, port = driver_port
    folder = tree / "tmp" / "evenfold-page"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    pictures = ROOT / "out" / "page"
    pictures.mkdir(parents=True, exist_ok=True)
    browser = Browser(port, tree, folder, pictures)
    yield browser
    browser.quit()
    shutil.rmtree(folder, ignore_errors=True)


@pytest.fixture
def browser(opened: Browser) -> Browser:
    """The browser as if it had just been started."""
    opened.afresh()
    return opened
