"""Shape keys made to match: a key's movement mirrored, cleared, exchanged or carried over.

All movements are against the key that each one is relative to. The neutral shape is never moved.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..figure import FloatArray, IntArray
from ..sides import pairs
from ..symmetry.keys.moves import Keys, moves_of
from ..symmetry.keys.pair import blend_of
from ..symmetry.matched import Matched
from ..symmetry.paired_rows import paired_rows
from .case import Case, RepairError
from .changes import KeyMoved, Plan
from .deltas import Delta, delta_of, independent, names_of, plan_of
from .image import MirrorMap


@dataclass(frozen=True)
class _Across:
    """Vertices ``mine`` (k,) in one key and their partners ``its`` (k,) in the same or another."""

    one: Delta
    other: Delta
    mine: IntArray
    its: IntArray
    over: MirrorMap
    back: MirrorMap

    def carried(self, way: str) -> tuple[KeyMoved, ...]:
        """Mirrored "over", "back", or both to their "average"."""
        mine, its = self.one.by[self.mine], self.other.by[self.its]
        if way == "over":
            return (self.other.set(self.its, self.over.moves(mine)),)
        if way == "back":
            return (self.one.set(self.mine, self.back.moves(its)),)
        middle = 0.5 * (mine + self.back.moves(its))
        return self.one.set(self.mine, middle), self.other.set(self.its, self.over.moves(middle))

    @cached_property
    def uneven(self) -> FloatArray:
        """(k,) how much of the movements their mask groups would let differ, local units."""
        share = np.abs(self.one.strength[self.mine] - self.other.strength[self.its])
        size = np.maximum(
            np.linalg.norm(self.one.by[self.mine], axis=1),
            np.linalg.norm(self.other.by[self.its], axis=1),
        )
        return np.asarray(share * size, np.float64)


def lopsided(case: Case) -> Plan:
    """A centre key evened out: left over to the right, right over to the left, or the average."""
    sound(case)
    name, _ = names_of(case.finding)
    halves = paired_rows(case.matched)
    across = _across(case, name, name, halves.left, halves.right)
    turned = case.matched.itself and case.checked.sign < 0
    return _carried(case, across, turned)


def pair(case: Case) -> Plan:
    """A key mirrored onto its counterpart. A one-sided key's far half, beyond the blend, stays out."""
    sound(case)
    left, right = names_of(case.finding)
    _refuse_spill(case, left, right)
    if case.finding.partner_object is not None:
        halves = paired_rows(case.matched)
        across = _across(case, left, right, halves.left, halves.right)
        return _carried(case, across, case.checked.sign < 0)
    return _carried(case, _pair_across(case, left, right), False)


def _refuse_spill(case: Case, left: str, right: str) -> None:
    """Raises RepairError where the winner also moves the other half, which would be mirrored along.

    Beside an edit of the neutral shape that was not carried over, a spill may be that edit's fringe.
    """
    if any(one.code == "key-stale" for one in case.entry.findings):
        return
    winners = {"left": (left,), "right": (right,)}.get(case.wish.way, (left, right))
    for one in case.entry.findings:
        if one.code != "key-spill" or one.about[0] not in winners:
            continue
        still = delta_of(case.here, one.about[0]).by[one.elements]
        if np.linalg.norm(still @ case.here.to_world[:3, :3].T, axis=1).max() > case.limits.tolerance:
            raise RepairError(f"{one.about[0]} also moves the other half: clear its wrong half first.")


def same_side(case: Case) -> Plan:
    """The key on the wrong half becomes the mirror image of the one the artist says is right."""
    warned = sound(case)
    left, right = names_of(case.finding)
    keys = _keys(case, left, right)
    wrong = right if keys.left_share(keys.moves[right]) > 0.5 else left
    good = left if wrong == right else right
    if case.wish.way != ("left" if good == left else "right"):
        raise RepairError(
            f"Both keys move one half, and {wrong} is on the wrong one: let {good} win, or sculpt it anew."
        )
    across = _pair_across(case, left, right)
    cleared = delta_of(case.here, wrong)
    rows = np.flatnonzero(cleared.by.any(axis=1) & ~case.excused[case.here.name])
    rows = rows[case.wanted(case.here.name, rows)]
    (mirrored,) = across.carried("over" if wrong == right else "back")
    rows = np.setdiff1d(rows, across.its if wrong == right else across.mine)
    return plan_of(case, (cleared.set(rows, np.zeros((len(rows), 3))), mirrored), warned)


def swapped(case: Case) -> Plan:
    """The two keys' movements exchanged. Raises RepairError where their mask groups differ."""
    warned = sound(case)
    first, second = (delta_of(case.here, name) for name in names_of(case.finding))
    independent(first, second)
    if first.key.mask_group != second.key.mask_group:
        raise RepairError(
            f"{first.name} and {second.name} are limited to different vertex groups: "
            "exchange their names instead."
        )
    moving = first.by.any(axis=1) | second.by.any(axis=1)
    rows = np.flatnonzero(moving & ~case.excused[case.here.name])
    return plan_of(case, (first.set(rows, second.by[rows]), second.set(rows, first.by[rows])), warned)


