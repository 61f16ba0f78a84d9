"""What to change on a figure so that it becomes as many heads tall as wanted."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..canon import Canon
from ..errors import EvenfoldError
from ..findings import Proportion
from .reach import arm_length

KEEPS = ("head", "height")
HEAD_MARKS = ("crown", "eye_line", "chin")
ARM_MARKS = ("elbow", "wrist", "fingertip")
SWALLOWED = 1.5
"""Below this many heads the head swallows the figure: common practice, no source."""
LEAST_OF_HEAD, LEAST_OF_OLD = 0.05, 0.2
"""A span shorter than these shares of the head and of itself before is as good as gone."""


class PlanError(EvenfoldError):
    """There is no way from this figure to the target."""


@dataclass(frozen=True)
class SpanChange:
    """The stretch from landmark ``upper`` down to ``lower``: metres, and heads of its own time."""

    name: str
    upper: str
    lower: str
    before: float
    after: float
    heads_before: float
    heads_after: float

    @property
    def change(self) -> float:
        """Metres it grows; negative where it shrinks."""
        return self.after - self.before

    @property
    def percent(self) -> float:
        return 100.0 * self.change / self.before if self.before else 0.0


@dataclass(frozen=True)
class Plan:
    """New heights above the sole of every landmark, in metres, and how each span changes.

    ``keep`` is "head" (the head stays, the body changes) or "height" (the total stays).
    ``percent_low`` and ``percent_high`` bracket the change of what gives way, body or head, by
    the range of the present count; the latter is None where that range reaches down to one head,
    at which there is no body to change. ``covered`` is true when that range holds the target already.
    ``canon`` names the canon the body's inner proportions are taken from, if any.
    """

    target: float
    keep: str
    heads: float
    low: float
    high: float
    before: Mapping[str, float]
    after: Mapping[str, float]
    spans: tuple[SpanChange, ...]
    percent_low: float
    percent_high: float | None
    covered: bool = False
    canon: str | None = None
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def cautions(self) -> tuple[str, ...]:
        """All that is to be said: ``notes``, which ask for nothing, then ``warnings``."""
        return (*self.notes, *self.warnings)

    @property
    def head_before(self) -> float:
        return self.before["crown"] - self.before["chin"]

    @property
    def head_after(self) -> float:
        return self.after["crown"] - self.after["chin"]

    @property
    def height_before(self) -> float:
        return self.before["crown"]

    @property
    def height_after(self) -> float:
        return self.after["crown"]


def make_plan(
    found: Proportion, target: float, keep: str = "head", canon: Canon | None = None
) -> Plan:
    """The plan from a measured figure to ``target`` heads.

    Without a ``canon`` all below the chin is scaled alike; with one, the body's landmarks go
    where it has them, and what it does not have lies in between as before. What of the body lies
    above the chin, as the shoulders of some stylised figures do, goes on at the body's scale.
    Raises PlanError.
    """
    heads, head, height = _require(found, target, keep)
    new_head, new_height = (head, target * head) if keep == "head" else (height / target, height)
    low = found.low if found.low is not None else heads
    high = found.high if found.high is not None else heads
    before = {name: mark.height for name, mark in found.landmarks.items() if math.isfinite(mark.height)}
    before.update(sole=0.0, chin=height - head, crown=height)
    after = _heights_after(before, new_head, new_height, canon)
    spans = _spans(before, after)
    least, most = _change_range((low, heads, high), target, keep)
    covered = low < high and low <= target <= high
    plan = Plan(
        target, keep, heads, low, high, before, after, spans, least, most, covered,
        canon.name if canon is not None else None,
    )
    return _with_cautions(plan, found, canon)


def retargeted(found: Proportion, target: float | None, band: float) -> Proportion:
    """The same measuring against another target, ``band`` heads wide either way."""
    if target is None or found.heads_tall is None:
        return replace(found, target=target, within_target=None)
    within = abs(found.heads_tall - target) <= band + 1e-9
    return replace(found, target=target, within_target=within)


def _require(found: Proportion, target: float, keep: str) -> tuple[float, float, float]:
    if keep not in KEEPS:
        raise PlanError(f"A plan keeps the head or the height, not {keep!r}.")
    if not math.isfinite(target) or target <= 1.0:
        raise PlanError(
            f"No figure can be {target:g} heads tall: at 1 head the chin touches the floor. Set a target above 1."
        )
    if found.heads_tall is None or not found.head_height or not found.height:
        raise PlanError("There is no plan without a count. " + (found.refusal or "Measure the figure first."))
    if found.heads_tall <= 1.0:
        raise PlanError("This figure has nothing below its chin to plan with: pin chin and sole.")
    return found.heads_tall, found.head_height, found.height


def _change_range(
    counts: tuple[float, ...], target: float, keep: str
) -> tuple[float, float | None]:
    """The least and the most percent; the most is None where a count leaves no body to change."""
    known = [one for one in counts if keep == "height" or one > 1.0]
    changes = sorted(_change_percent(one, target, keep) for one in known)
    return changes[0], changes[-1] if len(known) == len(counts) else None


def _change_percent(heads: float, target: float, keep: str) -> float:
    """Percent by which the body (head kept) or the head (height kept) changes from ``heads``."""
    factor = (target - 1.0) / (heads - 1.0) if keep == "head" else heads / target
    return 100.0 * (factor - 1.0)


def _heights_after(
    before: Mapping[str, float], head: float, height: float, canon: Canon | None
) -> dict[str, float]:
    chin, old_chin = height - head, before["chin"]
    old_head = before["crown"] - old_chin
    anchors = {"sole": (0.0, 0.0), "chin": (old_chin, chin)}
    eye_share = (before["eye_line"] - old_chin) / old_head if "eye_line" in before else 0.0
    if canon is not None:
        for name, share in canon.inner().items():
            if name in before and name not in ARM_MARKS:
                anchors[name] = (before[name], share * chin)
        if "eye_line" in canon.levels:
            eye_share = 1.0 - canon.levels["eye_line"]
    rising = sorted(anchors.values())
    old, new = np.array([one[0] for one in rising]), np.array([one[1] for one in rising])
    after: dict[str, float] = {}
    for name, level in before.items():
        if name in anchors:
            after[name] = anchors[name][1]
        elif 0.0 < level < old_chin:
            after[name] = float(np.interp(level, old, new))
        else:
            after[name] = level * chin / old_chin
    after["crown"] = height
    if "eye_line" in after:
        after["eye_line"] = chin + eye_share * head
    return after


def _spans(before: Mapping[str, float], after: Mapping[str, float]) -> tuple[SpanChange, ...]:
    """Head, neck, torso and leg as far as their ends are known and lie below each other."""
    neck = _first_between(before, ("neck_base", "shoulder"), before["chin"], 0.0)
    under = before[neck] if neck else before["chin"]
    fork = _first_between(before, ("crotch", "hip"), under, 0.0)
    stops = [("head", "crown", "chin")]
    top = "chin"
    if neck is not None:
        stops.append(("neck", "chin", neck))
        top = neck
    if fork is None:
        stops.append(("body", top, "sole"))
    else:
        stops += [("torso", top, fork), ("leg", fork, "sole")]
    heads = before["crown"] - before["chin"], after["crown"] - after["chin"]
    made = []
    for name, upper, lower in stops:
        old, new = before[upper] - before[lower], after[upper] - after[lower]
        made.append(SpanChange(name, upper, lower, old, new, old / heads[0], new / heads[1]))
    return tuple(made)


def _first_between(
    heights: Mapping[str, float], names: tuple[str, ...], top: float, bottom: float
) -> str | None:
    return next((name for name in names if name in heights and bottom < heights[name] < top), None)


def _with_cautions(plan: Plan, found: Proportion, canon: Canon | None) -> Plan:
    notes, said = [], [*_count_cautions(plan, found), *_span_cautions(plan)]
    if _is_reached(plan, found):
        notes.append("The figure is within its target already: nothing has to change.")
    if canon is not None:
        status = "a canon of your own" if canon.kind == "own" else "a canon, not anatomy"
        notes.append(f"The body's inner proportions follow {status}: {canon.name} ({canon.source}).")
        if not set(canon.inner()) & (set(plan.before) - set(ARM_MARKS)):
            notes.append("That canon shares no level with this figure, so the body is scaled alike.")
    arm = arm_length(found)
    reach = "shoulder" if "shoulder" in plan.after else "neck_base"
    if arm is not None and reach in plan.after and arm > plan.after[reach] and plan.after[reach] < plan.before[reach]:
        shorter = 100.0 * (1.0 - plan.after[reach] / arm)
        said.append(f"Arms kept as long as they are would hang below the floor: shorten them by more than {shorter:.0f} %.")
    return replace(plan, notes=tuple(notes), warnings=tuple(said))


def _is_reached(plan: Plan, found: Proportion) -> bool:
    aimed = found.target is not None and math.isclose(found.target, plan.target, rel_tol=1e-6)
    return aimed and bool(found.within_target)


def _count_cautions(plan: Plan, found: Proportion) -> list[str]:
    said = []
    if plan.covered and not _is_reached(plan, found):
        said.append(
            f"The count is only known to lie between {plan.low:.2f} and {plan.high:.2f}, and {plan.target:.2f} lies in that range: "
            "pin crown, chin and sole before you change anything."
        )
    if plan.target < SWALLOWED - 1e-9:
        said.append(f"Below about {SWALLOWED:g} heads the head swallows the figure (common practice, no source).")
    return said


def _span_cautions(plan: Plan) -> list[str]:
    said = []
    for span in plan.spans:
        if span.after >= span.before or span.heads_before < 0.02:
            continue
        if span.heads_after < LEAST_OF_HEAD or span.after < LEAST_OF_OLD * span.before:
            left = f"{100 * span.after / span.before:.0f} % of its length"
            said.append(f"The {span.name} would all but vanish: {left} is left, {span.heads_after:.2f} heads.")
    return said
