"""Values that somebody else wrote, as in a profile: which are numbers, and how they stand in a sentence."""

import math

LONGEST = 60
"""Signs of a value that a sentence repeats. Our choice."""


def is_number(value: object) -> bool:
    """True for a whole or decimal number that is finite, also as a double; not for true and false."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


def shown(value: object) -> str:
    """The value as one would write it, cut off where it is long."""
    try:
        text = repr(value)
    except (ValueError, RecursionError):  # more digits, or deeper, than Python writes
        return "what is too long to repeat"
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}…"
