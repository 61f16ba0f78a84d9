"""A real Blender with a window on a machine without a screen: a Debian tree to chroot into."""

import os
import shutil
import subprocess
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


class NoWindowError(Exception):
    """The tree cannot be made or entered; the text says what is missing."""


def ensure_window() -> Path:
    """The tree's folder, made if missing; raises NoWindowError."""
    tree = cache_folder() / "window" / "sid"
    if os.name != "posix" or os.geteuid() != 0:
        raise NoWindowError("The window tests need Linux and root, to enter a chroot.")
    try:
        # lexists: the links in the tree point to places inside the tree.
        if not all(os.path.lexists(tree / name) for name in NEEDED):
            build(tree)
    except subprocess.CalledProcessError as error:
        raise NoWindowError(f"Preparing the window host failed: {error}") from error
    return tree


def build(tree: Path) -> None:
    """Make the Debian tree and install Blender in it; a few minutes and 2 GB."""
    if shutil.which("debootstrap") is None:
        raise NoWindowError("debootstrap is missing: apt-get install debootstrap")
    print("Making the window host (about 2 GB) …", flush=True)
    tree.parent.mkdir(parents=True, exist_ok=True)
    if not (tree / "usr/bin/apt-get").exists():
        subprocess.run(["debootstrap", "--variant=minbase", "sid", str(tree)], check=True)
    for name in ("proc", "dev"):
        subprocess.run(["mount", "--bind", f"/{name}", str(tree / name)], check=True)
    try:
        install(tree)
    finally:
        for name in ("dev", "proc"):
            subprocess.run(["umount", "-l", str(tree / name)], check=False)


def install(tree: Path) -> None:
    """Install Blender, a virtual screen and a mouse in the tree."""
    apt = ["chroot", str(tree), "apt-get", "-o", "Acquire::Check-Valid-Until=false", "-q"]
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run([*apt, "update"], check=True, env=quiet)
    subprocess.run(
        [*apt, "install", "-y", "--no-install-recommends", *PACKAGES], check=True, env=quiet
    )
