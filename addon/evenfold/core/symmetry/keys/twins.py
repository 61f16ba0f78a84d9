"""One-sided keys whose names tell no side, but whose movements do: a pair all the same."""

from dataclasses import replace

import numpy as np

from ...sides import counterpart
from .moves import MIRROR, Keys, Move
from .single import ONE_HALF

ALIKE = 0.1
"""Up to this share of their movement may two such keys differ and still be a pair. Our choice."""


def with_twins(keys: Keys) -> Keys:
    """The keys with each pair added that mirrors one another, though no name says so."""
    free = [
        move for move in keys.moves.values()
        if move.name not in keys.paired.partner
        and counterpart(move.name) is None
        and not keys.still(move)
    ]
    left = [move for move in free if keys.left_share(move) >= ONE_HALF]
    right = [move for move in free if keys.left_share(move) <= 1.0 - ONE_HALF]
    rated = sorted(
        (unlike, one.name, other.name)
        for one in left for other in right
        if (unlike := _unlike(keys, one, other)) <= ALIKE
    )
    taken: dict[str, str] = {}
    for _, one, other in rated:
        if one not in taken and other not in taken.values():
            taken[one] = other
    paired = keys.paired
    return replace(
        keys,
        paired=replace(
            paired, left=(*paired.left, *taken), right=(*paired.right, *taken.values())
        ),
    )


def _unlike(keys: Keys, one: Move, other: Move) -> float:
    """How much of their movement is not the other's mirror image, as a share of it."""
    sizes = float(one.size.sum()), float(other.size.sum())
    if min(sizes) < (1.0 - 2.0 * ALIKE) * max(sizes):
        return 1.0
    here, there = one.of(keys.count), other.of(keys.count)
    halves = keys.halves
    apart = sum(
        float(np.linalg.norm(here[a] * MIRROR - there[b], axis=1).sum())
        for a, b in ((halves.left, halves.right), (halves.right, halves.left), (halves.centre, halves.centre))
    )
    return apart / max(sizes)
