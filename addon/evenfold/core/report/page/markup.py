"""Text into HTML: whatever comes from a file is made harmless and readable first."""

import math
from collections.abc import Iterable, Iterator
from html import escape

from ..as_table import safe

LONGEST = 160
"""Signs of a name that are shown; the JSON report has all of it."""


def words(text: object, longest: int = LONGEST) -> str:
    """The text for HTML, in elements and quoted attributes: steering signs written out, cut if long."""
    shown = str(text)
    shown = shown if len(shown) <= longest else f"{shown[: longest - 1]}…"
    return escape(safe(shown), quote=True)


def name(text: object) -> str:
    """A name from a file, kept from turning the direction of what stands around it."""
    return f"<bdi>{words(text)}</bdi>"


def sentence(text: object) -> str:
    """Longer text, which may hold names too."""
    return f'<bdi>{words(text, 1200)}</bdi>'


def items(entries: "list[str]", kind: str = "") -> str:
    """A list of ready HTML entries; nothing where there are none."""
    if not entries:
        return ""
    opening = f'<ul class="{kind}">' if kind else "<ul>"
    return opening + "".join(f"<li>{entry}</li>" for entry in entries) + "</ul>"


def table(heads: "list[tuple[str, bool]]", rows: "list[list[str]]", caption: str, kind: str = "") -> str:
    """Rows of ready cells ("<td>…</td>") under heads; the flag of a head says its column holds numbers."""
    return "".join(table_parts(heads, rows, caption, kind))


def table_parts(
    heads: "list[tuple[str, bool]]", rows: "Iterable[list[str]]", caption: str, kind: str = ""
) -> "Iterator[str]":
    """The same piece by piece."""
    top = "".join(
        f'<th scope="col"{" class=num" if numeric else ""}>{words(text)}</th>' for text, numeric in heads
    )
    sort = f' class="{kind}"' if kind else ""
    yield f'<div class="wide" role="region" tabindex="0" aria-label="{words(caption)}"><table{sort}>'
    yield f"<caption>{words(caption)}</caption><thead><tr>{top}</tr></thead><tbody>"
    yield from (f"<tr>{''.join(row)}</tr>" for row in rows)
    yield "</tbody></table></div>"


def cell(content: str, value: float | None = None) -> str:
    """A cell of ready HTML; with a value, a number to sort by."""
    if value is None:
        return f"<td>{content}</td>"
    known = f' data-v="{value:.9g}"' if math.isfinite(value) else ""
    return f'<td class="num"{known}>{content}</td>'


def verdict(within: bool) -> str:
    """The verdict in words and with a sign, so that nobody needs its colour."""
    if within:
        return '<span class="ok"><span aria-hidden="true">✓</span> within limits</span>'
    return '<span class="off"><span aria-hidden="true">✗</span> outside limits</span>'
