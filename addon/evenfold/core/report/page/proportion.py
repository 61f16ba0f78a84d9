"""A figure's count, its plan to the target, and what it is compared with."""

from ...errors import EvenfoldError
from ...findings import Proportion
from ...planning.plan import Plan, make_plan
from ...settings import Settings
from ..as_table import length
from ..plan_text import KEEP_WORDS, SPAN_WORDS, compare_lines, landmark_words
from ..proportion_json import comparison_of
from .drawing import Drawn
from .markup import cell, items, sentence, table, words
from .planned import planned

HOWS = {"pinned": "pinned", "weights": "from weights", "bones": "from bones", "shape": "from shape"}
BAR, TALL = 70, 250


def proportion_of(found: Proportion, settings: Settings, pictured: Drawn | None = None) -> str:
    """Count, target, heights, plan (with its picture, if any), comparison and what the count rests on."""
    made = [_count(found), _target(found)]
    if found.height is not None:
        worn = ""
        if found.full_height is not None and found.full_height > found.height * 1.001:
            worn = f", {length(found.full_height)} with all that is worn or grown"
        made.append(f"<p>Height {length(found.height)}, head {length(found.head_height)}{worn}.</p>")
    made += [_plan(found, settings, pictured), _comparison(found, settings), _landmarks(found)]
    made.append(items([sentence(one) for one in found.guesses]))
    return "".join(made)


def _count(found: Proportion) -> str:
    if found.heads_tall is None:
        return f"<p><strong>No count of heads.</strong> {sentence(found.refusal or '')}</p>"
    span = ""
    if found.low is not None and found.high is not None:
        span = f" (between {found.low:.2f} and {found.high:.2f})"
    hair = ""
    if found.hair_shows:
        hair = f"; {found.heads_with_hair:.2f} counted with hair and ears"
    return f"<p><strong>{found.heads_tall:.2f} heads tall</strong> by skull{span}{hair}.</p>"


def _target(found: Proportion) -> str:
    if found.target is None:
        return ""
    if found.within_target is None:
        return f"<p>Target {found.target:.2f} heads.</p>"
    sign, kind, said = ("✓", "ok", "reached") if found.within_target else ("✗", "off", "missed")
    return f'<p>Target {found.target:.2f} heads: <span class="{kind}"><span aria-hidden="true">{sign}</span> {said}</span>.</p>'


def _plan(found: Proportion, settings: Settings, pictured: Drawn | None) -> str:
    if found.target is None or found.within_target is not False:
        return ""
    try:
        plan = make_plan(found, found.target, settings.keep)
    except EvenfoldError as refusal:
        return f"<h3>Plan to the target</h3><p>{sentence(refusal)}</p>"
    rows = [_row("Whole", plan.height_before, plan.height_after, f"{plan.heads:.2f} to {plan.target:.2f}")]
    rows += [
        _row(SPAN_WORDS.get(one.name, one.name), one.before, one.after, f"{one.heads_before:.2f} to {one.heads_after:.2f}")
        for one in plan.spans
    ]
    heads = [("Span", False), ("Now", True), ("Wanted", True), ("Change", True), ("Heads", True)]
    caption = f"From {plan.heads:.2f} to {plan.target:.2f} heads, {KEEP_WORDS[plan.keep]}"
    inner = table(heads, rows, caption) + items([sentence(one) for one in plan.cautions])
    outline = planned(pictured, plan) if pictured is not None else ""
    return f'<h3>Plan to the target</h3><div class="views">{_bars(plan)}{outline}</div>{inner}'


def _row(label: str, before: float, after: float, heads: str) -> list[str]:
    change = after - before
    same = abs(change) <= 1e-6 * max(abs(before), abs(after))
    percent = f" ({100.0 * change / before:+.0f} %)" if before else ""
    text = "none" if same else f"{'+' if change > 0 else '−'}{length(abs(change))}{percent}"
    return [
        cell(words(label)), cell(length(before), before), cell(length(after), after),
        cell(text, change), f'<td class="num">{heads}</td>',
    ]


def _bars(plan: Plan) -> str:
    """The spans as two stacks on one floor: as they are, and as they are wanted."""
    tallest = max(plan.height_before, plan.height_after)
    made = []
    for column, (label, ends) in enumerate((("now", "before"), ("wanted", "after"))):
        left, top = 10 + column * (BAR + 90), TALL + 24.0
        for number, span in enumerate(reversed(plan.spans)):
            high = max(getattr(span, ends), 0.0) / tallest * TALL
            top -= high
            kind = "odd" if number % 2 else "even"
            made.append(f'<rect class="{kind}" x="{left}" y="{top:.1f}" width="{BAR}" height="{high:.1f}"/>')
            made.append(f'<text x="{left + BAR + 6}" y="{top + high / 2 + 4:.1f}">{words(SPAN_WORDS.get(span.name, span.name))}</text>')
        made.append(f'<text x="{left}" y="{TALL + 42}">{label}</text>')
    return f'<svg role="img" class="bars" viewBox="0 0 330 {TALL + 50}" aria-label="Spans now and as wanted">{"".join(made)}</svg>'


def _comparison(found: Proportion, settings: Settings) -> str:
    side = comparison_of(found, settings)
    if side is None:
        return ""
    return f"<h3>Compared</h3>{items([sentence(one) for one in compare_lines(side, length)])}"


def _landmarks(found: Proportion) -> str:
    if not found.landmarks:
        return ""
    ordered = sorted(found.landmarks.items(), key=lambda item: -item[1].height)
    rows = [
        [
            cell(words(landmark_words(name))), cell(length(one.height), one.height),
            cell(f"{length(one.low)} to {length(one.high)}"), cell(words(HOWS.get(one.how, one.how))),
            cell(sentence(one.evidence)),
        ]
        for name, one in ordered
    ]
    heads = [("Landmark", False), ("Height", True), ("Between", False), ("Known", False), ("Rests on", False)]
    return f"<h3>Landmarks</h3>{table(heads, rows, 'Heights above the sole')}"
