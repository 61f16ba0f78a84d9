"""Weights carried across with left and right groups exchanged, and missing groups made.

Only the pair of groups that a finding names is written. Where that would upset weights that sum
to 1 on both vertices, or where only the engine sees the difference, all deforming groups of the
vertex go along.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray, Weights
from ..influences import Entries, trimmed
from ..layers import BoolArray
from ..sides import counterpart
from ..symmetry.elements import place_numbers
from ..symmetry.matched import Matched
from ..symmetry.rebuilt import rebuilt_groups
from ..symmetry.weights import BLEND
from .case import Case, RepairError
from .changes import Change, Plan, Weighted
from .weight_columns import Columns, Held, columns_of, filled, held_by, weights_of

NORMAL = 1e-4
"""Weights count as summing to 1 up to this: some digits above single precision. Our choice."""

CELLS = 1 << 22
"""Vertices times groups worked on at once."""


@dataclass(frozen=True)
class _Task:
    """What to mend on vertex pairs: ``chosen`` (g,) the groups named, ``way`` which side wins.

    ``beyond`` is from where on, in scene units, the other half's groups have no business.
    ``listed`` where the pairs come from a finding on drifted weights: what is alike as stored is
    then there for what the engine makes of it.
    """

    case: Case
    columns: Columns
    here: Held
    there: Held
    chosen: BoolArray
    way: str
    beyond: float
    listed: bool = False


def mend(case: Case) -> Plan:
    """The weights for ``weight-drifted``. Weight of the other half's group beyond the middle goes,
    whichever side wins. Locked groups stay. Raises RepairError where the winner is empty."""
    names = case.finding.about
    held = weights_of(case.here), weights_of(case.there)
    _refuse_empty(case, names, held)
    columns = columns_of(case, ())
    chosen = np.array([name in names for name in columns.names], bool)
    kept = _wanted(case, case.finding.elements, case.finding.partners)
    mine, its = case.finding.elements[kept], case.finding.partners[kept]
    task = _Task(
        case, columns, held_by(case.here, columns), held_by(case.there, columns), chosen,
        case.wish.way, BLEND * _half_width(case), True,
    )
    plan = _plan(task, mine, its, len(mine))
    return replace(plan, left_alone=(*plan.left_alone, *_held(case, int((~kept).sum()))))


def _held(case: Case, left: int) -> tuple[str, ...]:
    """A sentence on listed vertices that stay because of what is excused in other groups there."""
    if case.wish.only or not left:
        return ()
    return (f"{left:,} vertices were left alone: their weights in another group are meant to differ.",)


def make_group(case: Case) -> Plan:
    """The missing counterpart of a group, with its weights mirrored; empty under a live mirror.

    Where the group covers the half of the missing one too, its weight there goes over to it.
    """
    name = case.finding.names[0]
    other = counterpart(name)
    if other is None:
        raise RepairError(f"{name} tells no side: rename it, or excuse it.")
    if case.checked.is_half(case.entry.name) or not len(case.finding.vertices):
        return Plan((_empty(case.there.name, other),), elements=1, unit="weight")
    matched = case.matched
    columns = columns_of(case, (other,))
    chosen = np.array([one in (name, other) for one in columns.names], bool)
    left = bool(columns.side[columns.names.index(name)] > 0)
    members = case.finding.vertices
    known = members[matched.partner[members] >= 0]
    mine, its = _own_half(case, known, matched, left)
    kept = _wanted(case, mine, its)
    mine, its = mine[kept], its[kept]
    wins = left if matched.itself else case.checked.sign > 0
    task = _Task(
        case, columns, held_by(case.here, columns), held_by(case.there, columns), chosen,
        "left" if wins else "right", BLEND * _half_width(case),
    )
    plan = _plan(task, mine, its, 1)
    lost = len(members) - len(known)
    told = (f"{lost:,} vertices of {name} have no known partner.",) if lost else ()
    made = any(isinstance(one, Weighted) and one.group == other for one in plan.changes)
    changes = plan.changes if made else (_empty(case.there.name, other), *plan.changes)
    return replace(plan, changes=changes, left_alone=(*plan.left_alone, *told))


def _empty(owner: str, group: str) -> Weighted:
    return Weighted(owner, group, np.zeros(0, np.int64), np.zeros(0))


def _own_half(
    case: Case, members: IntArray, matched: Matched, left: bool
) -> tuple[IntArray, IntArray]:
    """Pairs with the vertex on the group's own half first, whichever of them is the member."""
    if not matched.itself:
        return members, matched.partner[members]
    out = case.left(case.here) * (1.0 if left else -1.0)
    its = matched.partner[members]
    turned = out[members] < out[its]
    mine, its = np.where(turned, its, members), np.where(turned, members, its)
    both = np.unique(np.stack([mine, its], axis=1), axis=0)
    return both[:, 0], both[:, 1]


