"""Asking for files without stumbling over those the system will not tell of."""

from pathlib import Path


def is_folder(path: Path) -> bool:
    """Whether it is a folder; False also where that cannot be asked, as with names too long."""
    try:
        return path.is_dir()
    except OSError:
        return False


def is_there(path: Path) -> bool:
    """Whether it exists; False also where that cannot be asked."""
    try:
        return path.exists()
    except OSError:
        return False
