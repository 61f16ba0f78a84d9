"""Reads a catalogue: a gettext text file of English sentences and what they are in one language.

An entry is an ``msgid`` and an ``msgstr``; continued lines, comments and the header are read as
gettext has them. Plural forms and contexts are not used. No host is needed here.
"""

import re
from dataclasses import dataclass
from pathlib import Path

_TEXT = r'((?:"(?:[^"\\\n]|\\.)*"\s*)+)'
_ENTRY = re.compile(rf"^msgid {_TEXT}^msgstr {_TEXT}", re.MULTILINE)
_SHORT = re.compile(r'^msgid "(.+)"\nmsgstr "(.*)"$', re.MULTILINE)
"""An entry on two lines, as our tool writes them: much quicker to find."""
_QUOTED = re.compile(r'"((?:[^"\\\n]|\\.)*)"')
_ESCAPED = re.compile(r"\\(.)")
_LETTERS = {"n": "\n", "t": "\t"}


@dataclass(frozen=True)
class Catalogue:
    """``messages`` from English to the language; the rest says how its texts are put together."""

    messages: dict[str, str]
    gap: str = " "
    """Between two sentences."""
    comma: str = ", "
    last: str = " and "
    """Between the items of a list, and before its last item."""
    colon: str = ": "
    stop: str = "."


def read_catalogue(path: Path) -> Catalogue:
    """The catalogue in a file. Raises OSError, and UnicodeDecodeError where it is not UTF-8."""
    messages = parse(path.read_text(encoding="utf-8"))
    header = dict(
        line.split(": ", 1) for line in messages.pop("", "").splitlines() if ": " in line
    )
    names = {"gap": "X-Gap", "comma": "X-Comma", "last": "X-And", "colon": "X-Colon", "stop": "X-Stop"}
    parts = {name: header[key].strip('"') for name, key in names.items() if key in header}
    return Catalogue({english: text for english, text in messages.items() if text}, **parts)


def parse(text: str) -> dict[str, str]:
    """Every entry of a gettext text, the header under "" and untranslated ones as "" included."""
    entries = _SHORT.findall(text)
    if len(entries) < text.count("\nmsgid ") or not entries:
        entries = _ENTRY.findall(text)
        return {_plain(one): _plain(other) for one, other in entries}
    header = _ENTRY.search(text)
    found = {_said(one): _said(other) for one, other in entries}
    return found if header is None else {"": _plain(header[2]), **found}


def _plain(quoted: str) -> str:
    return _said("".join(_QUOTED.findall(quoted)))


def _said(joined: str) -> str:
    if "\\" not in joined:
        return joined
    return _ESCAPED.sub(lambda found: _LETTERS.get(found[1], found[1]), joined)
