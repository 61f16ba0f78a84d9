"""An edit of the neutral shape carried over to the keys that were left behind."""

import numpy as np

from ..figure import FloatArray, IntArray, Surface
from ..layers import BoolArray
from ..pairing.islands import components
from ..symmetry.keys.stale import FAIR, FAIR_FROM, FEWEST, ROUNDING, SHARE, most_told
from ..symmetry.paired_rows import shown
from .case import Case, RepairError
from .changes import Plan
from .deltas import Delta, delta_of, plan_of, sound_key


def carry_over(case: Case) -> Plan:
    """Takes the displacement that stands in the keys out of each key that has it.

    Where most keys agree on it to the last digits it is carried over even if it is too small to
    be reported; and next to there where fewer keys tell it, because the others also move by
    themselves. Keys made after the edit stay. Those that build on a key left behind follow it.
    """
    here = case.here
    listed = case.finding.elements[case.wanted(here.name, case.finding.elements)]
    deltas = _left_behind(case)
    if not deltas or not len(listed):
        return Plan()
    rows, stray = _stray(deltas, listed, here)
    chosen = case.wanted(here.name, rows) & ~case.excused[here.name][rows]
    rows, stray = rows[chosen], stray[chosen]
    meant = _meant(case)
    changes, emptied = [], []
    for one in (delta for delta in deltas if delta.name not in meant):
        rest = one.by.copy()
        rest[rows] -= stray
        far = np.linalg.norm(rest @ here.to_world[:3, :3].T, axis=1)
        if far.max(initial=0.0) > case.limits.tolerance:
            changes.append(one.set(rows, rest[rows]))
        else:
            emptied.append(one.name)
    told = [f"{shown(emptied)}: left as it is, nothing of its movement would remain."] if emptied else []
    held = [delta.name for delta in deltas if delta.name in meant]
    told += [f"{shown(held)}: left as it is, it is meant to differ."] if held else []
    return plan_of(case, changes, told)


def _meant(case: Case) -> frozenset[str]:
    """The keys of the object that are excused as a whole."""
    return frozenset(
        one.subject for one in case.figure.allowances
        if one.kind == "key" and not one.code and one.owner == case.here.name
    )


def _left_behind(case: Case) -> list[Delta]:
    """The keys on the neutral one that move at least half of all the listed vertices."""
    turn, listed = case.here.to_world[:3, :3].T, case.finding.elements
    found = []
    for one in _on_neutral(case):
        moved = np.linalg.norm(one.by[listed] @ turn, axis=1) > case.limits.tolerance
        if 2 * int(moved.sum()) >= len(listed):
            found.append(one)
    return found


def _on_neutral(case: Case) -> list[Delta]:
    keys = case.here.layers.keys if case.here.layers is not None else None
    if keys is None:
        raise RepairError(f"{case.here.name} has no shape keys any more: check again.")
    return [
        delta_of(case.here, key.name)
        for key in keys.keys
        if key.name != keys.reference and sound_key(case.here, key) and (not keys.relative or key.relative_to in ("", keys.reference))
    ]


def _stray(deltas: list[Delta], listed: IntArray, here: Surface) -> tuple[IntArray, FloatArray]:
    """Vertices (k,) and what stands in all these keys there (k, 3); the listed are always in it."""
    near = ROUNDING * float(np.nanmax(np.abs(here.positions), initial=0.0))
    rows = np.flatnonzero(np.all([one.by.any(axis=1) for one in deltas], axis=0))
    rows = np.union1d(rows, listed)
    table = np.array([one.by[rows] for one in deltas])
    told, agreeing = most_told(table, near)
    sure = (agreeing >= max(FEWEST, int(SHARE * len(deltas)) + 1)) | np.isin(rows, listed)
    fair = agreeing >= max(2.0, len(deltas) * FAIR) if len(deltas) >= FAIR_FROM else sure
    few = agreeing < 2
    told[few] = np.median(table[:, few], axis=0)
    there = np.linalg.norm(told, axis=1) > near
    kept = _touching(rows, sure & there, fair & there, here)
    return rows[kept], told[kept]


def _touching(rows: IntArray, sure: BoolArray, fair: BoolArray, here: Surface) -> BoolArray:
    """The sure ones, and the fair ones that hang together with a sure one."""
    inside = np.zeros(len(here.positions), bool)
    inside[rows[sure | fair]] = True
    edges = here.edges.reshape(-1, 2)
    label = components(len(inside), edges[inside[edges].all(axis=1)])[rows]
    return sure | (fair & np.isin(label, label[sure]))
