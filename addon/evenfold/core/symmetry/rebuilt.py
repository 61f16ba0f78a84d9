"""The signature that rebuilding a half leaves on a finished face: nothing left to mend from.

Measured with the host's own Symmetrize: each key of the kept side moves both halves alike, its
counterpart nothing; a group of the kept side covers both halves, its counterpart is empty. Where
left and right blend at the centre, a counterpart keeps its share of that blend, on both halves.
"""

import numpy as np

from ..findings import Place, Readiness
from ..sides import pairs
from .keys.moves import Keys, Move, own_keys
from .keys.pair import BLEND
from .matched import Limits, Matched

FEWEST = 2
SHARE = 0.5
"""So many pairs, and more than this share of those that hold anything, must tell it. Our choice."""

LEFT_OVER = 0.25
"""So little of the other's movement or weight may be left in a counterpart's blend at the centre. Our choice."""

BOTH = 0.1
"""How far from one half a movement or weight may lean and still cover both alike. Our choice."""

MESSAGE = (
    "{name}: one half was rebuilt from the other, as Blender's Symmetrize does. {what} What was on "
    "the other side cannot be told from what is left: go back to a backup made before, and repair "
    "that one by moving vertices."
)


def rebuilt(matched: Matched, limits: Limits) -> Readiness | None:
    """``ready-rebuilt-half`` where an object bears the signature; None without it."""
    if not matched.itself or matched.here.layers is None:
        return None
    keys, every = _keys(matched, limits)
    groups, all_groups = _groups(matched)
    by_keys = _most(len(keys), every)
    by_groups = _most(len(groups), all_groups)
    if not by_keys and (every or not by_groups):
        return None
    said = []
    if keys:
        said.append(f"{len(keys)} keys move both halves while their counterparts move nothing beyond the middle.")
    if groups:
        said.append(
            f"{len(groups)} vertex groups cover both halves while their counterparts are empty beyond the middle."
        )
    message = MESSAGE.format(name=matched.here.name, what=" ".join(said))
    return Readiness("ready-rebuilt-half", "error", message, matched.here.name, (Place(matched.here.name),))


def _most(count: int, every: int) -> bool:
    return count >= FEWEST and count > SHARE * every


def rebuilt_groups(matched: Matched) -> frozenset[str]:
    """The groups that cover both halves beside a counterpart that is empty beyond the middle."""
    return frozenset(_groups(matched)[0]) if matched.itself else frozenset()


def _keys(matched: Matched, limits: Limits) -> tuple[list[str], int]:
    """The keys that move both halves alike beside a counterpart that has its blend at most; of how many pairs."""
    keys = own_keys(matched, limits)
    found, every = [], 0
    for left, right in zip(keys.paired.left, keys.paired.right, strict=True):
        one, other = keys.moves[left], keys.moves[right]
        every += not (keys.still(one) and keys.still(other))
        found += [full.name for full, rest in ((one, other), (other, one)) if _alone(keys, full, rest)]
    return found, every


def _alone(keys: Keys, full: Move, rest: Move) -> bool:
    """True where ``full`` moves both halves alike and ``rest`` at most a blend at the centre, both halves alike."""
    if keys.still(full) or not _even(keys, full):
        return False
    if keys.still(rest):
        return True
    reach = float(np.abs(keys.x[full.moved(keys.limits.tolerance)]).max(initial=0.0))
    over = float(np.abs(keys.x[rest.moved(keys.limits.tolerance)]).max(initial=0.0))
    little = float(rest.size.sum()) <= LEFT_OVER * float(full.size.sum())
    return over <= BLEND * reach and little and _alike(keys, rest)


def _even(keys: Keys, move: Move) -> bool:
    """By lengths alone: the host copies a displacement to the other half without mirroring it."""
    return abs(keys.left_share(move) - 0.5) <= BOTH and _alike(keys, move)


def _alike(keys: Keys, move: Move) -> bool:
    halves, size = keys.halves, np.linalg.norm(move.of(keys.count), axis=1)
    apart = np.abs(size[halves.left] - size[halves.right])
    return bool(apart.max(initial=0.0) <= max(keys.limits.tolerance, BOTH * move.size.max(initial=0.0)))


def _groups(matched: Matched) -> tuple[list[str], int]:
    """The groups that cover both halves beside a counterpart that has its blend at most; of how many pairs."""
    layers = matched.here.layers
    if layers is None:
        return [], 0
    weights = layers.weights
    x = np.nan_to_num(matched.points[:, 0])[weights.vertex]
    count = len(weights.names)
    total = np.bincount(weights.group, weights.weight, minlength=count)
    lean = np.bincount(weights.group, weights.weight * np.sign(x), minlength=count)
    reach = np.zeros(count)
    np.maximum.at(reach, weights.group, np.where(weights.weight > 0.0, np.abs(x), 0.0))
    even = np.abs(lean) <= 2 * BOTH * total
    at = {name: place for place, name in enumerate(weights.names)}
    paired = pairs(weights.names)
    found, every = [], 0
    for left, right in zip(paired.left, paired.right, strict=True):
        one, other = at[left], at[right]
        every += total[one] > 0.0 or total[other] > 0.0
        for mine, its in ((one, other), (other, one)):
            if total[mine] <= 0.0 or not even[mine]:
                continue
            blend = reach[its] <= BLEND * reach[mine] and total[its] <= LEFT_OVER * total[mine] and even[its]
            if total[its] == 0.0 or blend:
                found.append(weights.names[mine])
    return found, int(every)
