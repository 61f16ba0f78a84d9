"""Results as one page for people: opens from disk, needs no network, prints, and works without its script."""

import base64
import hashlib
import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from itertools import chain

from ..findings import NOTE_CODES, FigureResult, FileResult
from ..plane import PLANES
from ..settings import Settings
from .against import Against, change_words, totals
from .as_json import tool_name
from .as_table import amount, length, places_compared
from .page.drawing import Drawn, drawn, picture, store
from .page.findings import findings_of, readiness_of
from .page.lineup import lineup
from .page.markup import cell, items, name, sentence, table, table_parts, verdict, words
from .page.proportion import proportion_of
from .page.script import SCRIPT
from .page.size import size_table
from .page.style import STYLE

COLUMNS = [
    ("Figure", False), ("File", False), ("Verdict", False), ("Heads tall", True), ("Target", True),
    ("Height", True), ("Differences", True), ("Worst length", True), ("Hand-off errors", True),
]
Entry = tuple[str, FileResult, FigureResult, Drawn | None]
"""The figure's name on the page, its file, its result and its pictures."""


def page(
    files: Sequence[FileResult], settings: Settings, host: str, against: Against | None = None
) -> str:
    """The whole page; the same results give the same text. Portraits are drawn where there are any."""
    return "".join(page_parts(files, settings, host, against))


def page_parts(
    files: Collection[FileResult], settings: Settings, host: str, against: Against | None = None
) -> Iterator[str]:
    """The same piece by piece; goes through ``files`` several times and keeps no result."""
    yield f'{_head()}<body><a class="skip" href="#figures">To the table of figures</a>'
    yield f"<header><h1>Heads tall and matching halves</h1>{_summary(files)}</header><main>"
    yield from (store(pictured) for *_, pictured in _entries(files) if pictured is not None)
    yield from _lineup(files)
    yield from _overview(files)
    yield _since(against)
    yield _not_checked(files)
    yield from (_figure(entry, entry[1].settings or settings) for entry in _entries(files))
    yield f'</main><footer><p class="soft">{words(tool_name())}, {words(host)}</p></footer>'
    yield f"<script>{SCRIPT}</script></body></html>\n"


def _head() -> str:
    rules = (
        f"default-src 'none'; style-src {_hash(STYLE)}; script-src {_hash(SCRIPT)}; "
        "img-src 'none'; base-uri 'none'; form-action 'none'"
    )
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{rules}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="referrer" content="no-referrer"><meta name="color-scheme" content="light dark">'
        f"<title>Evenfold report</title><style>{STYLE}</style></head>"
    )


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode()).digest()
    return f"'sha256-{base64.b64encode(digest).decode()}'"


def _entries(files: Iterable[FileResult]) -> Iterator[Entry]:
    for number, file in enumerate(files, 1):
        for place, result in enumerate(file.figures, 1):
            mark = f"f{number}-{place}"
            pictured = drawn(result.portrait, mark) if result.portrait is not None else None
            yield mark, file, result, pictured


def _summary(files: Collection[FileResult]) -> str:
    statuses = [one.status for one in files]
    within, outside, unread = (statuses.count(one) for one in ("within", "outside", "unreadable"))
    return (
        f'<p>{len(files):,} {"file" if len(files) == 1 else "files"}: <span class="ok">✓ {within:,} within limits</span>, '
        f'<span class="off">✗ {outside:,} outside</span>, {unread:,} not checked.</p>'
    )


def _lineup(files: Collection[FileResult]) -> Iterator[str]:
    def entries() -> Iterator[tuple[str, FigureResult, Drawn | None]]:
        return ((mark, result, pictured) for mark, _, result, pictured in _entries(files))

    begin = (
        '<section><h2>Line-up</h2><p class="soft">All figures to one scale. The dashed lines lie one '
        "head apart, counted down from the crown.</p>"
    )
    for part in lineup(entries):
        yield begin + part
        begin = ""
    if not begin:
        yield "</section>"


def _overview(files: Collection[FileResult]) -> Iterator[str]:
    yield '<section id="figures"><h2>Figures</h2>'
    rows = (_overview_row(*entry) for entry in _entries(files))
    first = next(rows, None)
    if first is None:
        yield "<p>There is no figure.</p>"
    else:
        yield from table_parts(COLUMNS, chain([first], rows), "All figures", "sortable")
    yield "</section>"


