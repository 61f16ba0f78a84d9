"""Many findings mended in one go, each planned on what the ones before it leave."""

from collections.abc import Collection
from dataclasses import dataclass, field, replace

from ..allowances import excuse
from ..findings import Finding, ObjectResult
from ..symmetry import weights
from . import REPAIRS, RepairError, plan_repair
from .case import Checked
from .changes import Plan, Wish
from .guarded import FAR
from .surface import far_off

_OWN_GUARD = ("drifted", "near-miss", "off-centre")
"""Repairs that leave the far ones alone themselves."""

_FROM_HALVES = ("key-off-centre", "key-spill", "weight-drifted")
"""Repairs that would rest on what is left of an object of which one half was rebuilt."""


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
    findings have, ``further`` those of the others; sizes of unlike units are never compared.
    """
    run = _Run(checked, {entry.name: entry for entry in objects}, wish, careful)
    for code in (code for code in REPAIRS if code in codes):
        mended = _of_code(run.entries, code)
        for name, finding in mended:
            run.mend(name, finding)
        if code == "weight-drifted":
            for name, finding in run.weights_left({name for name, _ in mended}):
                run.mend(name, finding, again=True)
    return run.plan()


@dataclass
class _Run:
    """What was planned so far, and the figure as that leaves it."""

    checked: Checked
    entries: dict[str, ObjectResult]
    wish: Wish
    careful: bool
    told: list[str] = field(default_factory=list)
    plans: list[Plan] = field(default_factory=list)
    far: dict[tuple[str, str], list[tuple[str, int]]] = field(default_factory=dict)

    def mend(self, name: str, finding: Finding, *, again: bool = False) -> None:
        """Plan one finding; with ``again`` its elements are counted already."""
        rebuilt = self.checked.rebuilt(name) if self.careful and finding.code in _FROM_HALVES else None
        if rebuilt is not None:
            self.told.append(rebuilt.message)
            return
        careful = self.careful and not self.wish.far
        asked, far = _near(finding, self.checked) if careful else (finding, 0)
        if far:
            self.far.setdefault((name, finding.code), []).append((finding.subject or "", far))
        if not asked.count:
            return
        try:
            plan = plan_repair(self.checked, self.entries[name], asked, self.wish)
        except RepairError as error:
            self.told.append(str(error))
            return
        self.entries[name] = _without(self.entries[name], finding)
        self.checked = self.checked.after(plan.changes)
        self.told += plan.left_alone
        self.plans.append(replace(plan, elements=0) if again else plan)

    def weights_left(self, names: Collection[str]) -> list[tuple[str, Finding]]:
        """What mending one pair of groups has left to do in another: they share their vertices."""
        if not any(plan.changes for plan in self.plans):
            return []
        figure, limits = self.checked.figure, self.checked.limits
        again = []
        for name in sorted(names):
            found = self.checked.compared.get(name)
            if found is not None and found.matched is not None:
                findings = tuple(weights.check(found.matched, limits))
                again.append(replace(self.entries[name], findings=findings))
        open_ones, _ = excuse(figure, again, figure.allowances)
        return _of_code({entry.name: entry for entry in open_ones}, "weight-drifted")

    def plan(self) -> Plan:
        """All of it as one."""
        changes = tuple(one for plan in self.plans for one in plan.changes)
        units = [plan.unit for plan in self.plans if plan.changes]
        order = sorted(set(units), key=lambda unit: (-units.count(unit), unit))
        sizes = [(max(plan.largest for plan in self.plans if plan.unit == unit), unit) for unit in order]
        (largest, unit), *further = sizes or [(0.0, "metres")]
        elements = sum(plan.elements for plan in self.plans)
        far = [
            far_off(name, code, sum(count for _, count in those), [subject for subject, _ in those if subject])
            for (name, code), those in self.far.items()
        ]
        told = tuple(dict.fromkeys([*far, *self.told]))
        return Plan(changes, told, elements, largest, unit, tuple(further))


def _near(finding: Finding, checked: Checked) -> tuple[Finding, int]:
    """The finding without vertices that lie far off, and how many those are."""
    if finding.code in _OWN_GUARD or finding.kind != "vertex" or finding.unit != "metres":
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
