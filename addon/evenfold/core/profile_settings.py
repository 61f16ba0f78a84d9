"""Writing settings into a profile's text: what it says already stays as it stands, comments included."""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from .budget import Budget, set_of
from .errors import SettingsError
from .profile import with_canon
from .settings import Settings
from .toml_text import parsed, with_table, write_text

NAMES = tuple(entry.name for entry in fields(Settings) if entry.name not in ("canons", "budget"))
UNSAFE = "The profile is written in a way that cannot be changed safely: save to a new file."


def with_settings(text: str, settings: Settings) -> str:
    """The profile's ``text`` with these settings in it, so that reading it gives them again.

    Settings at their usual value are written only where the text has them already. Raises
    SettingsError for text that is not valid TOML.
    """
    before = parsed(text)
    wanted = wanted_of(before, settings)
    lines = re.findall(r"[^\n]*\n|[^\n]+", text)
    ending = "\r\n" if "\r\n" in text else "\n"
    written = "".join(_exchanged(lines, wanted, ending))
    expected = {name: value for name, value in before.items() if name not in NAMES} | wanted
    if parsed(written) != expected:
        raise SettingsError(UNSAFE)
    written = with_budget(written, settings.budget)
    for canon in settings.canons:
        written = with_canon(written, canon)
    return written


def with_budget(text: str, budget: Budget) -> str:
    """The profile's ``text`` with this budget in it. Raises SettingsError where that cannot be done safely."""
    before, wanted = parsed(text), set_of(budget)
    if before.get("budget", {}) == wanted:
        return text
    lines = [f"{name} = {write_text(value) if isinstance(value, str) else value}" for name, value in wanted.items()]
    written = with_table(text, ("budget",), ["[budget]", *lines])
    if written is None or parsed(written) != {**before, "budget": wanted}:
        raise SettingsError(UNSAFE)
    return written


def wanted_of(before: Mapping[str, Any], settings: Settings) -> dict[str, Any]:
    """What the text has to say at its top, by name: numbers, texts and lists."""
    usual = Settings()
    found: dict[str, Any] = {}
    for name in NAMES:
        value = getattr(settings, name)
        if value is not None and (name in before or value != getattr(usual, name)):
            found[name] = list(value) if isinstance(value, tuple) else value
    return found


def _exchanged(lines: list[str], wanted: Mapping[str, Any], ending: str) -> list[str]:
    """The lines with the wanted values in place of the old ones, new ones before the first table."""
    out: list[str] = []
    left, at = dict(wanted), 0
    while at < len(lines) and not lines[at].lstrip(" \t").startswith("["):
        end = _statement(lines, at)
        names = [name for name in parsed("".join(lines[at:end])) if name in NAMES]
        if not names:
            out += lines[at:end]
        elif names[0] in left:
            value = left.pop(names[0])
            kept = parsed("".join(lines[at:end]))[names[0]] == value
            out += lines[at:end] if kept else [_line(names[0], value, ending)]
        at = end
    if out and not out[-1].endswith("\n"):
        out[-1] += ending
    out += [_line(name, value, ending) for name, value in left.items()]
    gap = [ending] if left and at < len(lines) else []
    return [*out, *gap, *lines[at:]]


def _statement(lines: list[str], start: int) -> int:
    """Where the entry that begins at this line ends; a list may go over several lines."""
    for end in range(start + 1, len(lines) + 1):
        try:
            tomllib.loads("".join(lines[start:end]))
        except tomllib.TOMLDecodeError:
            continue
        return end
    return len(lines)


def _line(name: str, value: Any, ending: str) -> str:
    return f"{name} = {_written(value)}{ending}"


def _written(value: Any) -> str:
    if isinstance(value, str):
        return write_text(value)
    if isinstance(value, list):
        return f"[{', '.join(write_text(str(one)) for one in value)}]"
    return repr(float(value))
