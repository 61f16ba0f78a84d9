"""A plan and a comparison as lines of text, for panel, clipboard and table."""

from collections.abc import Callable, Iterator

from ..planning.compare import CompareRow, Comparison
from ..planning.plan import Plan, SpanChange
from ..spoken import landmark_words, plain_word

Length = Callable[[float], str]
"""Writes a length in metres, as the scene or the table shows lengths."""

SPAN_WORDS = {"head": "Head", "neck": "Neck", "torso": "Torso", "leg": "Leg", "body": "Body"}
SAME_HEADS = 0.005
"""Heads that are shown as 0.00."""
KEEP_WORDS = {"head": "keep the head", "height": "keep the height"}


def plan_lines(plan: Plan, length: Length) -> tuple[str, ...]:
    """The whole plan: what is wanted, how each span changes, new heights, cautions."""
    return tuple(_plan_lines(plan, length))


def _plan_lines(plan: Plan, length: Length) -> Iterator[str]:
    yield f"From {plan.heads:.2f} to {plan.target:.2f} heads, {KEEP_WORDS[plan.keep]}"
    yield f"Head {_change(plan.head_before, plan.head_after, length)}, height {_change(plan.height_before, plan.height_after, length)}"
    for span in plan.spans:
        yield span_line(span, length)
    if (said := range_words(plan)) is not None:
        yield said
    for name, height in sorted(plan.after.items(), key=lambda item: -item[1]):
        if name != "sole":
            yield f"{landmark_words(name)} from {length(plan.before[name])} to {length(height)} above the sole"
    yield from plan.cautions


def range_words(plan: Plan) -> str | None:
    """By how much the body or head changes over the range of the count; None where that is clear."""
    what = "body" if plan.keep == "head" else "head"
    said = f"Within the count's range the {what} changes by {plan.percent_low:+.0f} %"
    if plan.percent_high is None:
        return f"{said} or more, upper end unknown"
    return f"{said} to {plan.percent_high:+.0f} %" if plan.percent_high - plan.percent_low > 1.0 else None


def plan_table(plan: Plan, length: Length) -> tuple[str, ...]:
    """The plan in aligned columns: spans with their change, heights above the sole; then its cautions."""
    spans = [("", "before", "after", "change", "heads")]
    spans.append(("Whole", *_lengths(plan.height_before, plan.height_after, length), f"{plan.heads:.2f} to {plan.target:.2f}"))
    spans += [
        (span_words(span), *_lengths(span.before, span.after, length), f"{span.heads_before:.2f} to {span.heads_after:.2f}")
        for span in plan.spans
    ]
    heights = [("Above the sole", "before", "after", "change", "heads")]
    heights += [
        (
            landmark_words(name), *_lengths(plan.before[name], height, length),
            f"{plan.before[name] / plan.head_before:.2f} to {height / plan.head_after:.2f}",
        )
        for name, height in sorted(plan.after.items(), key=lambda item: -item[1])
        if name not in ("crown", "sole")
    ]
    said = range_words(plan)
    return (
        f"{KEEP_WORDS[plan.keep]}, from {plan.heads:.2f} to {plan.target:.2f} heads",
        *_aligned(spans), *_aligned(heights), *([] if said is None else [said]), *plan.cautions,
    )


def _aligned(rows: list[tuple[str, str, str, str, str]]) -> list[str]:
    widths = [max(len(row[column]) for row in rows) for column in range(5)]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]


def _lengths(before: float, after: float, length: Length) -> tuple[str, str, str]:
    change = after - before
    same = abs(change) <= 1e-6 * max(abs(before), abs(after))
    percent = 100.0 * change / before if before else 0.0
    sign = "+" if change > 0 else "-"
    return length(before), length(after), "none" if same else f"{sign}{length(abs(change))} ({percent:+.0f} %)"


def _change(before: float, after: float, length: Length) -> str:
    same = abs(after - before) <= 1e-9 * max(abs(before), abs(after))
    return f"stays {length(before)}" if same else f"{length(before)} to {length(after)}"


def span_line(span: SpanChange, length: Length) -> str:
    """One span: by how much it grows or shrinks, in lengths, percent and heads."""
    return f"{span_words(span)} {span_change(span, length)}, {span.heads_before:.2f} to {span.heads_after:.2f} heads"


def span_words(span: SpanChange) -> str:
    """A span with its ends, "Leg, crotch to sole"; the head's ends are those of the count."""
    name = SPAN_WORDS.get(span.name, span.name)
    if span.name == "head":
        return name
    return f"{name}, {plain_word(span.upper)} to {plain_word(span.lower)}"


def span_ends(plan: Plan) -> str:
    """Where each span begins and ends, but for the head, in one line."""
    return "; ".join(span_words(span) for span in plan.spans if span.name != "head")


def span_change(span: SpanChange, length: Length) -> str:
    """By how much a span grows or shrinks, and to what; "stays" where it does neither."""
    if abs(span.change) <= 1e-6 * max(span.before, span.after):
        return f"stays {length(span.before)}"
    verb = "grows" if span.change > 0 else "shrinks"
    return f"{verb} by {length(abs(span.change))} ({span.percent:+.0f} %) to {length(span.after)}"


def compare_lines(found: Comparison, length: Length) -> tuple[str, ...]:
    """The comparison: both counts, each landmark and width side by side, notes."""
    head = f"{found.heads_here:.2f} heads here, {found.heads_there:.2f} in {found.name}"
    return (head, *(compare_line(row, length) for row in found.rows), *found.notes)


def compare_line(row: CompareRow, length: Length) -> str:
    """One landmark in heads down from the crown, one width or the whole height in heads."""
    kind = "" if row.whole else " wide" if row.width else " down"
    text = f"{row_words(row)} {row.here:.2f} heads{kind}, there {row.there:.2f}: {compare_difference(row, length)}"
    if row.height_there is not None:
        above = "" if row.whole or row.width else "above the sole "
        text += f"; {above}{length(row.height_here)} here, {length(row.height_there)} there"
    return text


def row_words(row: CompareRow) -> str:
    """The words of one row of a comparison."""
    return "Whole height" if row.whole else landmark_words(row.name)


def compare_difference(row: CompareRow, length: Length) -> str:
    """How this figure differs in one row, in heads and, but for the whole height, as a length."""
    if abs(row.difference) < SAME_HEADS:
        return "the same"
    if row.whole:
        return f"{abs(row.difference):.2f} heads {direction_words(row)} here"
    return f"{abs(row.difference):.2f} heads {direction_words(row)} here ({length(abs(row.metres))})"


def direction_words(row: CompareRow) -> str:
    """Which way this figure differs: counted from the crown, never up or down in the scene."""
    more = row.difference > 0
    if row.whole:
        return "fewer" if more else "more"
    if row.width:
        return "wider" if more else "narrower"
    return "nearer the crown" if more else "further from the crown"
