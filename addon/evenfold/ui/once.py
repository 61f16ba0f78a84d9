"""What is said alike of many things, said once with all of them named."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from ..core.findings import ObjectResult, Place, Readiness
from ..core.humanoid_table import lacking
from .left_out import listed


@dataclass(frozen=True)
class Row:
    """A sentence, the thing it is about, how grave it is, and the places to look at."""

    text: str
    thing: str = ""
    level: str = "note"
    places: tuple[Place, ...] = ()


COUNT = re.compile(r"(?<![\w.,])\d[\d,]*(?: of \d[\d,]*)?(?!\w|\.\d)")
"""A number of things, or how many of how many."""
GRAVEST = ("error", "warning", "note")


@dataclass
class Once:
    """A sentence on one thing, how grave it is, and the ``others`` it is true of, with their own numbers.

    ``places`` are those of all of them.
    """

    text: str
    level: str
    numbers: list[str] = field(default_factory=list)
    others: list[str] = field(default_factory=list)
    places: list[Place] = field(default_factory=list)

    @property
    def likewise(self) -> str:
        """The others as a sentence of their own."""
        names = listed(tuple(self.others))
        return f"The same on {names}."


def once(rows: Iterable[Row]) -> list[Once]:
    """Sentences that differ in their thing and in one number at most, joined; in order."""
    found: dict[tuple[str, str], list[Once]] = {}
    told: list[Once] = []
    for row in rows:
        thing = row.thing
        bare = row.text.replace(thing, "\0", 1) if thing else row.text
        numbers, alike = COUNT.findall(bare), found.setdefault((COUNT.sub("\1", bare), row.level), [])
        for one in alike if thing else ():
            own = [here for here, there in zip(numbers, one.numbers, strict=True) if here != there]
            if len(own) <= 1:
                one.others.append(f"{thing} ({own[0]})" if own else thing)
                one.places += row.places
                break
        else:
            alike.append(Once(row.text, row.level, numbers, [], [*row.places]))
            told.append(alike[-1])
    return told


def handed_off(entries: Iterable[Readiness]) -> list[Once]:
    """What concerns the hand-off, the gravest first; required bones that are missing as one list."""
    rows = [
        Row(one.message, one.subject or "", one.level, one.places)
        for one in entries if one.code.startswith("ready-")
    ]
    missing = [row for row in rows if row.thing and row.text == lacking(row.thing)]
    if len(missing) > 1:
        joined = Row(missing_bones([row.thing.lower() for row in missing]), "", missing[0].level)
        rows = [joined if row == missing[0] else row for row in rows if row not in missing[1:]]
    return sorted(once(rows), key=lambda one: GRAVEST.index(one.level))


def missing_bones(labels: Sequence[str]) -> str:
    count, bones = len(labels), ", ".join(labels)
    return f"{count} required bones are missing: {bones}. Choose them under Humanoid Bones."


def noted(objects: Iterable[ObjectResult]) -> tuple[list[Once], dict[str, list[str]]]:
    """Notes that several objects share, each once; and those of one object alone, by its name."""
    shared: list[Once] = []
    alone: dict[str, list[str]] = {}
    for one in once(Row(f"{entry.name}: {note}", entry.name) for entry in objects for note in entry.notes):
        if one.others:
            shared.append(one)
            continue
        name = next(entry.name for entry in objects if one.text.startswith(f"{entry.name}: "))
        alone.setdefault(name, []).append(one.text.removeprefix(f"{name}: "))
    return shared, alone


def about(notes: Iterable[str], names: Iterable[str]) -> list[Once]:
    """A figure's notes, those that begin with the name of one of its objects joined."""
    longest = sorted(names, key=len, reverse=True)
    return once(Row(note, next((name for name in longest if note.startswith(f"{name} ")), "")) for note in notes)
