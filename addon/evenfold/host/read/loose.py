"""Which meshes without armature and parent belong together: one collection, one place on the floor."""

from collections.abc import Iterator
from dataclasses import dataclass

import bpy
import numpy as np
from numpy.typing import NDArray

from ...core.figure import FloatArray
from ..named import unique_name
from .place import as_array, rest_world

NEAR = 0.05
"""Boxes with a smaller gap in plan, as a share of the taller one's height, are one figure; our choice."""
FLAT = 0.01
"""A mesh lower than this share of its width is floor, and joins nothing; our choice."""


@dataclass(frozen=True)
class LooseGroup:
    """``names`` in the order given, the ``collection`` that holds them, and what is to be said."""

    names: tuple[str, ...]
    collection: str
    notes: tuple[str, ...]


def loose_groups(items: list[bpy.types.Object]) -> list[LooseGroup]:
    """Split meshes by the collection that holds them, then by boxes apart from each other in plan.

    What cannot be told apart, or may belong together after all, is said in the groups' notes.
    """
    if not items:
        return []
    homes = [frozenset(one.name for one in item.users_collection) for item in items]
    meets = _Meeting(np.stack([_box(item) for item in items]), homes)
    groups = list(_split(meets))
    return [
        LooseGroup(
            tuple(unique_name(items[row]) for row in group), min(homes[group[0]], default=""),
            tuple(_notes(group, items, meets)),
        )
        for group in groups
    ]


def _box(item: bpy.types.Object) -> FloatArray:
    """(2, 3) lowest and highest world corner at rest."""
    matrix = as_array(rest_world(item))
    corners = np.array([corner[:] for corner in item.bound_box], float) @ matrix[:3, :3].T + matrix[:3, 3]
    return np.stack([corners.min(axis=0), corners.max(axis=0)])


class _Meeting:
    """Which boxes (n, 2, 3) meet in plan, and which of them share a collection."""

    def __init__(self, boxes: FloatArray, homes: list[frozenset[str]]) -> None:
        self.homes = homes
        self.low, self.high = boxes[:, 0], boxes[:, 1]
        size = self.high - self.low
        self.height = size[:, 2]
        self.flat = size[:, 2] < FLAT * size[:, :2].max(axis=1)

    def one_home(self, first: int, second: int) -> bool:
        return self.homes[first] == self.homes[second] or bool(self.homes[first] & self.homes[second])

    def row(self, number: int) -> NDArray[np.bool_]:
        """(n,) true for the boxes that meet this one, itself included."""
        slack = NEAR * np.maximum(self.height, self.height[number])
        apart = np.maximum(self.low - self.high[number], self.low[number] - self.high)[:, :2].max(axis=1)
        met = (apart <= slack) & ~self.flat & ~self.flat[number]
        met[number] = True
        return np.asarray(met)


def _split(meets: _Meeting) -> Iterator[list[int]]:
    left = np.ones(len(meets.homes), bool)
    while left.any():
        found, waiting = [], [int(np.argmax(left))]
        left[waiting] = False
        while waiting:
            number = waiting.pop()
            found.append(number)
            near = np.flatnonzero(meets.row(number) & left)
            near = near[[meets.one_home(number, int(other)) for other in near]] if len(near) else near
            left[near] = False
            waiting += near.tolist()
        yield sorted(found)


def _notes(group: list[int], items: list[bpy.types.Object], meets: _Meeting) -> Iterator[str]:
    if len(group) > 1:
        yield (
            f"{_listed([unique_name(items[row]) for row in group])} have neither armature nor parent and stand in one "
            "place: they are taken for one figure. If they are not, choose Selected Objects, or give each "
            "figure a collection of its own."
        )
    met = np.any([meets.row(row) for row in group], axis=0)
    met[group] = False
    others = [unique_name(items[row]) for row in np.flatnonzero(met)]
    if others:
        stand = "stands in the same place, but in another collection, and counts" if len(others) == 1 else (
            "stand in the same place, but in another collection, and count"
        )
        yield f"{_listed(others)} {stand} as another figure. If they belong together, choose Selected Objects."


def _listed(names: list[str], most: int = 3) -> str:
    if len(names) > most:
        return f"{', '.join(names[:most])} and {len(names) - most} more"
    return " and ".join(names) if len(names) < 3 else f"{', '.join(names[:-1])} and {names[-1]}"
