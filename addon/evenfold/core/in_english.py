"""Words of names in other languages put into the English that the rest of the core reads."""

import re
import unicodedata
from collections.abc import Iterable

from . import german, romance

_WORDS = {**german.ENGLISH, **romance.ENGLISH}
_SPELLED = {"ä": "ae", "ö": "oe", "ü": "ue", "ß": "ss", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue"}
_UMLAUT = re.compile("[äöüßÄÖÜ]")
_PLAIN = str.maketrans({one: unicodedata.normalize("NFD", one)[0] for one in "áàâãéèêëíìîïóòôõúùûñçÁÀÂÃÉÈÊËÍÌÎÏÓÒÔÕÚÙÛÑÇ"} | {"œ": "oe", "Œ": "Oe"})


def spelled_out(name: str) -> str:
    """A name with umlauts and sharp s as two letters each, and without accents, as they are often written anyway."""
    return name if name.isascii() else _UMLAUT.sub(_two_letters, unicodedata.normalize("NFC", name)).translate(_PLAIN)


def _two_letters(found: re.Match[str]) -> str:
    """Both in capitals in a word of capitals."""
    letters, around = _SPELLED[found.group()], found.string[max(found.start() - 1, 0) : found.end() + 1]
    return letters.upper() if found.group().isupper() and len(around) > 1 and around.isupper() else letters


def in_english(words: Iterable[str]) -> list[str]:
    """Words in lower case with the German, Spanish and French ones put into English; two that make one ("ober", "arm") become it."""
    found: list[str] = []
    for word in words:
        joined = _WORDS.get(found[-1] + word) if found else None
        if joined is not None:
            found[-1] = joined
        else:
            found.append(word)
    return [_WORDS.get(word, word) for word in found]