def _overview_row(mark: str, file: FileResult, result: FigureResult, _: Drawn | None) -> list[str]:
    found = result.proportion
    real = [one for entry in result.objects for one in entry.findings if one.code not in NOTE_CODES]
    lengths = [one.worst for one in real if one.unit == "metres" and one.worst is not None]
    worst = max(lengths, default=None)
    differences = sum(one.count for one in real)
    errors = sum(one.level == "error" for one in result.readiness)
    return [
        f'<td><a href="#{mark}">{name(result.name)}</a></td>', cell(name(file.path)),
        cell(verdict(result.within)), _number(found.heads_tall, "no count"), _number(found.target, ""),
        _length(found.height), cell(f"{differences:,}", differences), _length(worst), cell(f"{errors:,}", errors),
    ]


def _number(value: float | None, missing: str) -> str:
    known = value is not None and math.isfinite(value)
    return cell(f"{value:.2f}", value) if known else f'<td class="num">{missing}</td>'


def _length(metres: float | None) -> str:
    return '<td class="num"></td>' if metres is None else cell(amount(metres, "metres"), metres)


def _since(against: Against | None) -> str:
    if against is None:
        return ""
    changed = [
        f'<span class="tag">{one.state}</span> {name(one.path)}, {name(one.figure)}: {sentence(change_words(one))}'
        for one in against.changes if one.differences("new") or one.differences("fixed")
    ]
    return (
        f"<section><h2>Since an earlier report</h2><p>Since {name(against.source)}: {words(totals(against))}</p>"
        f"{items(changed)}{items([sentence(note) for note in against.notes])}</section>"
    )


def _not_checked(files: Iterable[FileResult]) -> str:
    told = [
        f"<strong>{name(file.path)}</strong>: {sentence(file.error)}"
        for file in files if file.error is not None
    ]
    return f"<section><h2>Not checked</h2>{items(told)}</section>" if told else ""


def _figure(entry: Entry, settings: Settings) -> str:
    mark, file, result, pictured = entry
    views = ""
    if pictured is not None:
        views = (
            f'<div class="views">{picture(pictured, result, "front")}{picture(pictured, result, "side")}</div>'
            '<p class="soft">Dashed lines: heads, counted down from the crown. Rings: landmarks. Dots: where findings are.</p>'
        )
    size = size_table(result.size, settings.budget) if result.size is not None else ""
    return (
        f'<section class="figure" id="{mark}"><h2>{name(result.name)}</h2>'
        f'<p>{verdict(result.within)} <span class="soft">{name(file.path)}</span></p>{views}'
        f"<h3>Proportion</h3>{proportion_of(result.proportion, settings, pictured)}"
        f"<h3>Halves</h3>{_halves(result, places_compared(settings))}{findings_of(result, pictured)}"
        f"<h3>Meant to differ</h3>{_allowances(result)}"
        f"<h3>Hand-off</h3>{readiness_of(result)}{size}{_notes(result)}</section>"
    )


def _halves(result: FigureResult, compared: bool) -> str:
    vertices = sum(one.vertices - one.allowed_places for one in result.objects)
    excused = sum(one.allowed for one in result.objects)
    said = f"; {excused:,} excused as meant to differ" if excused else ""
    why = f" {sentence(result.plane.why)}" if result.plane.why else ""
    done = f"{vertices:,} vertices compared within {length(result.tolerance)}" if compared else "Places were left out"
    return (
        f"<p>{done}{said}. "
        f"Mirror plane: {words(PLANES.get(result.plane.how, result.plane.how))}.{why}</p>"
    )


def _allowances(result: FigureResult) -> str:
    rows = [
        [
            cell(words(use.allowance.kind)), cell(name(use.allowance.subject or use.allowance.owner)),
            cell(name(use.allowance.owner)), cell(sentence(use.allowance.reason or "no reason given")),
            cell(f"{use.count:,}", use.count),
        ]
        for use in result.allowances
    ]
    heads = [("Kind", False), ("What", False), ("Kept on", False), ("Reason", False), ("Excuses", True)]
    return table(heads, rows, "Allowances and what they excuse") if rows else "<p>No allowances.</p>"


def _notes(result: FigureResult) -> str:
    told = [sentence(note) for note in result.notes]
    told += [f"{name(entry.name)}: {sentence(note)}" for entry in result.objects for note in entry.notes]
    return f"<h3>Notes</h3>{items(told)}" if told else ""
