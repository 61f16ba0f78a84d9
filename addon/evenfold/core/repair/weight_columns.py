"""The groups of one or two objects as columns, and their weights as rows of them."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..figure import FloatArray, IntArray, Surface, Weights
from ..influences import Entries
from ..layers import BoolArray
from ..sides import pairs
from .case import Case


@dataclass(frozen=True)
class Columns:
    """Groups of both objects: ``mirror`` (g,) each one's counterpart, itself on the centre, -1 for
    none; ``side`` (g,) +1 left, -1 right; ``deforms`` (g,)."""

    names: tuple[str, ...]
    mirror: IntArray
    side: IntArray
    deforms: BoolArray

    @cached_property
    def known(self) -> BoolArray:
        return self.mirror >= 0

    @cached_property
    def other(self) -> IntArray:
        """(g,) the mirrored column, a group without counterpart itself."""
        return np.where(self.known, self.mirror, np.arange(len(self.names)))


@dataclass(frozen=True)
class Held:
    """One object's memberships by vertex, its groups numbered as the columns; ``free`` (g,) are
    not locked."""

    surface: Surface
    entries: Entries
    free: BoolArray

    def rows(self, vertices: IntArray, width: int) -> FloatArray:
        """(k, width) weights of these vertices."""
        first = np.searchsorted(self.entries.row, vertices, "left")
        count = np.searchsorted(self.entries.row, vertices, "right") - first
        at = np.repeat(first - np.cumsum(count) + count, count) + np.arange(int(count.sum()))
        table = np.zeros((len(vertices), width))
        table[np.repeat(np.arange(len(vertices)), count), self.entries.group[at]] = self.entries.weight[at]
        return table


def weights_of(surface: Surface) -> Weights:
    """The object's weights, none where they were not read."""
    return Weights.none() if surface.layers is None else surface.layers.weights


def filled(weights: Weights, name: str) -> bool:
    """True where some vertex has weight in this group."""
    if name not in weights.names:
        return False
    return bool((weights.weight[weights.group == weights.names.index(name)] > 0.0).any())


def columns_of(case: Case, more: tuple[str, ...]) -> Columns:
    """The groups of both objects of a finding, and ``more`` that are to be made."""
    here, there = weights_of(case.here), weights_of(case.there)
    names = tuple(dict.fromkeys(here.names + there.names + more))
    paired, number = pairs(names), {name: place for place, name in enumerate(names)}
    mirror, side = np.arange(len(names)), np.zeros(len(names), np.int64)
    mirror[[number[name] for name in (*paired.singles, *(case.limits.unnamed & set(names)))]] = -1
    for left, right in zip(paired.left, paired.right, strict=True):
        mirror[number[left]], mirror[number[right]] = number[right], number[left]
        side[number[left]], side[number[right]] = 1, -1
    return Columns(names, mirror, side, np.array([_deforms(case, name) for name in names], bool))


def _deforms(case: Case, name: str) -> bool:
    """True for a group that follows a deforming bone; of a new one the bone of its name tells."""
    layers = [one.layers for one in (case.here, case.there) if one.layers is not None]
    if any(name in (one.deform_groups or ()) for one in layers):
        return True
    if any(name in one.weights.names for one in layers) or case.figure.armature is None:
        return False
    bone = case.figure.armature.by_name.get(name)
    return bone is not None and bone.deform


def held_by(surface: Surface, columns: Columns) -> Held:
    """An object's memberships in these columns."""
    weights, layers = weights_of(surface), surface.layers
    number = {name: place for place, name in enumerate(columns.names)}
    order = np.argsort(weights.vertex, kind="stable")
    renamed = np.array([number[name] for name in weights.names], np.int64)
    entries = Entries(weights.vertex[order], renamed[weights.group[order]], weights.weight[order])
    locked = frozenset[str]() if layers is None else layers.locked_groups
    return Held(surface, entries, np.array([name not in locked for name in columns.names], bool))
