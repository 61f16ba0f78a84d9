"""Plain data for JSON: no NaN and no array."""

import json
import math
import secrets
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

Json = dict[str, object]


def number(value: float | None) -> float | None:
    """A finite float; None for what is no number."""
    return None if value is None or not math.isfinite(value) else float(value)


def point(values: Iterable[float]) -> list[float | None]:
    """A point as numbers for JSON; None stands for what is not finite."""
    return [number(value) for value in values]


def dumped(document: Json, place: Sequence[str | int], entries: Iterable[object]) -> Iterator[str]:
    """The document as JSON text, piece by piece, with ``entries`` for the list at ``place``.

    The same text as if they had stood there; ends with a line break.
    """
    mark = secrets.token_hex(16)
    around: Any = document
    for step in place[:-1]:
        around = around[step]
    around[place[-1]] = [mark]
    before, after = json.dumps(document, indent=1, allow_nan=False).split(f'"{mark}"')
    around[place[-1]] = []
    line = before[before.rindex("\n") :]
    begin = before
    for entry in entries:
        yield begin + json.dumps(entry, indent=1, allow_nan=False).replace("\n", line)
        begin = "," + line
    yield (after if begin is not before else before.removesuffix(line) + after.lstrip()) + "\n"
