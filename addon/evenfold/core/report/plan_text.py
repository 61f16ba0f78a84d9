"""A plan and a comparison as lines of text, for panel, clipboard and table."""

from collections.abc import Callable, Iterator

from ..proportion.compare import CompareRow, Comparison
from ..proportion.plan import Plan, SpanChange

Length = Callable[[float], str]
"""Writes a length in metres, as the scene or the table shows lengths."""

SPAN_WORDS = {"head": "Head", "neck": "Neck", "torso": "Torso", "leg": "Leg", "body": "Body"}
KEEP_WORDS = {"head": "keep the head", "height": "keep the height"}


def plan_lines(plan: Plan, length: Length) -> tuple[str, ...]:
    """The whole plan: what is wanted, how each span changes, new heights, cautions."""
    return tuple(_plan_lines(plan, length))


def _plan_lines(plan: Plan, length: Length) -> Iterator[str]:
    yield f"From {plan.heads:.2f} to {plan.target:.2f} heads, {KEEP_WORDS[plan.keep]}"
    yield f"Head {_change(plan.head_before, plan.head_after, length)}, height {_change(plan.height_before, plan.height_after, length)}"
    for span in plan.spans:
        yield span_line(span, length)
    if plan.percent_high - plan.percent_low > 1.0:
        what = "body" if plan.keep == "head" else "head"
        yield f"As sure as the count: the {what} changes by {plan.percent_low:+.0f} to {plan.percent_high:+.0f} %"
    for name, height in sorted(plan.after.items(), key=lambda item: -item[1]):
        if name != "sole":
            yield f"{landmark_words(name)} from {length(plan.before[name])} to {length(height)} above the sole"
    yield from plan.cautions


def plan_table(plan: Plan, length: Length) -> tuple[str, ...]:
    """The plan as aligned rows: span, before, after, change, heads; then its cautions."""
    rows = [("", "before", "after", "change", "heads")]
    rows.append(("Whole", *_lengths(plan.height_before, plan.height_after, length), f"{plan.heads:.2f} to {plan.target:.2f}"))
    rows += [
        (
            SPAN_WORDS.get(span.name, span.name), *_lengths(span.before, span.after, length),
            f"{span.heads_before:.2f} to {span.heads_after:.2f}",
        )
        for span in plan.spans
    ]
    widths = [max(len(row[column]) for row in rows) for column in range(5)]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
    return (f"{KEEP_WORDS[plan.keep]}, from {plan.heads:.2f} to {plan.target:.2f} heads", *lines, *plan.cautions)


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
    name = SPAN_WORDS.get(span.name, span.name)
    return f"{name} {span_change(span, length)}, {span.heads_before:.2f} to {span.heads_after:.2f} heads"


def span_change(span: SpanChange, length: Length) -> str:
    if abs(span.change) <= 1e-6 * max(span.before, span.after):
        return f"stays {length(span.before)}"
    verb = "grows" if span.change > 0 else "shrinks"
    return f"{verb} by {length(abs(span.change))} ({span.percent:+.0f} %) to {length(span.after)}"


def compare_lines(found: Comparison, length: Length) -> tuple[str, ...]:
    """The comparison: both counts, each landmark and width side by side, notes."""
    head = f"{found.heads_here:.2f} heads here, {found.heads_there:.2f} in {found.name}"
    return (head, *(compare_line(row, length) for row in found.rows), *found.notes)


def compare_line(row: CompareRow, length: Length) -> str:
    """One landmark in heads down from the crown, or one width in heads, and the difference."""
    down = "wide" if row.width else "down"
    text = f"{landmark_words(row.name)} {row.here:.2f} heads {down}, there {row.there:.2f}: {compare_difference(row, length)}"
    if row.height_there is not None:
        text += f"; {length(row.height_here)} here, {length(row.height_there)} there"
    return text


def compare_difference(row: CompareRow, length: Length) -> str:
    if abs(row.difference) < 0.005:
        return "the same"
    more, less = ("wider", "narrower") if row.width else ("higher", "lower")
    words = more if row.difference > 0 else less
    return f"{abs(row.difference):.2f} heads {words} here ({length(abs(row.metres))})"


def landmark_words(name: str) -> str:
    return name.replace("_", " ").capitalize()
