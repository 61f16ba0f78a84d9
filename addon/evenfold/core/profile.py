"""A profile's own canons: reading them from its tables, and writing one without touching the rest."""

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from .canon import Canon
from .errors import SettingsError
from .values import is_number, shown

KNOWN = ("heads", "levels", "name", "source", "spans", "spread", "status")
OWN_SOURCE = "this profile, which names no source"
NO_NAME = "NONE"
"""What the panels store where no canon is chosen."""
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPES = {"\\": "\\\\", '"': '\\"', "\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r"}


def read_canons(tables: object) -> tuple[Canon, ...]:
    """The canons of a profile's ``[canons.NAME]`` tables. Raises SettingsError with the reason."""
    if not isinstance(tables, Mapping):
        raise SettingsError("canons must hold tables such as [canons.NAME].")
    if NO_NAME in tables:
        raise SettingsError(f"A canon cannot be named {NO_NAME}, which stands for no canon: rename it.")
    return tuple(_canon(str(key), table) for key, table in tables.items())


def _canon(key: str, table: object) -> Canon:
    if not isinstance(table, Mapping):
        raise SettingsError(f"The canon {key} must be a table [canons.{write_key(key)}] with heads and levels.")
    unknown = sorted(set(table) - set(KNOWN))
    if unknown:
        raise SettingsError(f"The canon {key} sets {', '.join(unknown)}, but only {', '.join(KNOWN)} are known.")
    if "heads" not in table:
        raise SettingsError(f"The canon {key} says no heads: add how many heads tall it is.")
    for name in ("levels", "spans"):
        if not isinstance(table.get(name, {}), Mapping):
            raise SettingsError(f"{name} of the canon {key} must be a table of landmarks and heads.")
    words = {"name": key, "source": OWN_SOURCE, "status": "own", **table}
    for name in ("name", "source", "status"):
        if not isinstance(words[name], str):
            raise SettingsError(f"{name} of the canon {key} must be a text, not {shown(words[name])}.")
    spread = table.get("spread")
    if spread is not None and not is_number(spread):
        raise SettingsError(f"spread of the canon {key} must be a number of heads, not {shown(spread)}.")
    return Canon(
        key, str(words["name"]), table["heads"], table.get("levels", {}), str(words["source"]),
        str(words["status"]), "own", table.get("spans", {}), spread,
    )


def canon_names(text: str) -> tuple[str, ...]:
    """The names of the canons in a profile's text. Raises SettingsError for text that is not TOML."""
    canons = parsed(text).get("canons", {})
    return tuple(canons) if isinstance(canons, Mapping) else ()


def with_canon(text: str, canon: Canon) -> str:
    """The profile's ``text`` with this canon in it, every other line as it was.

    Raises SettingsError when the text is not valid TOML, or keeps the canon in a form that
    cannot be exchanged safely.
    """
    before = parsed(text)
    canons = before.get("canons", {})
    if not isinstance(canons, Mapping):
        raise SettingsError("canons of the profile is no table: correct that first.")
    ending = "\r\n" if "\r\n" in text else "\n"
    lines = re.findall(r"[^\n]*\n|[^\n]+", text)
    block = [line + ending for line in canon_lines(canon)]
    written = "".join(_spliced(lines, block, ("canons", canon.key), ending))
    expected = {**before, "canons": {**canons, canon.key: parsed("\n".join(canon_lines(canon)))["canons"][canon.key]}}
    try:
        same = tomllib.loads(written) == expected
    except tomllib.TOMLDecodeError:
        same = False
    if not same:
        raise SettingsError(
            f"The profile keeps the canon {canon.key} in a form that cannot be exchanged: remove it there by hand first."
        )
    return written


def canon_lines(canon: Canon) -> list[str]:
    """The canon as one TOML table, a line each."""
    lines = [
        f"[canons.{write_key(canon.key)}]",
        f"name = {write_text(canon.name)}",
        f"heads = {_write_number(canon.heads)}",
        f"source = {write_text(canon.source)}",
        f"status = {write_text(canon.status)}",
    ]
    if canon.spread is not None:
        lines.append(f"spread = {_write_number(canon.spread)}")
    inner = {name: one for name, one in canon.levels.items() if name not in ("crown", "chin", "sole")}
    return [*lines, f"levels = {_write_table(inner)}", f"spans = {_write_table(canon.spans)}"]


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


def _write_number(value: float) -> str:
    return repr(round(float(value), 9))


def _write_table(values: Mapping[str, float]) -> str:
    inside = ", ".join(f"{write_key(name)} = {_write_number(value)}" for name, value in values.items())
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
