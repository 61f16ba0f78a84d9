"""A profile's own canons: reading them from its tables, and writing one without touching the rest."""

from collections.abc import Mapping

from .canon import Canon
from .errors import SettingsError
from .toml_text import parsed, with_table, write_key, write_number, write_table, write_text
from .values import is_number, shown

KNOWN = ("heads", "levels", "name", "source", "spans", "spread", "status")
OWN_SOURCE = "this profile, which names no source"
NO_NAME = "NONE"
"""What the panels store where no canon is chosen."""


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
    expected = {**before, "canons": {**canons, canon.key: parsed("\n".join(canon_lines(canon)))["canons"][canon.key]}}
    written = with_table(text, ("canons", canon.key), canon_lines(canon))
    if written is None or parsed(written) != expected:
        raise SettingsError(
            f"The profile keeps the canon {canon.key} in a form that cannot be exchanged: remove it there by hand first."
        )
    return written


def canon_lines(canon: Canon) -> list[str]:
    """The canon as one TOML table, a line each."""
    lines = [
        f"[canons.{write_key(canon.key)}]",
        f"name = {write_text(canon.name)}",
        f"heads = {write_number(canon.heads)}",
        f"source = {write_text(canon.source)}",
        f"status = {write_text(canon.status)}",
    ]
    if canon.spread is not None:
        lines.append(f"spread = {write_number(canon.spread)}")
    inner = {name: one for name, one in canon.levels.items() if name not in ("crown", "chin", "sole")}
    return [*lines, f"levels = {write_table(inner)}", f"spans = {write_table(canon.spans)}"]
