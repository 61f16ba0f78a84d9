"""Results as JUnit XML, which build servers show as tests: a suite for each file.

There is no published standard of this format; the elements and attributes are those in common
use (testsuites, testsuite, testcase, failure, error, system-out), from memory.
"""

from collections.abc import Collection, Iterable, Iterator
from html import escape

from ..findings import NOTE_CODES, FigureResult, FileResult, ObjectResult
from .as_table import amount, safe
from .wording import counted

LONGEST = 4000


def as_junit(files: Iterable[FileResult]) -> str:
    """Every figure is a case for its proportion and hand-off, and a case for each object's halves."""
    return "".join(junit_parts(list(files)))


def junit_parts(files: Collection[FileResult]) -> Iterator[str]:
    """The same piece by piece; goes through ``files`` twice."""
    tests = failures = errors = 0
    for one in files:
        counts = _suite(one)[1]
        tests, failures, errors = tests + counts[0], failures + counts[1], errors + counts[2]
    totals = _counts((tests, failures, errors))
    yield f'<?xml version="1.0" encoding="UTF-8"?>\n<testsuites name="Evenfold" {totals}>\n'
    for one in files:
        yield _suite(one)[0]
    yield "</testsuites>\n"


Cases = tuple[int, int, int]
"""How many cases, failures and errors."""


def _counts(cases: Cases) -> str:
    tests, failures, errors = cases
    return f'tests="{tests}" failures="{failures}" errors="{errors}"'


def xml_text(text: str) -> str:
    """The text for XML 1.0, in elements and quoted attributes; what it cannot hold is written out."""
    shown = text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"
    return escape(safe(shown), quote=True)


def _suite(file: FileResult) -> tuple[str, Cases]:
    if file.error is not None:
        counts = (1, 0, 1)
        body = _case(file.path, "file", "error", "not checked", [file.error])
    else:
        cases = [case for figure in file.figures for case in _cases(figure)]
        body = "".join(_case(file.path, *one) for one in cases)
        counts = (len(cases), sum(kind == "failure" for _, kind, _, _ in cases), 0)
    head = f'<testsuite name="{xml_text(file.path)}" {_counts(counts)} skipped="0" time="{file.seconds:.3f}">'
    return f" {head}\n{body} </testsuite>\n", counts


Case = tuple[str, str, str, list[str]]
"""Its name, its kind (failure or passed), its message, and its lines."""


def _cases(figure: FigureResult) -> Iterator[Case]:
    errors = [f"{one.message} [{one.code}]" for one in figure.readiness if one.level == "error"]
    told = [f"{one.level}: {one.message} [{one.code}]" for one in figure.readiness if one.level != "error"]
    name = f"{figure.name}: proportion and hand-off"
    if errors:
        yield name, "failure", _many(len(errors), "error"), [*errors, *told]
    else:
        yield name, "passed", "", told
    for entry in figure.objects:
        yield _halves(figure, entry)


def _halves(figure: FigureResult, entry: ObjectResult) -> Case:
    name = f"{figure.name}: halves of {entry.name}"
    findings = [one for one in entry.findings if one.count]
    lines = [
        counted(one.code, one.count)
        + (f" in {one.subject}" if one.subject else "")
        + ("" if one.worst is None else f", worst {amount(one.worst, one.unit)}")
        + f" [{one.code}]"
        for one in findings
    ]
    count = sum(one.count for one in findings if one.code not in NOTE_CODES)
    return (name, "failure", _many(count, "difference"), lines) if count else (name, "passed", "", lines)


def _many(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def _case(path: str, name: str, kind: str, message: str, lines: list[str]) -> str:
    head = f'  <testcase classname="{xml_text(path)}" name="{xml_text(name)}"'
    text = "\n".join(xml_text(line) for line in lines)
    if kind == "passed":
        return f"{head}><system-out>{text}</system-out></testcase>\n" if lines else f"{head}/>\n"
    return f'{head}><{kind} message="{xml_text(message)}" type="{kind}">{text}</{kind}></testcase>\n'