def spill(case: Case) -> Plan:
    """A one-sided key's movement taken off the listed vertices of the wrong half."""
    warned = sound(case)
    rows = _chosen(case)
    one = delta_of(case.here, names_of(case.finding)[0])
    return plan_of(case, (one.set(rows, np.zeros((len(rows), 3))),), warned)


def off_centre(case: Case) -> Plan:
    """The listed vertices onto the plane in this key only.

    Where the neutral shape is off the plane itself, or the key is limited to a group or builds on
    another key, its movement merely stops leaving the plane.
    """
    here, rows = case.here, _chosen(case)
    one = delta_of(here, names_of(case.finding)[0])
    mirror = case.map(here, here)
    along = mirror.across(one.by[rows])
    points = one.key.points[rows].astype(np.float64)
    plain = (one.key.relative_to in ("", one.keys.reference)) & (one.strength[rows] == 1.0)
    start = np.abs((here.world[rows] - case.plane.point) @ case.plane.normal) <= case.limits.tolerance
    by = np.where((plain & start)[:, None], mirror.onto_plane(points) - one.base[rows], along)
    return plan_of(case, (one.set(rows, by),))


def both_ways(matched: Matched, mine: IntArray, its: IntArray) -> tuple[IntArray, IntArray]:
    """The pairs, and with them whoever names one of ``mine`` without being named back.

    Only meshes split at their seams have such vertices: their places answer, not they.
    """
    if not matched.itself:
        return mine, its
    partner, own = matched.partner, np.arange(len(matched.partner))
    odd = np.flatnonzero((partner >= 0) & (partner[partner] != own))
    odd = odd[np.isin(partner[odd], mine)]
    return np.concatenate([mine, partner[odd]]), np.concatenate([its, odd])


def _across(case: Case, one: str, other: str, mine: IntArray, its: IntArray) -> _Across:
    """Two keys, or one with itself, over these vertices but for the excused and those not chosen."""
    here, there = case.matched.here, case.matched.there
    mine, its = both_ways(case.matched, mine, its)
    excused = case.excused
    kept = ~(excused[here.name][mine] | excused[there.name][its])
    kept &= case.wanted(here.name, mine) | case.wanted(there.name, its)
    first, second = delta_of(here, one), delta_of(there, other)
    independent(first, second)
    return _Across(
        first, second, mine[kept], its[kept], case.map(here, there), case.map(there, here)
    )


def _pair_across(case: Case, left: str, right: str) -> _Across:
    """The pairs on which a left and a right key of one object answer each other."""
    matched, keys = case.matched, _keys(case, left, right)
    mine = np.flatnonzero(matched.partner >= 0)
    moves = keys.moves[left], keys.moves[right]
    blend = blend_of(keys, *moves)
    if blend is not None:
        mine = mine[keys.x[mine] >= -blend]
    return _across(case, left, right, mine, matched.partner[mine])


def _carried(case: Case, across: _Across, turned: bool) -> Plan:
    """``turned`` where the half called left is the one over there."""
    bound = case.limits.tolerance / across.one.surface.scale
    even = across.uneven <= bound
    told = list(sound(case))
    if not even.all():
        told.append(
            f"{int((~even).sum()):,} vertices were left alone: the groups that limit these keys are "
            "not mirror images there. Repair the weights first."
        )
    across = _Across(
        across.one, across.other, across.mine[even], across.its[even], across.over, across.back
    )
    ways = {"average": "average", "left": "over", "right": "back"}
    if turned:
        ways.update(left="back", right="over")
    return plan_of(case, across.carried(ways[case.wish.way]), told)


def _keys(case: Case, *names: str) -> Keys:
    """These keys of the object as the check compares them."""
    here = case.matched.here
    own = [delta_of(here, name) for name in names]
    wanted = {own[0].keys.reference, *names, *(one.key.relative_to for one in own)}
    few = tuple(key for key in own[0].keys.keys if key.name in wanted)
    if here.layers is None:
        raise RepairError(f"{here.name} has no shape keys: check again.")
    layers = replace(here.layers, keys=replace(own[0].keys, keys=few))
    moves = {move.name: move for move in moves_of(replace(here, layers=layers), case.limits)}
    sign = case.checked.key_sign(case.matched)
    return Keys(paired_rows(case.matched), case.limits, moves, pairs(names), sign)


def _chosen(case: Case) -> IntArray:
    rows = case.finding.elements
    return rows[case.wanted(case.here.name, rows) & ~case.excused[case.here.name][rows]]


def sound(case: Case) -> tuple[str, ...]:
    """A warning where the keys hold an earlier neutral shape.

    Raises RepairError where mending keys would rest on what is itself broken.
    """
    told = case.checked.rebuilt(case.entry.name)
    if told is not None:
        raise RepairError(told.message)
    if any(one.code == "key-stale" for one in case.entry.findings):
        return (f"The keys of {case.entry.name} seem to hold an earlier neutral shape: see that finding too.",)
    return ()
