"""Plain records of what an object carries besides its shape: keys, UV maps, masks and the rest."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .figure import IntArray, Weights

Float32Array = NDArray[np.float32]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class UVMap:
    """``places`` (c, 2): one UV coordinate for each face corner."""

    name: str
    places: Float32Array


@dataclass(frozen=True)
class ShapeKey:
    """``points`` (n, 3) local, absolute as stored; deltas are against the key ``relative_to``.

    ``low`` and ``high`` bound its value; ``mask_group`` names the vertex group it is limited to.
    """

    name: str
    points: Float32Array
    relative_to: str
    value: float = 0.0
    low: float = 0.0
    high: float = 1.0
    muted: bool = False
    mask_group: str = ""


@dataclass(frozen=True)
class ShapeKeys:
    """All keys in their order, the ``reference`` (neutral) one included."""

    reference: str
    keys: tuple[ShapeKey, ...]
    relative: bool = True

    def named(self, name: str) -> ShapeKey | None:
        return next((key for key in self.keys if key.name == name), None)


@dataclass(frozen=True, eq=False)
class Picture:
    """An image's ``pixels`` (high, wide, 1, 2 or 4) in whole numbers, the lowest row first.

    A number stands for ``low`` + ``step`` times itself. ``channels`` are those kept: one of several alike, and
    none that is the same everywhere; what is left over is 0. ``repeat`` says that the image goes on beyond its
    borders, else its border does.
    """

    pixels: NDArray[np.unsignedinteger]
    channels: tuple[int, ...]
    repeat: bool
    low: float = 0.0
    step: float = 1.0 / 255.0

    def values(self, rows: NDArray[np.unsignedinteger]) -> NDArray[np.float64]:
        """(k, channels) what (k, 1, 2 or 4) numbers stand for."""
        return self.low + self.step * rows[:, : len(self.channels)].astype(np.float64)

    @cached_property
    def rows(self) -> NDArray[np.unsignedinteger]:
        """(high * wide, 1, 2 or 4) the pixels one after another."""
        return self.pixels.reshape(-1, self.pixels.shape[2])

    @cached_property
    def keys(self) -> NDArray[np.unsignedinteger]:
        """(high * wide,) one number a pixel, equal where its channels are."""
        width = self.pixels.itemsize * self.pixels.shape[2]
        return np.ascontiguousarray(self.pixels).view(f"u{width}").reshape(-1)

    def like(self, other: "Picture") -> bool:
        """True where both have numbers that mean the same."""
        kind = (self.pixels.dtype, self.channels, self.low, self.step)
        return kind == (other.pixels.dtype, other.channels, other.low, other.step)


@dataclass(frozen=True)
class Mask:
    """Painted values: ``values`` (n or c, channels) in 0..1, one row a vertex or a face corner.

    ``domain`` is "vertex" or "corner"; ``source`` is "attribute" or "image" (sampled at the
    corners' UV coordinates of ``uv_map``). ``picture`` is the image, None where it is the same everywhere.
    """

    name: str
    domain: str
    values: Float32Array
    source: str = "attribute"
    uv_map: str = ""
    picture: Picture | None = None


@dataclass(frozen=True)
class SurfaceLayers:
    """What one mesh object carries, in the numbers of its stored mesh.

    ``seams`` (e,); ``face_material`` (f,) index into ``materials``; ``corner_normals`` (c, 3)
    local unit vectors where the mesh has custom normals; ``triangles`` (t, 3) corner numbers of
    the host's own split of each face, ``triangle_face`` (t,). ``deform_groups`` are the groups
    that follow a deforming bone, None where no armature says.
    """

    weights: Weights
    seams: BoolArray
    face_material: IntArray
    materials: tuple[str, ...] = ()
    locked_groups: frozenset[str] = frozenset()
    deform_groups: frozenset[str] | None = None
    uv_maps: tuple[UVMap, ...] = ()
    keys: ShapeKeys | None = None
    masks: tuple[Mask, ...] = ()
    corner_normals: Float32Array | None = None
    triangles: IntArray = field(default_factory=lambda: np.zeros((0, 3), np.int64))
    triangle_face: IntArray = field(default_factory=lambda: np.zeros(0, np.int64))
    notes: tuple[str, ...] = ()
