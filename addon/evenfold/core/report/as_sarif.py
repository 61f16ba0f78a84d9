"""Results as SARIF 2.1.0, the open exchange format for findings of checkers (OASIS standard, 2020).

Property names are those of its published schema, sarif-schema-2.1.0.json (errata 01): sarifLog,
run, tool, toolComponent, reportingDescriptor, result, location, logicalLocation, invocation,
notification.
"""

import hashlib
from collections.abc import Collection, Iterable, Iterator
from pathlib import PurePath
from urllib.parse import quote

from ..findings import NOTE_CODES, FigureResult, FileResult, Finding, Readiness
from .against import FINDING, READINESS, Against, elements_of
from .as_json import tool_name
from .as_table import amount, safe
from .plain import Json, dumped, number
from .wording import IN_MOTION, WORDS, counted

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
VERSION = "2.1.0"
LEVELS = {"error": "error", "warning": "warning", "note": "note"}
MOST_ELEMENTS = 200


def as_sarif(files: Iterable[FileResult], against: Against | None = None) -> str:
    """One run; a result for each finding and hand-off entry, with its file, figure and object."""
    return "".join(sarif_parts(list(files), against))


def sarif_parts(files: Collection[FileResult], against: Against | None = None) -> Iterator[str]:
    """The same piece by piece; goes through ``files`` three times."""
    codes = _codes(files)
    states = {} if against is None else {_key(one): one.state for one in against.changes}
    made = (entry for file in files for entry in _results(file, codes, states))
    name, _, version = tool_name().partition(" ")
    driver: Json = {"name": name, "rules": [_rule(code) for code in codes]}
    if version:
        driver["version"] = version
    run: Json = {"tool": {"driver": driver}, "invocations": [_invocation(files)], "results": [], "columnKind": "unicodeCodePoints"}
    log: Json = {"$schema": SCHEMA, "version": VERSION, "runs": [run]}
    yield from dumped(log, ("runs", 0, "results"), made)


def _codes(results: Iterable[FileResult]) -> list[str]:
    """Every known code, then those of this report that have no words, in their order."""
    seen = dict.fromkeys(WORDS)
    for file in results:
        for figure in file.figures:
            seen |= dict.fromkeys(one.code for entry in figure.objects for one in entry.findings)
            seen |= dict.fromkeys(sorted({one.code for one in figure.readiness}))
    return list(seen)


def _rule(code: str) -> Json:
    said = WORDS.get(code, code.replace("-", " "))
    rule: Json = {"id": safe(code), "shortDescription": {"text": safe(said[:1].upper() + said[1:])}}
    if code in IN_MOTION:
        rule["fullDescription"] = {"text": IN_MOTION[code]}
    rule["defaultConfiguration"] = {"level": "note" if code in NOTE_CODES else "error"}
    return rule


def _invocation(results: Iterable[FileResult]) -> Json:
    """What could not be checked is a trouble of the run, not a finding."""
    told = [
        {"level": "error", "message": message(file.error), "locations": [_location(file.path)]}
        for file in results if file.error is not None
    ]
    return {"executionSuccessful": not told, "toolExecutionNotifications": told}


def message(text: str) -> Json:
    """A message as plain text: braces would be placeholders, brackets before parentheses links."""
    plain = safe(text).replace("{", "{{").replace("}", "}}").replace("](", "] (")
    return {"text": plain}


def uri(path: str) -> str:
    """A file's path as a URI reference: relative stays relative, absolute becomes file:."""
    flat = PurePath(path)
    text = quote(flat.as_posix(), safe="/", errors="backslashreplace")
    if flat.is_absolute():
        return f"file://{text if text.startswith('/') else '/' + text}"
    return text


def _location(path: str, *names: tuple[str, str]) -> Json:
    """The file, and the figure and object in it by name."""
    found: Json = {"physicalLocation": {"artifactLocation": {"uri": uri(path)}}}
    logical: list[Json] = []
    for place, (kind, name) in enumerate(names):
        entry: Json = {"name": safe(name), "kind": kind}
        entry["fullyQualifiedName"] = "/".join(safe(one) for _, one in names[: place + 1])
        logical.append(entry)
    if logical:
        found["logicalLocations"] = logical
    return found


States = dict[tuple[str, ...], str]


def _key(one: object) -> tuple[str, ...]:
    return tuple(getattr(one, part) for part in ("path", "figure", "object", "kind", "code", "subject"))


def _results(file: FileResult, codes: list[str], states: States) -> Iterator[Json]:
    for figure in file.figures:
        for entry in figure.objects:
            for finding in entry.findings:
                if finding.count:
                    key = (PurePath(file.path).as_posix(), figure.name, entry.name, FINDING, finding.code, finding.subject or "")
                    yield _state(_finding(file, figure, entry.name, finding, codes), key, states)
        for told in figure.readiness:
            key = (PurePath(file.path).as_posix(), figure.name, "", READINESS, told.code, told.subject or "")
            yield _state(_told(file, figure, told, codes), key, states)


def _state(result: Json, key: tuple[str, ...], states: States) -> Json:
    """With a fingerprint that stays from run to run, and what became of it since the earlier report."""
    mark = hashlib.sha256("\0".join(key).encode("utf-8", "backslashreplace")).hexdigest()
    result["partialFingerprints"] = {"place/v1": mark}
    state = states.get(key)
    if state is not None:
        result["baselineState"] = "updated" if state == "changed" else state
    return result


def _finding(file: FileResult, figure: FigureResult, place: str, finding: Finding, codes: list[str]) -> Json:
    subject = f" in {finding.whose}" if finding.whose else ""
    worst = "" if finding.worst is None else f", worst {amount(finding.worst, finding.unit)}"
    said = f"{place}{subject}: {counted(finding.code, finding.count)}{worst}."
    return {
        "ruleId": safe(finding.code),
        "ruleIndex": codes.index(finding.code),
        "level": "note" if finding.code in NOTE_CODES else "error",
        "message": message(said),
        "locations": [_location(file.path, ("module", figure.name), ("object", place))],
        "properties": {
            "count": finding.count, "worst": number(finding.worst), "unit": finding.unit,
            "elementKind": finding.kind,
            "elements": [safe(one) if isinstance(one, str) else one for one in elements_of(finding)[:MOST_ELEMENTS]],
        },
    }


def _told(file: FileResult, figure: FigureResult, told: Readiness, codes: list[str]) -> Json:
    return {
        "ruleId": safe(told.code),
        "ruleIndex": codes.index(told.code),
        "level": LEVELS.get(told.level, "note"),
        "message": message(told.message),
        "locations": [_location(file.path, ("module", figure.name))],
    }
