"""Many findings mended in one go, each planned on what the ones before it leave."""

from collections.abc import Collection
from dataclasses import replace

from ..findings import Finding, ObjectResult
from . import REPAIRS, RepairError, plan_repair
from .case import Checked
from .changes import Change, Plan, Wish

FAR = 100.0
"""Further than so many tolerances a vertex is not moved unasked: it may be meant. Our choice."""


def safe_codes() -> tuple[str, ...]:
    """The kinds that may be mended together without a judgement."""
    return tuple(code for code, repair in REPAIRS.items() if repair.safe)


def plan_together(
    checked: Checked,
    objects: Collection[ObjectResult],
    codes: Collection[str],
    wish: Wish,
    *,
    careful: bool = False,
) -> Plan:
    """The changes that mend every finding of these kinds, in the order of REPAIRS.

    ``careful`` leaves alone what lies so far off that it may be meant.
    What cannot be mended is left alone, with the reason. ``largest`` is that of the unit most
    findings have; sizes of unlike units are never compared.
    """
    changes: list[Change] = []
    told: list[str] = []
    plans: list[Plan] = []
    entries = {entry.name: entry for entry in objects}
    for code in (code for code in REPAIRS if code in codes):
        for name, finding in _of_code(entries, code):
            asked, far = _near(finding, checked) if careful else (finding, 0)
            if far:
                told.append(f"{name}: left alone as too far off to be moved unasked: {far}.")
            if not asked.count:
                continue
            try:
                plan = plan_repair(checked, entries[name], asked, wish)
            except RepairError as error:
                told.append(str(error))
                continue
            entries[name] = _without(entries[name], finding)
            checked = checked.after(plan.changes)
            changes += plan.changes
            told += plan.left_alone
            plans.append(plan)
    units = [plan.unit for plan in plans if plan.changes]
    unit = max(set(units), key=units.count) if units else "metres"
    largest = max((plan.largest for plan in plans if plan.unit == unit), default=0.0)
    elements = sum(plan.elements for plan in plans)
    return Plan(tuple(changes), tuple(dict.fromkeys(told)), elements, largest, unit)


def _near(finding: Finding, checked: Checked) -> tuple[Finding, int]:
    """The finding without vertices that lie far off, and how many those are."""
    if finding.kind != "vertex" or finding.unit != "metres":
        return finding, 0
    stay = ~(finding.sizes > FAR * checked.limits.tolerance * checked.limits.metres)
    near = replace(
        finding, elements=finding.elements[stay], partners=finding.partners[stay],
        sizes=finding.sizes[stay], vertices=finding.vertices[:0],
    )
    return near, int((~stay).sum())


def _of_code(entries: dict[str, ObjectResult], code: str) -> list[tuple[str, Finding]]:
    return [
        (name, finding)
        for name, entry in entries.items()
        for finding in entry.findings
        if finding.code == code and finding.count
    ]


def _without(entry: ObjectResult, mended: Finding) -> ObjectResult:
    return replace(entry, findings=tuple(one for one in entry.findings if one is not mended))
