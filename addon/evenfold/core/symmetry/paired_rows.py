"""The rows that layers of vertices are compared on, and which half the names call left."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..figure import FloatArray, IntArray, Weights
from ..layers import SurfaceLayers
from ..sides import Pairs
from .matched import Matched

CLEAR = 0.2
"""How one-sided a group's weights must be before they tell which half is left. Our choice."""


@dataclass(frozen=True)
class PairedRows:
    """``left`` and ``right`` (m,) numbers of the vertices of a pair; ``centre`` (c,) numbers.

    ``left`` counts in the object here, ``right`` in the one there. Columns of ``x`` and the like
    follow the plane's frame. ``half`` is True for half a model under a live Mirror modifier.
    """

    matched: Matched
    left: IntArray
    right: IntArray
    centre: IntArray

    @property
    def half(self) -> bool:
        return self.matched.itself and bool(self.matched.here.mirrors) and not len(self.left)

    @cached_property
    def width(self) -> float:
        """The largest distance of a vertex from the plane, in scene units."""
        return float(np.nanmax(np.abs(self.matched.points[:, 0]), initial=0.0))

    def hidden(self, vertices: IntArray) -> int:
        """How many of these vertices of the object here are hidden."""
        flags = self.matched.here.hidden
        return 0 if flags is None else int(flags[vertices].sum())


def paired_rows(matched: Matched) -> PairedRows:
    """Each pair of vertices once, the one on the left first; and the vertices of the centre."""
    numbers = np.arange(len(matched.partner))
    known = matched.partner >= 0
    if not matched.itself:
        left = numbers[known]
        return PairedRows(matched, left, matched.partner[left], np.zeros(0, np.int64))
    own = matched.partner == numbers
    x = np.nan_to_num(matched.points[:, 0])
    other = x[np.where(known, matched.partner, 0)]
    first = (x > other) | ((x == other) & (numbers < matched.partner))
    left = numbers[known & ~own & first]
    return PairedRows(matched, left, matched.partner[left], numbers[own])


def weights_sign(matched: Matched, weights: Weights, paired: Pairs) -> int:
    """+1 where the left groups lie on the plane's left half, -1 the other way, 0 untold."""
    at = {name: place for place, name in enumerate(weights.names)}
    side = np.zeros(len(weights.names))
    side[[at[name] for name in paired.left if name in at]] = 1.0
    side[[at[name] for name in paired.right if name in at]] = -1.0
    x = np.sign(np.nan_to_num(matched.points[:, 0]))
    pull = weights.weight * side[weights.group] * x[weights.vertex]
    told = float((weights.weight * np.abs(side[weights.group])).sum())
    if told <= 0.0:
        return 0
    share = float(pull.sum()) / told
    return int(np.sign(share)) if abs(share) >= CLEAR else 0


def group_values(layers: SurfaceLayers, name: str, count: int) -> FloatArray:
    """The weight of each of ``count`` vertices in one group."""
    return layers.weights.of_groups({name}, count)


def shown(names: "list[str] | tuple[str, ...]", most: int = 5) -> str:
    """Names in a sentence, the first few of many."""
    more = f" and {len(names) - most} more" if len(names) > most else ""
    return ", ".join(list(names)[:most]) + more


