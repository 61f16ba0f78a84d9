"""Vertex weights, left and right groups exchanged: as stored and as an engine gets them."""

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray, Weights
from ..findings import Finding
from ..influences import Entries, trimmed
from ..layers import SurfaceLayers
from ..sides import Pairs, counterpart, pairs
from .matched import Limits, Matched
from .paired_rows import PairedRows, paired_rows, weights_sign

CODES = ("weight-drifted", "group-unpaired")

BLEND = 0.1
"""Up to this share of the half width, left and right groups may overlap. Our choice."""

ONE_HALF = 0.9
"""A group keeps to one half where this share more of its vertices is there. Our choice."""

EVEN = 0.5
"""A group covers both halves where less than this share more of it is on one of them. Our choice."""


def check(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """The findings of this layer on one matched object; none without layers read."""
    here, there = matched.here.layers, matched.there.layers
    if here is None or there is None or not (here.weights.names or there.weights.names):
        return
    halves = paired_rows(matched)
    groups = _groups_of(matched, here, there, limits)
    yield from _unpaired(halves, here.weights, groups)
    if not halves.half:
        yield from _drifted(halves, groups, here, there, limits)


@dataclass(frozen=True)
class _Groups:
    """Names over both objects; ``mirror`` (g,) each one's counterpart, -1 where there is none."""

    names: tuple[str, ...]
    mirror: IntArray
    paired: Pairs
    alone: tuple[str, ...]

    @property
    def number(self) -> dict[str, int]:
        return {name: place for place, name in enumerate(self.names)}


def _groups_of(matched: Matched, here: SurfaceLayers, there: SurfaceLayers, limits: Limits) -> _Groups:
    names = tuple(dict.fromkeys(here.weights.names + there.weights.names))
    paired = pairs(names)
    number = {name: place for place, name in enumerate(names)}
    mirror = np.arange(len(names))
    for name, other in paired.partner.items():
        mirror[number[name]] = number[other]
    single = [name for name in names if name in paired.singles or _on_one_half(matched, name, paired)]
    unnamed = [name for name in names if name in limits.unnamed and name not in paired.partner]
    mirror[[number[name] for name in (*single, *unnamed)]] = -1
    return _Groups(names, mirror, paired, tuple(name for name in single if name in here.weights.names))


def _on_one_half(matched: Matched, name: str, paired: Pairs) -> bool:
    """True for a group without counterpart whose name has a likely side, and which keeps to one."""
    if name in paired.partner or counterpart(name) is None:
        return False
    x = np.sign(matched.points[_members(matched.here.layers, name), 0])
    return matched.itself and len(x) > 0 and abs(float(x.mean())) >= ONE_HALF


def _unpaired(halves: PairedRows, weights: Weights, groups: _Groups) -> Iterator[Finding]:
    for name in groups.alone:
        other = counterpart(name)
        members = np.unique(weights.vertex[weights.group == weights.names.index(name)])
        advice = f"There is no {other}: make it, or rename {name}."
        if halves.half:
            advice = f"There is no {other}: the mirrored half would follow {name}. Add an empty {other}."
        yield Finding(
            "group-unpaired", np.zeros(1, np.int64), np.full(1, -1), np.full(1, np.nan), name,
            hidden=halves.hidden(members), kind="group", unit="weight", names=(name,),
            partner_names=(None,), vertices=members, advice=advice,
        )


@dataclass(frozen=True)
class _Differences:
    """One row for each vertex pair and group that differ, group of the left vertex: all (k,).

    ``stored`` is False where only the weights an engine gets differ.
    """

    row: IntArray
    group: IntArray
    size: FloatArray
    here: FloatArray
    there: FloatArray
    stored: NDArray[np.bool_]

    def rows(self, kept: NDArray[np.bool_]) -> "_Differences":
        return _Differences(*(getattr(self, one.name)[kept] for one in fields(self)))

    def with_more(self, other: "_Differences") -> "_Differences":
        names = [one.name for one in fields(self)]
        return _Differences(*(np.concatenate([getattr(self, n), getattr(other, n)]) for n in names))


def _drifted(
    halves: PairedRows, groups: _Groups, here: SurfaceLayers, there: SurfaceLayers, limits: Limits
) -> Iterator[Finding]:
    mine = np.concatenate([halves.left, halves.centre])
    its = np.concatenate([halves.right, halves.centre])
    left = _gathered(here.weights, groups, mine)
    right = _mirrored(_gathered(there.weights, groups, its), groups)
    found = _compared(left, right, len(mine), groups, here.deform_groups, limits.settings.weight_limit)
    if not len(found.row):
        return
    sign = weights_sign(halves.matched, here.weights, groups.paired) or 1
    lower = np.minimum(found.group, groups.mirror[found.group])
    for number in np.unique(lower):
        part = found.rows(lower == number)
        yield _finding(halves, groups, part, mine, its, sign, limits.settings.weight_limit)


def _gathered(weights: Weights, groups: _Groups, vertices: IntArray) -> Entries:
    """The memberships of ``vertices``, in that order, with the groups' numbers over both objects."""
    number = groups.number
    renamed = np.array([number[name] for name in weights.names], np.int64)
    order = np.argsort(weights.vertex, kind="stable")
    owner = weights.vertex[order]
    first = np.searchsorted(owner, vertices, "left")
    count = np.searchsorted(owner, vertices, "right") - first
    row = np.repeat(np.arange(len(vertices)), count)
    step = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
    at = order[first[row] + step] if len(row) else np.zeros(0, np.int64)
    return Entries(row, renamed[weights.group[at]], weights.weight[at].astype(np.float64))


def _mirrored(entries: Entries, groups: _Groups) -> Entries:
    other = groups.mirror[entries.group]
    return Entries(entries.row, np.where(other >= 0, other, entries.group), entries.weight)


def _compared(
    left: Entries,
    right: Entries,
    rows: int,
    groups: _Groups,
    deforming: frozenset[str] | None,
    limit: float,
) -> _Differences:
    """As stored; and as the engine gets them, where what is stored does not tell it already.

    A vertex whose stored weights differ in one deforming group differs, once its weights are
    scaled to sum 1, in all of them: only the stored difference is told there.
    """
    comparable = groups.mirror >= 0
    stored = _differences(left, right, len(groups.names))
    kept = comparable[stored.group] & (stored.size > limit)
    if deforming is None:
        return stored.rows(kept)
    deforms = np.array([name in deforming for name in groups.names], bool)
    ours, theirs = (trimmed(one.only(deforms[one.group]), rows) for one in (left, right))
    engine = _differences(ours, theirs, len(groups.names))
    told = np.zeros(rows, bool)
    told[stored.row[kept & deforms[stored.group]]] = True
    for side in (left, right):
        told[side.row[~comparable[side.group] & (side.weight > limit)]] = True
    base = stored.rows(kept)
    more = comparable[engine.group] & (engine.size > limit) & ~told[engine.row]
    extra = replace(engine.rows(more), stored=np.zeros(int(more.sum()), bool))
    return _larger(base, engine, len(groups.names)).with_more(extra)


def _differences(left: Entries, right: Entries, width: int) -> _Differences:
    """Both sides of every (row, group) that either side has, by sorted keys."""
    key = np.concatenate([left.row * width + left.group, right.row * width + right.group])
    order = np.argsort(key, kind="stable")
    new = np.ones(len(order), bool)
    new[1:] = np.diff(key[order]) > 0
    at = np.cumsum(new) - 1
    count = int(at[-1]) + 1 if len(at) else 0
    ours = order < len(left.row)
    weight = np.concatenate([left.weight, right.weight])[order]
    here = np.bincount(at, np.where(ours, weight, 0.0), minlength=count).astype(np.float64)
    there = np.bincount(at, np.where(ours, 0.0, weight), minlength=count).astype(np.float64)
    unique = key[order][new]
    alike = np.ones(count, bool)
    return _Differences(unique // width, unique % width, np.abs(here - there), here, there, alike)


def _larger(found: _Differences, engine: _Differences, width: int) -> _Differences:
    """The stored differences with the engine's size where that is larger."""
    keys, wanted = engine.row * width + engine.group, found.row * width + found.group
    at = np.minimum(np.searchsorted(keys, wanted), max(len(keys) - 1, 0))
    if not len(keys):
        return found
    size = np.where(keys[at] == wanted, engine.size[at], 0.0)
    return replace(found, size=np.maximum(found.size, size))


def _finding(
    halves: PairedRows,
    groups: _Groups,
    part: _Differences,
    mine: IntArray,
    its: IntArray,
    sign: int,
    limit: float,
) -> Finding:
    """One pair of groups, or one centre group: each pair of vertices once, by its larger size."""
    side = _side_of_groups(groups)[part.group] * sign
    wrong_here, wrong_there = _wrong(halves, part, side, mine, limit)
    order = np.lexsort((-part.size, part.row))
    rows, first = np.unique(part.row[order], return_index=True)
    size = part.size[order][first]
    turned = np.isin(rows, part.row[wrong_there]) & halves.matched.itself
    elements = np.where(turned, its[rows], mine[rows])
    partners = np.where(turned, mine[rows], its[rows])
    names = _pair_names(groups, int(part.group[0]))
    wrong = len(np.unique(part.row[wrong_here | wrong_there]))
    finding = halves.matched.finding(
        "weight-drifted", "vertex", elements, partners, size, "weight", subjects=tuple(names)
    )
    return replace(finding, advice=_advice(halves, names, wrong, part))


def _side_of_groups(groups: _Groups) -> IntArray:
    """(g,) +1 left, -1 right, 0 centre."""
    side = np.zeros(len(groups.names), np.int64)
    number = groups.number
    side[[number[name] for name in groups.paired.left]] = 1
    side[[number[name] for name in groups.paired.right]] = -1
    return side


def _wrong(
    halves: PairedRows, part: _Differences, side: IntArray, mine: IntArray, limit: float
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which differences are weight of the other half's group, on the left and on the right vertex."""
    beyond = halves.matched.points[mine[part.row], 0] > BLEND * halves.width
    foreign = beyond & (side < 0)
    return foreign & (part.here > limit) & (part.there <= limit), foreign & (part.there > limit) & (part.here <= limit)


def _pair_names(groups: _Groups, group: int) -> tuple[str, ...]:
    name, other = groups.names[group], groups.names[groups.mirror[group]]
    if name == other:
        return (name,)
    return (name, other) if name in groups.paired.left else (other, name)


def _advice(halves: PairedRows, names: tuple[str, ...], wrong: int, part: _Differences) -> str:
    said = []
    here, there = halves.matched.here.layers, halves.matched.there.layers
    left, right = _members(here, names[0]), _members(there, names[-1])
    empty = [name for name, own in zip(names, (left, right), strict=False) if not len(own)]
    if len(names) == 2 and len(empty) == 1:
        said.append(f"{empty[0]} is empty.")
        x = np.sign(halves.matched.points[left if len(left) else right, 0]) if halves.matched.itself else np.ones(1)
        if abs(float(x.mean())) < EVEN:
            said.append("The other group covers both halves: Blender's Symmetrize leaves this.")
    elif wrong:
        said.append(f"Wrong side on {wrong:,} vertices: they follow the group of the other half.")
    if not part.stored.any():
        said.append("Seen only as the engine gets them: four to a vertex, scaled to sum 1.")
    locked = [name for name in names if here is not None and name in here.locked_groups]
    if locked:
        said.append(f"Locked in the file: {', '.join(locked)}.")
    return " ".join(said)


def _members(layers: SurfaceLayers | None, name: str) -> IntArray:
    if layers is None or name not in layers.weights.names:
        return np.zeros(0, np.int64)
    weights = layers.weights
    return weights.vertex[(weights.group == weights.names.index(name)) & (weights.weight > 0.0)]
