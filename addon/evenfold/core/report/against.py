"""What is new, fixed and unchanged since an earlier report, element by element."""

import json
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any

import numpy as np

from ..errors import SettingsError
from ..findings import NOTE_CODES, FigureResult, FileResult, Finding
from .as_json import SCHEMA
from .as_table import safe
from .plain import Json
from .wording import WORDS

Element = int | str
Key = tuple[str, str, str, str, str, str]
"""Path, figure, object, kind, code and subject; what a finding or a hand-off note has none of is empty."""

FINDING, READINESS = "finding", "readiness"
LEVELS = ("error", "warning", "note")
SHOWN = 8
"""Elements named in one line of text."""


@dataclass(frozen=True)
class Change:
    """One kind of finding on one object, its elements then and now set side by side.

    ``kind`` is finding or readiness; a readiness entry counts as one element, its level.
    ``matters`` is false for notes and warnings, which put nothing outside its limits.
    """

    path: str
    figure: str
    object: str
    kind: str
    code: str
    subject: str
    new: tuple[Element, ...]
    fixed: tuple[Element, ...]
    unchanged: tuple[Element, ...]
    matters: bool

    @property
    def state(self) -> str:
        """new, fixed or unchanged where all elements are; else changed."""
        if not self.unchanged and bool(self.new) != bool(self.fixed):
            return "new" if self.new else "fixed"
        return "changed" if self.new or self.fixed else "unchanged"


@dataclass(frozen=True)
class Against:
    """All changes since the report ``source``; ``notes`` say what could not be set side by side."""

    source: str
    changes: tuple[Change, ...]
    notes: tuple[str, ...] = ()

    def count(self, state: str) -> int:
        """Elements that are new, fixed or unchanged."""
        return sum(len(getattr(one, state)) for one in self.changes)

    @property
    def worse(self) -> bool:
        """True when something new puts a figure outside its limits."""
        return any(one.new and one.matters for one in self.changes)


def read_earlier(path: Path) -> Json:
    """The earlier report as plain data. Raises SettingsError with the reason."""
    try:
        report = json.loads(path.read_text("utf-8-sig"))
    except OSError as error:
        raise SettingsError(f"The earlier report {path} cannot be read: {error.strerror}.") from error
    except (ValueError, RecursionError) as error:
        raise SettingsError(f"The earlier report {path} is not valid JSON: {error}.") from error
    if not isinstance(report, dict) or report.get("schema") != SCHEMA:
        raise SettingsError(f"{path} is not a report of the schema {SCHEMA}: name one that --json wrote.")
    try:
        _entries(report)
    except (TypeError, KeyError, AttributeError, ValueError, OverflowError) as error:
        raise SettingsError(f"The earlier report {path} is damaged: write it again with --json.") from error
    return report


def compare_with(files: Collection[FileResult], earlier: Json, source: str) -> Against:
    """``earlier`` is plain data as ``read_earlier`` gives it; goes through ``files`` twice."""
    then, sizes_then = _entries(earlier)
    now, sizes_now = _entries_of_results(files)
    readable = {_path(one.path): one.error is None for one in files}
    checked = {path for path, fine in readable.items() if fine}
    unread = readable.keys() - checked
    known = {_path(file["path"]) for file in _list(earlier["files"]) if file["status"] != "unreadable"}
    then = {key: found for key, found in then.items() if key[0] in checked}
    changes = [_change(key, then.get(key), now.get(key)) for key in sorted({*then, *now})]
    notes = [f"{path} was not in the earlier report: all of it counts as new." for path in sorted(checked - known)]
    notes += [f"{path} was in the earlier report and was not checked this time." for path in sorted(known - checked - unread)]
    notes += [f"{path} could not be checked this time: nothing is said about it." for path in sorted(unread & known)]
    notes += [
        f"{name} in {path} had {sizes_then[path, figure, name]:,} vertices and now has {size:,}: vertex numbers may stand for other places."
        for (path, figure, name), size in sorted(sizes_now.items())
        if sizes_then.get((path, figure, name), size) != size
    ]
    return Against(source, tuple(changes), tuple(notes))


Found = tuple[set[Element], bool]
Sizes = dict[tuple[str, str, str], int]


def _change(key: Key, then: Found | None, now: Found | None) -> Change:
    old = then[0] if then else set()
    here = now[0] if now else set()
    matters = bool((now or then or (old, False))[1])
    return Change(*key, _sorted(here - old), _sorted(old - here), _sorted(here & old), matters)


def _sorted(elements: set[Element]) -> tuple[Element, ...]:
    return tuple(sorted(elements, key=lambda one: (isinstance(one, str), one)))


def _path(path: str) -> str:
    return PurePath(path).as_posix()


def _put(found: dict[Key, Found], key: Key, elements: Iterable[Element], matters: bool) -> None:
    before, mattered = found.get(key, (set(), False))
    found[key] = (before | set(elements), mattered or matters)


