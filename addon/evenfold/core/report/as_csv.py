"""Results as rows for a spreadsheet: one for each finding, hand-off entry, and file without a figure."""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence

from ..findings import FigureResult, FileResult
from .against import elements_of
from .as_table import safe
from .plain import number
from .wording import WORDS

COLUMNS = (
    "file", "file status", "figure", "figure status", "heads tall", "target heads", "height (m)",
    "object", "layer or level", "code", "in words", "subject", "count", "worst", "unit",
    "new since baseline", "elements",
)
STARTERS = frozenset("=+-@|%＝＋－＠")
"""A spreadsheet may take a text that begins with one of these for a formula or a command."""
_INSIDE = re.compile(r"([;|\t]\s*)(?=[=+\-@|%＝＋－＠])")
"""Where the decimal sign is a comma, cells are split at semicolons, quoted or not."""
LONGEST = 2000
"""Signs of one cell; spreadsheets have a limit, and the JSON report has everything."""
Cell = str | int | float | None


def as_csv(files: Iterable[FileResult]) -> str:
    """The rows, comma separated as RFC 4180 has it, after a byte order mark that tells UTF-8.

    Texts that a spreadsheet could take for a formula get an apostrophe in front.
    """
    return "".join(csv_parts(files))


def csv_parts(files: Iterable[FileResult]) -> Iterator[str]:
    """The same piece by piece."""
    yield "\ufeff" + _written([COLUMNS])
    for file in files:
        yield _written(
            [harmless(one) if isinstance(one, str) else "" if one is None else one for one in row]
            for row in _rows(file)
        )


def _written(rows: Iterable[Sequence[Cell]]) -> str:
    out = io.StringIO()
    csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n").writerows(rows)
    return out.getvalue()


def harmless(text: str) -> str:
    """The text as a spreadsheet can only read it: no steering signs, no formula, not too long."""
    shown = _INSIDE.sub(r"\1'", safe(text))
    shown = shown if len(shown) <= LONGEST else f"{shown[: LONGEST - 1]}…"
    return f"'{shown}" if shown.lstrip()[:1] in STARTERS and shown.strip() else shown


def _rows(file: FileResult) -> Iterator[list[Cell]]:
    if file.error is not None or not file.figures:
        words = file.error or "no figure"
        yield [file.path, file.status, *[None] * 8, words, *[None] * 6]
    for figure in file.figures:
        yield from _figure_rows(file, figure)


def _figure_rows(file: FileResult, figure: FigureResult) -> Iterator[list[Cell]]:
    found = figure.proportion
    status = "within" if figure.within else "outside"
    begin: list[Cell] = [
        file.path, file.status, figure.name, status, number(found.heads_tall), number(found.target),
        number(found.height),
    ]
    listed = [(entry, one) for entry in figure.objects for one in entry.findings if one.count]
    for entry, one in listed:
        age = None if one.new is None else "new" if one.new else "inherited"
        elements = " ".join(str(part) for part in elements_of(one)[:200])
        yield [
            *begin, entry.name, "finding", one.code, WORDS.get(one.code, one.code), one.subject,
            one.count, number(one.worst), one.unit if one.worst is not None else None, age, elements,
        ]
    for told in figure.readiness:
        yield [*begin, None, told.level, told.code, told.message, told.subject, *[None] * 5]
    if not listed and not figure.readiness:
        yield [*begin, *[None] * 3, "nothing found", *[None] * 6]
