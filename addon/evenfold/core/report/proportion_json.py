"""A figure's proportion as plain data: count, landmarks, widths, plan and comparison."""

from collections.abc import Iterable

import numpy as np

from ..errors import EvenfoldError
from ..findings import Landmark, Proportion, Span
from ..planning.canons import canon_named
from ..planning.compare import Comparison, compare
from ..planning.plan import KEEPS, Plan, make_plan
from ..settings import Settings
from .plain import Json, number, point

COUNTED = {
    "heads_tall": "by skull: crown of the skull, chin and sole, without hair, ears and hats",
    "heads_with_hair": "counted with hair and ears: the head as high as all that is worn or grown on it",
}


def proportion_dict(found: Proportion, settings: Settings) -> Json:
    """All that is known of the proportion; the plan for its target both ways; what it is compared with."""
    return {
        "heads_tall": number(found.heads_tall),
        "low": number(found.low),
        "high": number(found.high),
        "heads_with_hair": number(found.heads_with_hair),
        "counted": COUNTED,
        "head_height": number(found.head_height),
        "height": number(found.height),
        "full_height": number(found.full_height),
        "landmarks": {name: _landmark(one) for name, one in found.landmarks.items()},
        "spans": {name: _span(one) for name, one in found.spans.items()},
        "up": _way(found.up),
        "forward": _way(found.forward),
        "target": number(found.target),
        "within_target": found.within_target,
        "refusal": found.refusal,
        "guesses": list(found.guesses),
        "plan": _plans(found),
        "comparison": _comparison(found, settings),
    }


def _landmark(one: Landmark) -> Json:
    return {
        "height": number(one.height),
        "point": point(one.point),
        "how": one.how,
        "low": number(one.low),
        "high": number(one.high),
        "evidence": one.evidence,
        "readings": [
            {"method": entry.method, "height": number(entry.height), "low": number(entry.low), "high": number(entry.high)}
            for entry in one.readings
        ],
    }


def _span(one: Span) -> Json:
    return {
        "length": number(one.length), "start": point(one.start), "end": point(one.end),
        "how": one.how, "evidence": one.evidence,
    }


def _way(direction: Iterable[float] | None) -> list[float | None] | None:
    return None if direction is None else point(np.asarray(direction, float).tolist())


def _plans(found: Proportion) -> Json | None:
    """The plan for the target with the head kept and with the height kept; None without a target."""
    if found.target is None or found.heads_tall is None:
        return None
    made: Json = {"target": number(found.target)}
    for keep in KEEPS:
        try:
            made[keep] = _plan(make_plan(found, found.target, keep))
        except EvenfoldError as refusal:
            made[keep] = {"refusal": str(refusal)}
    return made


def _plan(plan: Plan) -> Json:
    return {
        "refusal": None,
        "head_before": number(plan.head_before),
        "head_after": number(plan.head_after),
        "height_before": number(plan.height_before),
        "height_after": number(plan.height_after),
        "percent_low": number(plan.percent_low),
        "percent_high": number(plan.percent_high),
        "target_in_range": plan.covered,
        "canon": plan.canon,
        "landmarks": {
            name: {"before": number(plan.before[name]), "after": number(after)}
            for name, after in plan.after.items()
        },
        "spans": [
            {
                "name": one.name, "upper": one.upper, "lower": one.lower,
                "before": number(one.before), "after": number(one.after),
                "change": number(one.change), "percent": number(one.percent),
                "heads_before": number(one.heads_before), "heads_after": number(one.heads_after),
            }
            for one in plan.spans
        ],
        "cautions": list(plan.cautions),
    }


def comparison_of(found: Proportion, settings: Settings) -> Comparison | None:
    """The figure beside the canon the settings name; None where there is none or no count."""
    if not settings.canon or found.heads_tall is None:
        return None
    return compare(found, canon_named(settings.canon, settings.canons))


def _comparison(found: Proportion, settings: Settings) -> Json | None:
    side = comparison_of(found, settings)
    if side is None:
        return None
    return {
        "name": side.name,
        "source": side.source,
        "status": side.status,
        "kind": side.kind,
        "heads_here": number(side.heads_here),
        "heads_there": number(side.heads_there),
        "rows": [
            {
                "name": row.name, "width": row.width, "here": number(row.here),
                "there": number(row.there), "difference": number(row.difference),
                "metres": number(row.metres), "height_here": number(row.height_here),
            }
            for row in side.rows
        ],
        "notes": list(side.notes),
    }