def _wanted(case: Case, mine: IntArray, its: IntArray) -> BoolArray:
    """Pairs that the artist asked for and of which neither vertex is excused."""
    here, there = case.here.name, case.there.name
    excused = case.excused
    kept = (its >= 0) & ~excused[here][mine] & ~excused[there][np.maximum(its, 0)]
    return kept & (case.wanted(here, mine) | case.wanted(there, its))


def _refuse_empty(case: Case, names: tuple[str, ...], held: tuple[Weights, Weights]) -> None:
    """A winner without any weight would wipe its counterpart's."""
    if len(names) < 2:
        return
    full = [any(filled(one, name) for one in held) for name in names]
    if case.checked.rebuilt(case.entry.name) is not None:
        both = rebuilt_groups(case.matched)
        full = [own and names[1 - at] not in both for at, own in enumerate(full)]
    loses = {"left": not full[0], "right": not full[1], "average": not all(full)}[case.wish.way]
    if loses and any(full):
        empty, other = (names[0], "right") if full[1] else (names[1], "left")
        raise RepairError(f"{empty} is empty: let the {other} side win, or paint {empty} first.")


def _half_width(case: Case) -> float:
    return float(np.nanmax(np.abs(case.checked.across(case.here)[:, 0]), initial=0.0))


@dataclass(frozen=True)
class _Mended:
    """Old and new weights (k, g) of vertices (k,), and which groups (g,) a lock kept as they were."""

    old: FloatArray
    new: FloatArray
    kept: BoolArray


