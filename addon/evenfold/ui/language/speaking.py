"""Says finished English sentences in another language, by templates with slots.

A template is a catalogue entry with slots: ``{name:s}`` stands for what is left as it is (a name
of the artist's), ``{count:n}`` for a number or a length, ``{what}`` for words that are said in the
other language as well. No host is needed here.
"""

import re
from collections.abc import Iterator
from functools import cached_property, lru_cache

from .catalogue import Catalogue

SLOT = re.compile(r"\{(\w+)(?::([ns]))?\}")
_UNIT = r"(?: ?(?:%|°|'|\"|[µumcdk]?m|thou|in|ft|yd|mi|ch|fur|mil))?"
_PLAIN = r"(?:\d[\d,]*(?:\.\d+)?(?:e[-+]?\d+)?|nan|inf)"
NUMBER = rf"(?:< )?[-+]?{_PLAIN}{_UNIT}(?:,? {_PLAIN}{_UNIT})?"
"""A number, with its unit; lengths may come in two parts, as feet and inches."""
_SENTENCE_END = re.compile(r"(?<=[.!?])\s+(?=\S)")
_ENOUGH = 4
"""Letters of its own that a template must have to be tried on a whole text that is not numeric."""
_DEPTH = 4
KEPT = 2048


class Template:
    """One entry with slots."""

    def __init__(self, english: str, text: str) -> None:
        self.english, self.text = english, text
        self.literals = tuple(SLOT.split(english)[::3])
        self.slots = tuple((found[1], found[2] or "") for found in SLOT.finditer(english))
        self.kinds = [kind for _, kind in self.slots]
        self.hint = max(self.literals, key=len)
        self.weight = sum(map(len, self.literals))
        letters = sum(letter.isalpha() for part in self.literals for letter in part)
        self.whole = letters >= _ENOUGH or all(kind == "n" for _, kind in self.slots)

    @cached_property
    def pattern(self) -> re.Pattern[str]:
        made = [re.escape(self.literals[0])]
        for (_, kind), literal in zip(self.slots, self.literals[1:], strict=True):
            made += [f"({NUMBER})" if kind == "n" else "(.+?)" if kind else "(.*?)", re.escape(literal)]
        return re.compile("".join(made), re.DOTALL)

    def values(self, text: str) -> tuple[str, ...] | None:
        """What stands in the slots; None when the text is no case of this template."""
        if self.hint not in text or not text.startswith(self.literals[0]):
            return None
        found = self.pattern.fullmatch(text)
        return found.groups() if found is not None else None


class Speaker:
    """Says texts in the language of one catalogue; what is unknown stays as it is."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self.words = {
            english: text for english, text in catalogue.messages.items() if not SLOT.search(english)
        }
        self.templates = sorted(
            (Template(*entry) for entry in catalogue.messages.items() if SLOT.search(entry[0])),
            key=lambda one: (-one.weight, -one.kinds.count("n"), -one.kinds.count("s")),
        )
        self.say = lru_cache(KEPT)(self._say)

    def _say(self, text: str) -> str:
        """The text in the other language, as far as it is known."""
        bare = text.strip()
        found = self._known(bare, _DEPTH, whole=True) or self._pieces(bare)
        return text if found is None else text.replace(bare, found, 1)

    def _known(self, text: str, depth: int, *, whole: bool = False) -> str | None:
        """The text by one entry, or sentence by sentence where every sentence is known."""
        if not text:
            return None
        found = self.word(text)
        if found is not None or depth == 0:
            return found
        match = self.best(text, whole=whole)
        sentences = _SENTENCE_END.split(text)
        if len(sentences) > 1:
            matches = [self._weighed(one, whole=whole) for one in sentences]
            if all(matches) and sum(matches) > (match[0].weight if match else 0):
                said = [self._known(one, depth - 1, whole=whole) or one for one in sentences]
                return self.catalogue.gap.join(said)
        if match is None and text.endswith("."):
            found = self._known(text[:-1], depth - 1, whole=whole)
            return None if found is None else found + self.catalogue.stop
        return None if match is None else self._filled(*match, depth)

    def _weighed(self, text: str, *, whole: bool) -> int:
        """How many letters of a text are known; 0 when it is unknown."""
        if self.word(text) is not None:
            return len(text)
        match = self.best(text, whole=whole)
        return match[0].weight if match else 0

    def word(self, text: str) -> str | None:
        """An entry without slots, also where it only begins with a small or a capital letter."""
        found = self.words.get(text)
        if found is None and text:
            turned = text[0].swapcase() + text[1:]
            found = self.words.get(turned)
            if found is not None and text[0].isupper():
                found = found[0].upper() + found[1:]
        if found is None and text.startswith("the "):
            found = self.word(text[4:])
        return found

    def matches(self, text: str) -> Iterator[tuple[Template, tuple[str, ...]]]:
        """Every template the text is a case of, those with most letters of their own first."""
        for template in self.templates:
            values = template.values(text)
            if values is not None:
                yield template, values

    def best(self, text: str, *, whole: bool = False) -> tuple[Template, tuple[str, ...]] | None:
        """The template with most letters of its own.

        On a whole text one with few letters counts only when all that is put in is known as well.
        """
        for template, values in self.matches(text):
            if not whole or template.whole or self._all_known(template, values):
                return template, values
        return None

    def _all_known(self, template: Template, values: tuple[str, ...]) -> bool:
        return "s" not in template.kinds and all(
            kind or self._known(value, 1) for kind, value in zip(template.kinds, values, strict=True)
        )

    def _filled(self, template: Template, values: tuple[str, ...], depth: int) -> str:
        said = {
            name: value if kind else self._value(value.strip(), depth - 1)
            for (name, kind), value in zip(template.slots, values, strict=True)
        }
        return SLOT.sub(lambda found: said.get(found[1], found[0]), template.text).rstrip()

    def _value(self, text: str, depth: int) -> str:
        """What stands in a slot: an entry, sentences, or a list of entries."""
        found = self._listed(text, depth) or self._known(text, depth) or self._pieces(text)
        return text if found is None else found

    def _listed(self, text: str, depth: int) -> str | None:
        """A list of which every item is known."""
        items = re.split(r", | and (?:the )?", text)
        said = [self._known(item, min(depth, 1)) for item in items]
        if len(items) < 2 or not all(said):
            return None
        known = [one for one in said if one]
        joined = self.catalogue.comma.join(known[:-1])
        return joined + (self.catalogue.last if " and " in text else self.catalogue.comma) + known[-1]

    def _runs(self, sentences: list[str]) -> Iterator[str]:
        """The longest known runs of sentences, and the others as they are."""
        start = 0
        while start < len(sentences):
            for end in range(len(sentences), start, -1):
                found = self._known(" ".join(sentences[start:end]), _DEPTH, whole=True)
                if found is not None or end == start + 1:
                    yield sentences[start] if found is None else found
                    start = end
                    break

    def _pieces(self, text: str) -> str | None:
        """Known sentences among unknown ones; else what stands before or after a colon."""
        sentences = _SENTENCE_END.split(text)
        if len(sentences) > 1:
            said = list(self._runs(sentences))
            if said != sentences:
                return self.catalogue.gap.join(said)
        head, *rest = text.split(": ")
        later = [self._known(one, _DEPTH, whole=True) for one in rest]
        match = self.best(head, whole=True)
        first = self._known(head, _DEPTH, whole=True) if match or not any(later) else None
        if not rest or not (first or any(later)):
            return None
        said = [one or other for one, other in zip([first, *later], [head, *rest], strict=True)]
        return self.catalogue.colon.join(said)
