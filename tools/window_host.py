"""Real Blenders with a window on a machine without a screen: Debian trees to chroot into.

The tree of a suite holds that suite's Blender, a virtual screen, a mouse and a keyboard; the
newest one holds a browser too, which opens the report pages.
"""

import os
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from setup_env import cache_folder

PACKAGES = (
    "blender", "python3-numpy", "python3-cattr", "python3-requests", "xvfb", "xauth", "libgl1-mesa-dri",
    "libegl1", "xdotool", "imagemagick", "fonts-dejavu-core",
)
NEEDED = (
    "usr/bin/blender", "usr/bin/xvfb-run", "usr/bin/xdotool", "usr/bin/import",
    "usr/lib/python3/dist-packages/numpy/version.py",
)
SHARED = ("proc", "dev")


@dataclass(frozen=True)
class Suite:
    """What the tree of one Debian suite holds beside Blender, and by which files that is known."""

    packages: tuple[str, ...] = ()
    needed: tuple[str, ...] = ()


SUITES = {
    "sid": Suite(("chromium", "chromium-driver"), ("usr/bin/chromium", "usr/bin/chromedriver")),
    "trixie": Suite(),
}


class NoWindowError(Exception):
    """The tree cannot be made or entered; the text says what is missing."""


def ensure_window(suite: str = "sid") -> Path:
    """The tree's folder, made or completed if need be; raises NoWindowError."""
    tree = cache_folder() / "window" / suite
    if os.name != "posix" or os.geteuid() != 0:
        raise NoWindowError("The window tests need Linux and root, to enter a chroot.")
    try:
        # lexists: the links in the tree point to places inside the tree.
        if not all(os.path.lexists(tree / name) for name in (*NEEDED, *SUITES[suite].needed)):
            build(tree, suite)
    except subprocess.CalledProcessError as error:
        raise NoWindowError(f"Preparing the window host failed: {error}") from error
    return tree


def ensure_windows() -> dict[str, Path]:
    """The trees of all suites, made side by side if need be; raises NoWindowError."""
    with ThreadPoolExecutor() as pool:
        return dict(zip(SUITES, pool.map(ensure_window, SUITES), strict=True))


def build(tree: Path, suite: str) -> None:
    """Make the Debian tree and install Blender in it; a few minutes and 2 GB."""
    if shutil.which("debootstrap") is None:
        raise NoWindowError("debootstrap is missing: apt-get install debootstrap")
    print(f"Making the window host of {suite} (about 2 GB) …", flush=True)
    tree.parent.mkdir(parents=True, exist_ok=True)
    if not (tree / "usr/bin/apt-get").exists():
        subprocess.run(["debootstrap", "--variant=minbase", suite, str(tree)], check=True)
    mounted = mount(tree)
    try:
        install(tree, (*PACKAGES, *SUITES[suite].packages))
    finally:
        unmount(mounted)


def mount(tree: Path) -> list[Path]:
    """Bind /proc and /dev unless they are there already; returns what was mounted now."""
    made = []
    for name in SHARED:
        target = tree / name
        if not os.path.ismount(target):
            subprocess.run(["mount", "--bind", f"/{name}", str(target)], check=True, timeout=20)
            made.append(target)
    return made


def unmount(mounted: list[Path]) -> None:
    """Take away what ``mount`` has put there."""
    for target in reversed(mounted):
        subprocess.run(["umount", "-l", str(target)], check=False, timeout=20)


def install(tree: Path, packages: tuple[str, ...]) -> None:
    """Install the packages in the tree, without what they only recommend."""
    apt = ["chroot", str(tree), "apt-get", "-o", "Acquire::Check-Valid-Until=false", "-q"]
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run([*apt, "update"], check=True, env=quiet)
    subprocess.run(
        [*apt, "install", "-y", "--no-install-recommends", *packages], check=True, env=quiet
    )


def main() -> int:
    """Make all trees now."""
    try:
        for suite, tree in ensure_windows().items():
            print(f"{suite}: {tree}")
    except NoWindowError as error:
        print(error, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
