"""What each key moves, in the plane's frame."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ...face_shapes import key_pairs
from ...figure import FloatArray, IntArray, Surface
from ...layers import ShapeKey
from ...plane import frame
from ...sides import Pairs, pairs
from ..matched import Limits, Matched
from ..paired_rows import PairedRows, group_values, paired_rows, shown, weights_sign

MIRROR = np.array([-1.0, 1.0, 1.0])

VOTES = 3
"""So many pairs of keys must agree before they tell which half is left. Our choice."""


@dataclass(frozen=True)
class Move:
    """``rows`` (m,) the vertices a key moves and ``by`` (m, 3) how, in scene units."""

    key: ShapeKey
    rows: IntArray
    by: FloatArray

    @property
    def name(self) -> str:
        return self.key.name

    @cached_property
    def size(self) -> FloatArray:
        """(m,) lengths."""
        return np.linalg.norm(self.by, axis=1)

    def moved(self, tolerance: float) -> IntArray:
        """The vertices moved by more than the tolerance."""
        return self.rows[self.size > tolerance]

    def of(self, count: int) -> FloatArray:
        """(count, 3) the move of every vertex."""
        table = np.zeros((count, 3))
        table[self.rows] = self.by
        return table

    def without(self, table: FloatArray, rows: IntArray) -> "Move":
        """Less ``table`` (n, 3) at those of ``rows`` that the key moves."""
        own = np.isin(self.rows, rows)
        return replace(self, by=np.where(own[:, None], self.by - table[self.rows], self.by))


def moves_of(surface: Surface, limits: Limits) -> list[Move]:
    """Every key but the neutral one, against the key it is relative to, within its mask group."""
    layers = surface.layers
    if layers is None or layers.keys is None:
        return []
    turn = (frame(limits.plane.normal) @ surface.to_world[:3, :3]).T
    points = {key.name: key.points for key in layers.keys.keys}
    neutral = points.get(layers.keys.reference, surface.positions)
    found = []
    for key in layers.keys.keys:
        if key.name == layers.keys.reference:
            continue
        base = points.get(key.relative_to, neutral) if layers.keys.relative else neutral
        delta = np.subtract(key.points, base, dtype=np.float32)
        rows = np.flatnonzero((delta[:, 0] != 0) | (delta[:, 1] != 0) | (delta[:, 2] != 0))
        by = np.nan_to_num(delta[rows].astype(np.float64), nan=0.0, posinf=0.0, neginf=0.0) @ turn
        if key.mask_group in layers.weights.names:
            by *= group_values(layers, key.mask_group, len(delta))[rows, None]
        found.append(Move(key, rows, by))
    return found


@dataclass(frozen=True)
class Keys:
    """All that the checks of one object's keys need; ``sign`` +1 where left names are on the left."""

    halves: PairedRows
    limits: Limits
    moves: dict[str, Move]
    paired: Pairs
    sign: int

    @property
    def count(self) -> int:
        return len(self.halves.matched.points)

    @cached_property
    def x(self) -> FloatArray:
        """(n,) how far each vertex lies on the half that the names call left."""
        return np.asarray(np.nan_to_num(self.halves.matched.points[:, 0]) * self.sign, np.float64)

    def touched(self, *moves: Move) -> tuple[IntArray, IntArray, IntArray]:
        """The pairs of vertices, left and right in step, and the centre that these keys move."""
        flags = np.zeros(self.count, bool)
        for move in moves:
            flags[move.rows] = True
        halves = self.halves
        kept = np.flatnonzero(flags[halves.left] | flags[halves.right])
        return halves.left[kept], halves.right[kept], halves.centre[flags[halves.centre]]

    def left_share(self, move: Move) -> float:
        """How much of a key's movement is on the half called left; NaN if it moves nothing."""
        x = self.x[move.rows]
        left, right = float(move.size[x > 0].sum()), float(move.size[x < 0].sum())
        total = left + right
        return left / total if total > 0.0 else float("nan")

    def still(self, move: Move) -> bool:
        """True for a key that moves nothing by more than the tolerance."""
        return not len(move.moved(self.limits.tolerance))


def own_keys(matched: Matched, limits: Limits) -> Keys:
    """The keys of an object matched with itself, worked out once."""
    if ("keys",) not in matched.kept:
        found = keys_of(paired_rows(matched), limits, moves_of(matched.here, limits))
        matched.kept["keys",] = found
    kept: Keys = matched.kept["keys",]
    return kept


def keys_of(halves: PairedRows, limits: Limits, moves: list[Move]) -> Keys:
    """The moves by name, with their pairs and with the facing settled."""
    named = {move.name: move for move in moves}
    paired = key_pairs(named)
    keys = Keys(halves, limits, named, paired, 1)
    layers = halves.matched.here.layers
    sign = 0
    if layers is not None:
        sign = weights_sign(halves.matched, layers.weights, pairs(layers.weights.names))
    return replace(keys, sign=sign or _voted(keys))


def _voted(keys: Keys) -> int:
    """-1 where most pairs of keys have their left movement on the right half."""
    votes = []
    for name, other in zip(keys.paired.left, keys.paired.right, strict=True):
        left, right = (keys.left_share(keys.moves[one]) for one in (name, other))
        if left + 1.0 - right > 1.6:
            votes.append(1)
        elif left + 1.0 - right < 0.4:
            votes.append(-1)
    return -1 if len(votes) >= VOTES and sum(votes) < 0 else 1


def muted_note(*moves: Move) -> str:
    """A sentence where keys are muted."""
    muted = [move.name for move in moves if move.key.muted]
    return f"Muted: {shown(muted)}." if muted else ""
