"""Plain data for JSON: no NaN and no array."""

import math
from collections.abc import Iterable

Json = dict[str, object]


def number(value: float | None) -> float | None:
    """A finite float; None for what is no number."""
    return None if value is None or not math.isfinite(value) else float(value)


def point(values: Iterable[float]) -> list[float | None]:
    """A point as numbers for JSON; None stands for what is not finite."""
    return [number(value) for value in values]