def _entries_of_results(results: Iterable[FileResult]) -> tuple[dict[Key, Found], Sizes]:
    found: dict[Key, Found] = {}
    sizes: Sizes = {}
    for file in results:
        for figure in file.figures:
            path = _path(file.path)
            for entry in figure.objects:
                sizes[path, figure.name, entry.name] = entry.vertices
                for finding in entry.findings:
                    if finding.count:
                        key = (path, figure.name, entry.name, FINDING, finding.code, finding.subject or "")
                        _put(found, key, elements_of(finding), finding.code not in NOTE_CODES)
            _put_readiness(found, path, figure)
    return found, sizes


def _put_readiness(found: dict[Key, Found], path: str, figure: FigureResult) -> None:
    for told in figure.readiness:
        key = (path, figure.name, "", READINESS, told.code, told.subject or "")
        _put_level(found, key, told.level)


def _put_level(found: dict[Key, Found], key: Key, level: str) -> None:
    """The level is the element, numbered where the same is said again: a warning may become an error."""
    before, _ = found.get(key, (set(), False))
    again = sum(str(one).split()[0] == level for one in before)
    _put(found, key, [f"{level} {again + 1}" if again else level], level == "error")


def elements_of(finding: Finding) -> list[Element]:
    """Names for bones, groups and keys, numbers for all else."""
    return list(finding.names) if finding.names else np.asarray(finding.elements).tolist()


def _entries(report: Mapping[str, Any]) -> tuple[dict[Key, Found], Sizes]:
    """The same from plain data.

    Raises TypeError, KeyError, AttributeError, ValueError or OverflowError where it is damaged.
    """
    found: dict[Key, Found] = {}
    sizes: Sizes = {}
    for file in _list(report["files"]):
        path = _path(_text(file["path"]))
        _text(file["status"])
        for figure in _list(file["figures"]):
            name = _text(figure["name"])
            for entry in _list(figure["objects"]):
                sizes[path, name, _text(entry["name"])] = int(entry["vertices"])
                for finding in _list(entry["findings"]):
                    code = _text(finding["code"])
                    key = (path, name, entry["name"], FINDING, code, _text(finding["subject"] or ""))
                    _put(found, key, map(_element, _list(finding["elements"])), code not in NOTE_CODES)
            for told in _list(figure["readiness"]):
                key = (path, name, "", READINESS, _text(told["code"]), _text(told["subject"] or ""))
                if told["level"] not in LEVELS:
                    raise TypeError("no level")
                _put_level(found, key, told["level"])
    return found, sizes


def _list(value: object) -> list[Any]:
    if not isinstance(value, list):
        raise TypeError("no list")
    return value


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError("no text")
    return value


def _element(value: object) -> Element:
    if isinstance(value, bool) or not isinstance(value, (int, str)):
        raise TypeError("no element")
    return value


def against_dict(found: Against) -> Json:
    """The ``comparison`` of the JSON report."""
    return {
        "against": found.source,
        "new": found.count("new"),
        "fixed": found.count("fixed"),
        "unchanged": found.count("unchanged"),
        "changes": [
            {
                "path": one.path, "figure": one.figure, "object": one.object or None, "kind": one.kind,
                "code": one.code, "subject": one.subject or None, "state": one.state,
                "matters": one.matters, "new": list(one.new), "fixed": list(one.fixed),
                "unchanged": list(one.unchanged),
            }
            for one in found.changes
        ],
        "notes": list(found.notes),
    }


def totals(found: Against) -> str:
    """One sentence: what is new, fixed and unchanged."""
    counts = ", ".join(f"{found.count(state):,} {state}" for state in ("new", "fixed", "unchanged"))
    return f"{counts}."


def against_text(found: Against) -> str:
    """Lines for people: the totals, then each kind with something new or fixed; ends with a line break."""
    return "\n".join(safe(line) for line in _text_lines(found)) + "\n"


def _text_lines(found: Against) -> Iterator[str]:
    yield f"Since {found.source}: {totals(found)}"
    for one in found.changes:
        if one.new or one.fixed:
            yield f"  {one.path}, {one.figure}: {change_words(one)}"
    yield from (f"  Note: {note}" for note in found.notes)


def change_words(one: Change) -> str:
    """What changed, e.g. "Body: off their mirror image, 2 new (12, 40), 1 fixed (7)"."""
    place = f"{one.object}: " if one.object else ""
    subject = f" in {one.subject}" if one.subject and one.kind == FINDING else ""
    parts = [f"{place}{WORDS.get(one.code, one.code)}{subject}"]
    for state in ("new", "fixed"):
        elements = getattr(one, state)
        if elements:
            more = f" and {len(elements) - SHOWN:,} more" if len(elements) > SHOWN else ""
            parts.append(f"{len(elements):,} {state} ({', '.join(map(str, elements[:SHOWN]))}{more})")
    if one.unchanged:
        parts.append(f"{len(one.unchanged):,} unchanged")
    return ", ".join(parts)
