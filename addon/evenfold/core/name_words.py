"""Names of objects, bones and keys split into words, in lower case and in English."""

import re
from collections.abc import Iterator

from .in_english import in_english, spelled_out

LATIN = r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+"
"""A word in Latin letters: separators and digits end one, and a capital begins one, but for those of a word of capitals."""
_OTHER = r"[^\x00-\x7f]+"
_WORDS = re.compile(rf"{LATIN}|{_OTHER}")
_WORDS_AND_NUMBERS = re.compile(rf"{LATIN}|\d+|{_OTHER}")
_LIBRARY = re.compile(r" \[[^\[\]]*\.blend\]$")
"""The library a linked object's name is told with where another has the same name: it says nothing of the object."""


def own_name(name: str) -> str:
    """The name without the library it is linked from."""
    return _LIBRARY.sub("", name)


def words_of(name: str) -> tuple[str, ...]:
    """The words of a name in lower case, German, Spanish and French ones in English: camelCase, separators and digits split them."""
    return tuple(in_english(_lower(_WORDS, spelled_out(own_name(name)))))


def words_and_numbers_of(spelled: str) -> list[str]:
    """The same, with numbers as words of their own, of a name that ``spelled_out`` has gone over and that tells no library."""
    return in_english(_lower(_WORDS_AND_NUMBERS, spelled))


def _lower(pattern: re.Pattern[str], text: str) -> Iterator[str]:
    return (piece.lower() for piece in pattern.findall(text))
