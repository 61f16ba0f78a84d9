"""What a figure costs an engine: triangles, vertices as they are sent to it, bones, keys and materials."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .figure import Figure, IntArray, Part, Surface

FINEST = 1e-4
"""Normals and UV coordinates that differ by less are one to an engine. Our choice."""
SPREAD = np.uint64(0x9E3779B97F4A7C15)
"""An odd number near 2^64 divided by the golden ratio: multiplying by it spreads bits evenly (Knuth, The Art of
Computer Programming, volume 3, section 6.4; from memory)."""


@dataclass(frozen=True)
class Sent:
    """What an engine gets of one mesh: ``triangles``, ``vertices``, and the ``materials`` its faces use."""

    triangles: int
    vertices: int
    materials: int


@dataclass(frozen=True)
class ObjectSize:
    """One object: ``stored`` vertices as Blender counts them, the rest as an engine gets it.

    ``keys`` are its shape keys without the neutral one.
    """

    name: str
    triangles: int
    vertices: int
    stored: int
    materials: int
    keys: int


@dataclass(frozen=True)
class Size:
    """A figure's objects with faces, and the bones of its armature."""

    objects: tuple[ObjectSize, ...]
    bones: int

    @property
    def triangles(self) -> int:
        return sum(one.triangles for one in self.objects)

    @property
    def vertices(self) -> int:
        return sum(one.vertices for one in self.objects)

    @property
    def stored(self) -> int:
        return sum(one.stored for one in self.objects)

    @property
    def meshes(self) -> int:
        return len(self.objects)

    @property
    def materials(self) -> int:
        """Counted anew on every object, as each is drawn by itself."""
        return sum(one.materials for one in self.objects)

    @property
    def keys(self) -> int:
        """The most that one object has: engines store them by mesh."""
        return max((one.keys for one in self.objects), default=0)


def size_of(figure: Figure) -> Size:
    """The size of a figure that was read with its layers; objects without faces are left out."""
    parts = {part.name: part for part in figure.parts}
    pairs = [(surface, parts.get(surface.name)) for surface in figure.surfaces]
    objects = [_object(surface, part) for surface, part in pairs if part is not None and part.sent is not None]
    bones = len(figure.armature.bones) if figure.armature is not None else 0
    return Size(tuple(one for one in objects if one.triangles), bones)


def _object(surface: Surface, part: Part) -> ObjectSize:
    sent = part.sent or Sent(0, 0, 0)
    keys = surface.layers.keys if surface.layers is not None else None
    count = max(len(keys.keys) - 1, 0) if keys is not None else 0
    return ObjectSize(surface.name, sent.triangles, sent.vertices, len(surface.positions), sent.materials, count)


def sent_of(
    corners: IntArray, starts: IntArray, slots: IntArray, at_corners: Iterable[NDArray[np.floating]]
) -> Sent:
    """What an engine gets of a mesh with these ``corners`` (c,), ``starts`` (f + 1,) and material ``slots`` (f,).

    An engine keeps one normal and one UV coordinate a vertex, and draws one material after another: a vertex is
    sent again wherever its corners differ in one of ``at_corners``, (c, k) each, or in their face's material.
    """
    counts = np.diff(starts)
    face = np.repeat(np.arange(len(counts)), counts)
    told = np.zeros(len(corners), np.uint64)
    for numbers in (corners[:, None], slots[face, None]):
        told = _mixed(told, numbers)
    for values in at_corners:
        with np.errstate(over="ignore", invalid="ignore"):
            steps = np.round(np.nan_to_num(values) / FINEST).astype(np.int64)
        told = _mixed(told, steps)
    triangles = int(np.maximum(counts - 2, 0).sum())
    return Sent(triangles, len(np.unique(told)), len(np.unique(slots[counts > 2])))


def finer(sent: Sent, levels: int) -> Sent:
    """The same mesh of quads subdivided ``levels`` times more: each makes four of a face, and about four of a vertex."""
    return replace(sent, triangles=sent.triangles * 4**levels, vertices=sent.vertices * 4**levels)


def _mixed(told: NDArray[np.uint64], values: NDArray[np.integer]) -> NDArray[np.uint64]:
    """(c,) a number for each corner that is another one, as good as surely, where any column of ``values`` is."""
    for column in values.astype(np.uint64).T:
        told = (told ^ column) * SPREAD
        told ^= told >> np.uint64(32)
    return told
