"""The missing one of a left and a right key, made as the mirror image of the other."""

import numpy as np

from ..face_shapes import other_spelling
from ..figure import IntArray, Surface
from ..sides import counterpart
from ..symmetry.matched import Matched
from .case import Case, RepairError
from .changes import KeyMade, Plan
from .deltas import Delta, delta_of
from .keys import both_ways, sound


def make(case: Case) -> Plan:
    """The key that is missing, with the range of its counterpart; vertices without partner rest.

    Raises RepairError where its name, or the group it would be limited to, cannot be told.
    """
    warned = sound(case)
    name, matched = case.finding.names[0], case.matched
    known = np.flatnonzero(matched.partner >= 0)
    mine, its = both_ways(matched, known, matched.partner[known])
    source, target = matched.here, matched.there
    if not _has(source, name):
        source, target, mine, its = target, source, its, mine
    excused = case.excused
    kept = ~(excused[source.name][mine] | excused[target.name][its])
    mine, its = mine[kept], its[kept]
    one = delta_of(source, name)
    change = _made(case, one, target, _other_name(name, matched), mine, its)
    far = np.linalg.norm(one.by @ source.to_world[:3, :3].T, axis=1)
    moving = far > case.limits.tolerance
    alone = int(moving.sum()) - int(moving[mine].sum())
    told = (f"{alone:,} vertices that {name} moves have no partner.",) if alone > 0 else ()
    return Plan(
        (change,), (*warned, *told), int(moving[mine].sum()), float(far.max(initial=0.0)) * case.metres
    )


def _has(surface: Surface, name: str) -> bool:
    keys = surface.layers.keys if surface.layers is not None else None
    return keys is not None and keys.named(name) is not None


def _other_name(name: str, matched: Matched) -> str:
    """The counterpart's name; between two objects a name without a side serves for both."""
    other = counterpart(name)
    if other is None and matched.itself:
        raise RepairError(f"{name} does not tell its side: name it with .L or .R at the end.")
    return other or name


def _made(
    case: Case, one: Delta, target: Surface, name: str, mine: IntArray, its: IntArray
) -> KeyMade:
    keys = target.layers.keys if target.layers is not None else None
    if keys is None:
        raise RepairError(f"{target.name} has no shape keys: give it a neutral one first.")
    base = next(
        (key for want in (counterpart(one.key.relative_to), one.key.relative_to, keys.reference)
         if want and (key := keys.named(want)) is not None),
        None,
    )
    if base is None:
        raise RepairError(f"{target.name} has no neutral key: check again.")
    if twin := other_spelling(name, (key.name for key in keys.keys)):
        raise RepairError(f"{twin} is {name} in another spelling: rename it instead of making a second one.")
    points = base.points.astype(np.float64)
    points[its] += case.map(one.surface, target).moves(one.by[mine])
    group = _mask_group(one.key.mask_group, target)
    like = one.key.name if keys.named(one.key.name) is not None else keys.reference
    return KeyMade(target.name, name, points, like, base.name, group)


def _mask_group(group: str, target: Surface) -> str:
    """The group that limits the new key: the counterpart of its model's."""
    if not group:
        return ""
    wanted = counterpart(group) or group
    if target.layers is None or wanted not in target.layers.weights.names:
        raise RepairError(f"The key is limited to the group {group}: make {wanted} first.")
    return wanted
