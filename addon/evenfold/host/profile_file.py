"""Reading a profile's text and putting a canon into it, all of the file or nothing."""

import contextlib
import os
from pathlib import Path

from ..core.canon import Canon
from ..core.errors import SettingsError
from ..core.profile import canon_names, with_canon
from ..core.profile_settings import with_settings
from ..core.settings import Settings
from .paths import is_there


def save_canon(path: Path, canon: Canon, *, replace: bool = False) -> bool:
    """Write the canon into the profile at ``path``; True if the file is new.

    Every other line stays as it was. Raises SettingsError when it cannot be read or written, and
    where it holds a canon of this name already that is not to be replaced.
    """
    new = not is_there(path)
    text = "" if new else read_text(path)
    if not replace and canon.key in canon_names(text):
        raise SettingsError(
            f"{path.name} holds a canon {canon.key} already: choose another name, or tick Replace to write over it."
        )
    write_text(path, with_canon(text, canon))
    return new


def save_settings(path: Path, settings: Settings) -> bool:
    """Write the settings into the profile at ``path``; True if the file is new.

    Comments and all else it holds stay. Raises SettingsError when it cannot be read or written.
    """
    new = not is_there(path)
    text = "" if new else read_text(path)
    write_text(path, with_settings(text, settings))
    return new


def read_text(path: Path) -> str:
    """The file's text with its own line ends. Raises SettingsError."""
    try:
        return path.read_bytes().decode("utf-8")
    except OSError as error:
        raise SettingsError(f"The profile {path} cannot be read: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        raise SettingsError(f"The profile {path} is not a text in UTF-8: choose another file.") from error


def write_text(path: Path, text: str) -> None:
    """All of the text or nothing of it; a link keeps pointing where it did. Raises SettingsError."""
    target = path.resolve()
    partial = target.with_name(f".{target.name}.{os.getpid()}")
    try:
        mode = target.stat().st_mode & 0o777 if target.exists() else None
        partial.write_bytes(text.encode("utf-8"))
        if mode is not None:
            partial.chmod(mode)
        partial.replace(target)
    except OSError as error:
        raise SettingsError(f"The profile {path} cannot be written: {error.strerror}.") from error
    finally:
        with contextlib.suppress(OSError):
            partial.unlink(missing_ok=True)
