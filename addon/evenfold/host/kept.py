"""What is kept as JSON in custom properties, read so that damage costs no more than itself.

Files come from other hands: a property may hold anything, and what cannot be read counts as
not kept.
"""

import json
from collections.abc import Callable, Iterable
from typing import Any, TypeVar

import bpy

DAMAGED = (
    KeyError, IndexError, TypeError, ValueError, AttributeError, OverflowError, RecursionError,
)
"""What reading plain data of any make may raise."""

Made = TypeVar("Made")


def text_on(owner: bpy.types.ID, key: str) -> str | None:
    """The text kept under a key; None where there is none or something else."""
    try:
        text = owner.get(key)
    except ValueError:
        return None
    return text if isinstance(text, str) else None


def parsed(text: str | bytes | None) -> Any:
    """The plain data of a JSON text; None for damaged ones and without a text."""
    if text is None:
        return None
    try:
        return json.loads(text)
    except DAMAGED:
        return None


def rows_on(owner: bpy.types.ID, key: str) -> list[dict[str, Any]]:
    """The rows kept under a key; none where it holds no list."""
    rows = parsed(text_on(owner, key))
    return [row for row in rows if isinstance(row, dict)] if isinstance(rows, list) else []


def each(rows: Iterable[dict[str, Any]], make: Callable[[dict[str, Any]], Made]) -> list[Made]:
    """What ``make`` makes of every row; damaged ones are left out."""
    made = []
    for row in rows:
        try:
            made.append(make(row))
        except DAMAGED:
            continue
    return made


def keep_rows(owner: bpy.types.ID, key: str, rows: list[dict[str, Any]]) -> None:
    """Keep these rows under a key; none leaves nothing behind."""
    if rows:
        owner[key] = json.dumps(rows)
    elif owner.get(key) is not None:
        del owner[key]
