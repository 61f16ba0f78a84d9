"""A figure's findings in words, each with a picture of where it is."""

from ...findings import NOTE_CODES, FigureResult, Finding, ObjectResult
from ..against import elements_of
from ..as_table import amount
from ..wording import IN_MOTION, counted
from .drawing import Drawn, thumbs, with_spots
from .markup import items, name, sentence, words

MOST_PICTURES = 16
"""Findings of one figure that get a picture of their own; the large pictures show all of them."""
MOST_ELEMENTS = 12
KINDS = {
    "vertex": "Vertices", "edge": "Edges", "face": "Faces", "corner": "Face corners",
    "bone": "Bones", "group": "Groups", "key": "Keys",
}
LEVELS = {"error": "✗ Error", "warning": "! Warning", "note": "· Note"}


def findings_of(result: FigureResult, pictured: Drawn | None) -> str:
    """Every finding of every object, object by object; a sentence where there is none."""
    made = []
    number = 0
    placed = set(with_spots(pictured)) if pictured is not None else set()
    shown = set(sorted(placed)[:MOST_PICTURES])
    for entry in result.objects:
        for finding in entry.findings:
            if finding.count:
                where = thumbs(pictured, number) if pictured is not None and number in shown else ""
                made.append(_finding(entry, finding, where))
            number += 1
    if not made:
        return "<p>Nothing: the two halves match.</p>"
    more = len(placed) - len(shown)
    said = f"<p>{more} more findings are shown in the large pictures only.</p>" if more else ""
    return "".join(made) + said


def about(finding: Finding) -> str:
    """How many elements, and what is the matter with them."""
    return counted(finding.code, finding.count)


def _finding(entry: ObjectResult, finding: Finding, where: str) -> str:
    subject = f" in {name(finding.subject)}" if finding.subject else ""
    told = " told" if finding.code in NOTE_CODES else ""
    lines = [f"<h4>{name(entry.name)}{subject}: {words(about(finding))}</h4>", f"<p>{_size(finding)}</p>"]
    if finding.code in IN_MOTION:
        lines.append(f"<p>{words(IN_MOTION[finding.code])}</p>")
    if finding.advice:
        lines.append(f"<p>{sentence(finding.advice)}</p>")
    lines.append(f'<p class="soft">{_elements(finding)}</p>')
    return f'<article class="finding{told}"><div>{"".join(lines)}</div><div>{where}</div></article>'


def _size(finding: Finding) -> str:
    parts = [f'<span class="tag">{words(finding.code)}</span>']
    if finding.worst is not None:
        parts.append(f"worst {amount(finding.worst, finding.unit)}")
    if finding.islands > 1:
        parts.append(f"in {finding.islands:,} pieces")
    if finding.hidden:
        parts.append(f"{finding.hidden:,} hidden")
    if finding.partner_object:
        parts.append(f"partners in {name(finding.partner_object)}")
    if finding.new is not None:
        parts.append("new since the baseline" if finding.new else "inherited from the baseline")
    if finding.code in NOTE_CODES:
        parts.append("a note: the figure may still be within its limits")
    return ", ".join(parts)


def _elements(finding: Finding) -> str:
    every = elements_of(finding)
    listed = ", ".join(name(one) if isinstance(one, str) else str(one) for one in every[:MOST_ELEMENTS])
    more = f" and {len(every) - MOST_ELEMENTS:,} more" if len(every) > MOST_ELEMENTS else ""
    return f"{KINDS.get(finding.kind, 'Elements')}: {listed}{more}"


def readiness_of(result: FigureResult) -> str:
    """What stands before hand-off, errors first."""
    order = list(LEVELS)
    told = sorted(result.readiness, key=lambda one: order.index(one.level) if one.level in order else len(order))
    entries = [
        f"<strong>{words(LEVELS.get(one.level, one.level))}:</strong> {sentence(one.message)} "
        f'<span class="tag">{words(one.code)}</span>'
        for one in told
    ]
    return items(entries) or "<p>Nothing stands before hand-off.</p>"
