"""An edit of the neutral shape carried over to the keys that were left behind."""

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray
from ..symmetry.keys.stale import FEWEST, SHARE
from .case import Case, RepairError
from .changes import Plan
from .deltas import Delta, delta_of, plan_of

ROUNDING = 8.0 * float(np.finfo(np.float32).eps)
"""A share of the object's size below which two movements are the same as stored."""


def carry_over(case: Case) -> Plan:
    """Takes the displacement that stands in the keys out of each key that has it.

    It is the middle of all keys' movements at a vertex; where most keys agree on it to the last
    digits it is carried over even if it is too small to be reported. Keys made after the edit
    stay. Those that build on a key left behind follow it.
    """
    here = case.here
    listed = case.finding.elements[case.wanted(here.name, case.finding.elements)]
    deltas = _on_neutral(case)
    if len(deltas) < FEWEST or not len(listed):
        return Plan()
    stray, agreeing = _stray(deltas, _scale(here.positions))
    wanted = max(FEWEST, int(SHARE * len(deltas)) + 1)
    rows = np.flatnonzero((agreeing >= wanted) & ~case.checked.excused[here.name])
    rows = np.union1d(rows[case.wanted(here.name, rows)], listed)
    bound = case.limits.tolerance
    turn = here.to_world[:3, :3].T
    changes = []
    for one in deltas:
        moved = np.linalg.norm(one.by[listed] @ turn, axis=1) > bound
        if 2 * int(moved.sum()) >= len(listed):
            changes.append(one.set(rows, one.by[rows] - stray[rows]))
    return plan_of(case, changes)


def _on_neutral(case: Case) -> list[Delta]:
    keys = case.here.layers.keys if case.here.layers is not None else None
    if keys is None:
        raise RepairError(f"{case.here.name} has no shape keys any more: check again.")
    return [
        delta_of(case.here, key.name)
        for key in keys.keys
        if key.name != keys.reference and (not keys.relative or key.relative_to in ("", keys.reference))
    ]


def _scale(positions: NDArray[np.floating]) -> float:
    return float(np.nanmax(np.abs(positions), initial=0.0))


def _stray(deltas: list[Delta], size: float) -> tuple[FloatArray, IntArray]:
    """(n, 3) the middle movement over all keys, and (n,) how many have just that one."""
    stray, agreeing = np.zeros(deltas[0].by.shape), np.zeros(len(deltas[0].by), np.int64)
    often = np.sum([one.by.any(axis=1) for one in deltas], axis=0)
    rows = np.flatnonzero(2 * often >= len(deltas))
    table = np.array([one.by[rows] for one in deltas])
    stray[rows] = np.median(table, axis=0)
    alike = np.linalg.norm(table - stray[rows], axis=2) <= ROUNDING * size
    there = np.linalg.norm(stray[rows], axis=1) > ROUNDING * size
    agreeing[rows] = (alike & there).sum(axis=0)
    return stray, agreeing