def _plan(task: _Task, mine: IntArray, its: IntArray, elements: int) -> Plan:
    """All pairs, block by block; of a vertex that is in several pairs the first one counts."""
    width = max(len(task.columns.names), 1)
    step = max(1, CELLS // width)
    written: dict[tuple[str, int], list[tuple[IntArray, FloatArray]]] = {}
    largest, locked = 0.0, set[str]()
    for start in range(0, len(mine), step):
        block = slice(start, start + step)
        for held, vertices, done in zip(
            (task.here, task.there), (mine[block], its[block]), _mended(task, mine[block], its[block]), strict=True
        ):
            locked |= {task.columns.names[one] for one in np.flatnonzero(done.kept)}
            other = done.new != done.old
            largest = max(largest, float(np.abs(done.new - done.old).max(initial=0.0)))
            for group in np.flatnonzero(other.any(axis=0)).tolist():
                rows = other[:, group]
                parts = written.setdefault((held.surface.name, group), [])
                parts.append((vertices[rows], done.new[rows, group]))
    changes = tuple(_changes(task, written))
    told = tuple(f"{name} is locked: its weights were left as they are." for name in sorted(locked))
    return Plan(changes, told, elements, largest, "weight")


def _changes(
    task: _Task, written: dict[tuple[str, int], list[tuple[IntArray, FloatArray]]]
) -> Iterator[Change]:
    for (owner, group), parts in sorted(written.items()):
        vertices = np.concatenate([rows for rows, _ in parts])
        weights = np.concatenate([values for _, values in parts])
        vertices, first = np.unique(vertices, return_index=True)
        held = task.here if owner == task.here.surface.name else task.there
        yield Weighted(owner, task.columns.names[group], *_spread(task, held, vertices, weights[first], group))


def _spread(
    task: _Task, held: Held, vertices: IntArray, weights: FloatArray, group: int
) -> tuple[IntArray, FloatArray]:
    """In a mesh stored in pieces, what lies at the same place with the same weight goes along."""
    if not task.case.matched.by_place:
        return vertices, weights
    number = place_numbers(held.surface)
    lead = np.full(len(number), -1)
    lead[number[vertices]] = np.arange(len(vertices))
    copies = np.setdiff1d(np.flatnonzero(lead[number] >= 0), vertices)
    copies = copies[~task.case.excused[held.surface.name][copies]]
    width = len(task.columns.names)
    own = held.rows(copies, width)[:, group]
    alike = own == held.rows(vertices, width)[lead[number[copies]], group]
    copies = copies[alike]
    return np.concatenate([vertices, copies]), np.concatenate([weights, weights[lead[number[copies]]]])


def _mended(task: _Task, mine: IntArray, its: IntArray) -> tuple[_Mended, _Mended]:
    """New weights of both vertices of each pair, worked out in the groups of the first one."""
    columns = task.columns
    width, other = len(columns.names), columns.other
    one, two = task.here.rows(mine, width), task.there.rows(its, width)[:, other]
    own = (mine == its) & (task.here.surface is task.there.surface)
    first = task.case.left(task.here.surface)[mine] >= task.case.left(task.there.surface)[its]
    wish = _wish(task, one, two, own, first)
    wish[_foreign(task, one, two, mine, first)] = 0.0
    free = task.here.free, task.there.free[other]
    parts = task.chosen & columns.known
    normal = _normal(one, columns) & _normal(two, columns)
    named = [_carried(old, wish, parts & can) for old, can in zip((one, two), free, strict=True)]
    upset = normal & ~np.logical_and(*(_normal(new, columns) for new in named))
    if task.listed:
        upset |= _seen_by_engine(task, one, two)
    upset &= bool(columns.deforms[task.chosen].any())
    whole = upset[:, None] & columns.deforms & columns.known
    results = []
    for old, can in zip((one, two), free, strict=True):
        carried = (parts | whole) & can
        new = _scaled(_carried(old, wish, carried), carried & columns.deforms, normal, columns)
        new = np.where(new == old, old, new.astype(np.float32).astype(np.float64))
        kept = (((wish != old) & (parts | whole)).any(axis=0)) & ~can
        results.append(_Mended(old, new, kept))
    here, there = results
    return here, _Mended(there.old[:, other], there.new[:, other], there.kept[other])


def _wish(
    task: _Task, one: FloatArray, two: FloatArray, own: NDArray[np.bool_], first: NDArray[np.bool_]
) -> FloatArray:
    """(k, g) the weights both vertices should have, in the groups of the first one."""
    if task.way == "average":
        return 0.5 * (one + two)
    wins = np.where(own[:, None], task.columns.side * (1 if task.way == "left" else -1) >= 0, False)
    wins |= (~own & (first == (task.way == "left")))[:, None]
    return np.where(wins, one, two)


def _foreign(
    task: _Task, one: FloatArray, two: FloatArray, mine: IntArray, first: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """(k, g) weight of the other half's group, far from the middle and on one of the two only."""
    limit = task.case.limits.settings.weight_limit
    far = np.abs(task.case.checked.across(task.here.surface)[mine, 0]) > task.beyond
    side = np.where(first, 1, -1)[:, None] * task.columns.side
    alone = ((one > limit) & (two <= limit)) | ((two > limit) & (one <= limit))
    return np.asarray(far[:, None] & (side < 0) & alone)


def _seen_by_engine(task: _Task, one: FloatArray, two: FloatArray) -> NDArray[np.bool_]:
    """(k,) where the groups named are alike as stored and yet not as an engine gets them."""
    limit = task.case.limits.settings.weight_limit
    seen = np.abs(one[:, task.chosen] - two[:, task.chosen]).max(axis=1, initial=0.0) <= limit
    engine = [_engine(table[seen], task.columns)[:, task.chosen] for table in (one, two)]
    seen[seen] = np.abs(engine[0] - engine[1]).max(axis=1, initial=0.0) > limit
    return seen


def _engine(table: FloatArray, columns: Columns) -> FloatArray:
    row, group = np.nonzero(np.where(columns.deforms, table, 0.0))
    kept = trimmed(Entries(row, group, table[row, group]), len(table))
    made = np.zeros_like(table)
    made[kept.row, kept.group] = kept.weight
    return made


def _carried(old: FloatArray, wish: FloatArray, carried: NDArray[np.bool_]) -> FloatArray:
    return np.where(carried, wish, old)


def _normal(table: FloatArray, columns: Columns) -> NDArray[np.bool_]:
    return np.abs(table[:, columns.deforms].sum(axis=1) - 1.0) <= NORMAL


def _scaled(
    table: FloatArray, carried: NDArray[np.bool_], normal: NDArray[np.bool_], columns: Columns
) -> FloatArray:
    """What was carried scaled so that vertices that summed to 1 still do, where it can."""
    carried = np.broadcast_to(carried, table.shape)
    moved = np.where(carried, table, 0.0).sum(axis=1)
    rest = 1.0 - table[:, columns.deforms].sum(axis=1) + moved
    off = normal & ~_normal(table, columns) & (moved > 0.0) & (rest > 0.0)
    share = np.where(off, rest / np.where(moved > 0.0, moved, 1.0), 1.0)
    return np.where(carried, table * share[:, None], table)
