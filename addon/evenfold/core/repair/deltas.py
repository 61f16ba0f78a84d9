"""One key's movement in its object's own space, and the changes that give it another one."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..figure import FloatArray, IntArray, Surface
from ..findings import Finding
from ..layers import ShapeKey, ShapeKeys
from ..symmetry.paired_rows import group_values
from .applied import dependents
from .case import Case, RepairError
from .changes import Change, KeyMoved, Plan


@dataclass(frozen=True)
class Delta:
    """A key on its surface. ``by`` (n, 3) is its whole movement, not lessened by its mask group."""

    surface: Surface
    keys: ShapeKeys
    key: ShapeKey

    @property
    def name(self) -> str:
        return self.key.name

    @cached_property
    def base(self) -> FloatArray:
        """(n, 3) the places it moves from."""
        neutral = self.keys.named(self.keys.reference)
        own = self.keys.named(self.key.relative_to) if self.keys.relative else neutral
        start = own or neutral
        return np.asarray(self.surface.positions if start is None else start.points, np.float64)

    @cached_property
    def by(self) -> FloatArray:
        return self.key.points.astype(np.float64) - self.base

    @cached_property
    def strength(self) -> FloatArray:
        """(n,) its mask group's weight, 1 without one."""
        layers = self.surface.layers
        if layers is None or self.key.mask_group not in layers.weights.names:
            return np.ones(len(self.base))
        return group_values(layers, self.key.mask_group, len(self.base))

    def set(self, rows: IntArray, by: FloatArray) -> KeyMoved:
        """The change to movements (k, 3) at these vertices; those that stay alike are left out."""
        places = (self.base[rows] + by).astype(np.float32)
        other = (places != self.key.points[rows]).any(axis=1)
        return KeyMoved(self.surface.name, self.name, rows[other], places[other].astype(np.float64))


def delta_of(surface: Surface, name: str) -> Delta:
    """The key of this name. Raises RepairError when there is none, or one with broken places."""
    keys = surface.layers.keys if surface.layers is not None else None
    key = keys.named(name) if keys is not None else None
    if keys is None or key is None:
        raise RepairError(f"{surface.name} has no key {name}: check again.")
    if not sound_key(surface, key):
        raise RepairError(f"{name} has places that are no numbers: clear them or sculpt the key anew.")
    return Delta(surface, keys, key)


def sound_key(surface: Surface, key: ShapeKey) -> bool:
    """False for a key with places that are no numbers, where the object's own are."""
    good = np.isfinite(surface.positions).all(axis=1)
    return bool(np.isfinite(key.points[good]).all())


def names_of(finding: Finding) -> tuple[str, str]:
    """The two keys a finding on a pair is about; one key stands for both."""
    about = finding.about or ("",)
    return about[0], about[-1]


def independent(one: Delta, other: Delta) -> None:
    """Raises RepairError where one of two keys of an object builds on the other."""
    if one.surface is not other.surface or one.name == other.name:
        return
    if one.name in dependents(one.keys, other.name) or other.name in dependents(one.keys, one.name):
        raise RepairError(f"{one.name} and {other.name} build on one another: mend them by hand.")


def plan_of(case: Case, changes: Iterable[Change], told: Iterable[str] = ()) -> Plan:
    """A plan of key changes, with how many vertices they move and how far at most, in metres."""
    kept = [one for one in changes if not isinstance(one, KeyMoved) or len(one.vertices)]
    longest, rows = 0.0, set[tuple[str, int]]()
    for one in kept:
        if isinstance(one, KeyMoved):
            surface = case.checked.surfaces[one.owner]
            away = one.places - delta_of(surface, one.key).key.points[one.vertices]
            by = away @ surface.to_world[:3, :3].T
            longest = max(longest, float(np.linalg.norm(by, axis=1).max(initial=0.0)))
            rows |= {(one.owner, row) for row in one.vertices.tolist()}
    return Plan(tuple(kept), tuple(told), len(rows), longest * case.metres)
