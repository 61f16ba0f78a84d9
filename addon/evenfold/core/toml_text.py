"""TOML as text: writing values and exchanging one table, with every other line left as it was."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from .errors import SettingsError

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPES = {"\\": "\\\\", '"': '\\"', "\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r"}


def write_key(key: str) -> str:
    """A TOML key, in quotes where it needs them."""
    return key if _BARE.fullmatch(key) else write_text(key)


def write_text(text: str) -> str:
    """A TOML basic string. Raises SettingsError for text that is not valid Unicode."""
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise SettingsError(f"{text!r} cannot be written to a profile: rename it.") from error
    out = []
    for sign in text:
        plain = sign >= " " and sign != "\x7f"
        out.append(_ESCAPES.get(sign) or (sign if plain else f"\\u{ord(sign):04x}"))
    return f'"{"".join(out)}"'


def write_number(value: float) -> str:
    return repr(round(float(value), 9))


def write_table(values: Mapping[str, float]) -> str:
    inside = ", ".join(f"{write_key(name)} = {write_number(value)}" for name, value in values.items())
    return f"{{ {inside} }}" if inside else "{}"


def parsed(text: str) -> dict[str, Any]:
    """What a profile's text sets. Raises SettingsError for text that is not TOML, or that no one wrote."""
    try:
        return toml_of(text)
    except ValueError as error:
        raise SettingsError(f"The profile is not valid TOML: {error}.") from error


def toml_of(text: str) -> dict[str, Any]:
    """The values of a TOML text. Raises ValueError with the reason, also where it is nested too deeply."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        raise
    except ValueError as error:
        raise ValueError("a number in it has too many digits") from error
    except RecursionError as error:
        raise ValueError("its lists or tables are nested too deeply") from error


def with_table(text: str, path: tuple[str, ...], table: Sequence[str]) -> str | None:
    """The ``text`` with the lines of ``table`` in place of the table at ``path``, every other line as it was.

    None where what comes out is no TOML any more.
    """
    ending = "\r\n" if "\r\n" in text else "\n"
    lines = re.findall(r"[^\n]*\n|[^\n]+", text)
    written = "".join(_spliced(lines, [line + ending for line in table], path, ending))
    try:
        tomllib.loads(written)
    except tomllib.TOMLDecodeError:
        return None
    return written


def _spliced(lines: list[str], block: list[str], path: tuple[str, ...], ending: str) -> list[str]:
    """The lines with ``block`` in place of the table at ``path``, or after all of them."""
    headers = [(number, found) for number in range(len(lines)) if (found := _header(lines, number))]
    own: list[tuple[int, int]] = []
    for place, (start, found) in enumerate(headers):
        if found[: len(path)] == path:
            end = headers[place + 1][0] if place + 1 < len(headers) else len(lines)
            own.append((start, _without_tail(lines, start, end)))
    if not own:
        kept = list(lines)
        if kept and not kept[-1].endswith("\n"):
            kept[-1] += ending
        gap = [ending] if kept and kept[-1].strip() else []
        return [*kept, *gap, *block]
    out = list(lines)
    for start, end in reversed(own[1:]):
        del out[start:end]
    start, end = own[0]
    out[start:end] = block
    return out


def _without_tail(lines: list[str], start: int, end: int) -> int:
    """Where a table ends if blank lines and comments before the next one belong to that."""
    while end > start + 1 and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1
    return end


def _header(lines: list[str], number: int) -> tuple[str, ...] | None:
    """The path of the table that begins at this line, None where none begins.

    What stands before a header is a whole document; inside a text or list of several lines it
    is not.
    """
    if not lines[number].lstrip(" \t").startswith("["):
        return None
    try:
        tomllib.loads("".join(lines[:number]))
        inside: object = tomllib.loads(lines[number])
    except tomllib.TOMLDecodeError:
        return None
    path: list[str] = []
    while inside:
        if isinstance(inside, list):
            inside = inside[0]
            continue
        if not isinstance(inside, dict):
            return None
        key, inside = next(iter(inside.items()))
        path.append(key)
    return tuple(path)
