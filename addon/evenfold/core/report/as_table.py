"""Results as a short text for people: one block for each figure."""

from collections.abc import Iterable, Iterator

from ..allowances import LAYER_OF_CODE
from ..errors import EvenfoldError
from ..findings import NOTE_CODES, FigureResult, FileResult, Finding, ObjectResult, Proportion
from ..planning.plan import make_plan
from ..settings import Settings
from .plan_text import compare_lines, plan_table
from .proportion_json import comparison_of
from .sized import size_line
from .wording import counted

VERDICTS = {"within": "within limits", "outside": "OUTSIDE LIMITS", "unreadable": "NOT CHECKED"}


def table(files: Iterable[FileResult], settings: Settings | None = None) -> str:
    """All files, in order, and a line of totals; ends with a line break.

    The plan to a missed target keeps what ``settings`` say, and their canon is compared with.
    """
    return "".join(table_parts(files, settings))


def table_parts(files: Iterable[FileResult], settings: Settings | None = None) -> Iterator[str]:
    """The same piece by piece."""
    settings = settings or Settings()
    counts = dict.fromkeys(VERDICTS, 0)
    for result in files:
        counts[result.status] += 1
        yield "\n".join([*_file_block(result, result.settings or settings), "", ""])
    within, outside, unread = counts.values()
    number = sum(counts.values())
    yield f"{number} {'file' if number == 1 else 'files'}: {within} within limits, {outside} outside, {unread} not checked.\n"


def safe(text: str) -> str:
    """The text with everything that could steer a terminal written out as an escape."""
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


def length(metres: float | None) -> str:
    """A length in the unit that reads best."""
    if metres is None:
        return "?"
    size = abs(metres)
    if size >= 1.0:
        return f"{metres:.2f} m"
    return f"{metres * 100:.1f} cm" if size >= 0.01 else f"{metres * 1000:.3g} mm"


def _file_block(result: FileResult, settings: Settings) -> Iterator[str]:
    yield f"{safe(result.path)}: {VERDICTS[result.status]}"
    if result.error is not None:
        yield f"  {safe(result.error)}"
    for figure in result.figures:
        yield from _figure_block(figure, settings)


def _figure_block(figure: FigureResult, settings: Settings) -> Iterator[str]:
    yield f"  {safe(figure.name)}: {VERDICTS['within' if figure.within else 'outside']}"
    yield from (f"    {label:<11} {text}" for label, text in _proportion_rows(figure.proportion))
    yield from _blocks(figure.proportion, settings)
    yield f"    {'Halves':<11} {_halves(figure, places_compared(settings))}"
    for result in figure.objects:
        for finding in result.findings:
            if finding.count:
                yield f"      {_finding_line(result, finding)}"
    if figure.size is not None:
        yield f"    {'Size':<11} {size_line(figure.size)}"
    for entry in figure.readiness:
        yield f"    {entry.level.capitalize():<11} {safe(entry.message)}"
    yield from (f"    {'Note':<11} {safe(note)}" for note in figure.notes)


def _proportion_rows(found: Proportion) -> Iterator[tuple[str, str]]:
    if found.heads_tall is None:
        yield "Heads tall", "no count"
    else:
        span = ""
        if found.low is not None and found.high is not None:
            span = f"  ({found.low:.2f} to {found.high:.2f})"
        yield "Heads tall", f"{found.heads_tall:.2f}{span}{_target(found)}"
        yield "Counted", _counted(found)
    if found.height is not None:
        text = f"{length(found.height)}, head {length(found.head_height)}"
        if found.full_height is not None and found.full_height > found.height * 1.001:
            text += f", with all that is worn or grown {length(found.full_height)}"
        yield "Height", text


def _counted(found: Proportion) -> str:
    text = f"{found.heads_tall:.2f} heads tall by skull"
    if found.hair_shows:
        text += f"; {found.heads_with_hair:.2f} counted with hair and ears"
    return text


def _blocks(found: Proportion, settings: Settings) -> Iterator[str]:
    """The plan where the target is missed, and the comparison where a canon is named."""
    blocks: list[tuple[str, tuple[str, ...]]] = []
    if found.target is not None and found.within_target is False:
        try:
            blocks.append(("Plan", plan_table(make_plan(found, found.target, settings.keep), length)))
        except EvenfoldError as refusal:
            blocks.append(("Plan", (str(refusal),)))
    side = comparison_of(found, settings)
    if side is not None:
        blocks.append(("Compared", compare_lines(side, length)))
    for label, lines in blocks:
        for number, line in enumerate(lines):
            yield f"    {label if number == 0 else '':<11} {safe(line)}"


def _target(found: Proportion) -> str:
    if found.target is None:
        return ""
    verdict = "reached" if found.within_target else "missed"
    return f", target {found.target:.2f} {verdict}"


def places_compared(settings: Settings) -> bool:
    """False where the settings name layers and the surface is none of them."""
    return not settings.layers or "surface" in settings.layers


def _halves(figure: FigureResult, compared: bool) -> str:
    """Excused vertices count neither as matching nor as off."""
    checked = sum(one.vertices - one.allowed_places for one in figure.objects)
    found = [
        one for result in figure.objects for one in result.findings if one.code not in NOTE_CODES and one.count
    ]
    off = sum(one.count for one in found if LAYER_OF_CODE.get(one.code) == "surface")
    others = sum(one.count for one in found) - off
    limit = length(figure.tolerance)
    if not compared:
        text = "places were left out"
    elif not checked:
        text = "there are no vertices to compare"
    elif off:
        text = f"{off:,} of {checked:,} vertices do not match within {limit}"
    else:
        text = f"match: {checked:,} vertices within {limit}"
    if others:
        text += f"; {others:,} {'difference' if others == 1 else 'differences'} of other kinds"
    excused = sum(one.allowed for one in figure.objects)
    return f"{text}; {excused:,} excused as meant to differ" if excused else text


def amount(size: float, unit: str) -> str:
    """A size in its unit: a length, degrees, or a plain difference of values."""
    if unit == "metres":
        return length(size)
    if unit == "degrees":
        return f"{size:.3g} degrees"
    return f"{size:.3g}"


def _finding_line(result: ObjectResult, finding: Finding) -> str:
    subject = f" in {safe(finding.whose)}" if finding.whose else ""
    worst = "" if finding.worst is None else f", worst {amount(finding.worst, finding.unit)}"
    hidden = f", {finding.hidden} hidden" if finding.hidden else ""
    age = "" if finding.new is None else ", new" if finding.new else ", inherited"
    return f"{safe(result.name)}{subject}: {counted(finding.code, finding.count)}{worst}{hidden}{age}"
