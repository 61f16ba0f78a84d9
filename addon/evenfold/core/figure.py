"""Plain records of a figure as it was read from a host. Nothing here is ever written to.

Spaces: "local" is the space of an object's own stored mesh, "world" that of the scene, in
scene units. Figure.metres_per_unit turns scene units into metres.
"""

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from .allowances import Allowance
    from .baseline import Baseline
    from .layers import SurfaceLayers
    from .size import Sent

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def transform_points(matrix: FloatArray, points: NDArray[np.floating]) -> FloatArray:
    """Apply a (4, 4) affine matrix to (n, 3) points; returns (n, 3) float64."""
    return np.asarray(points, np.float64) @ matrix[:3, :3].T + matrix[:3, 3]


@dataclass(frozen=True)
class Weights:
    """Membership of vertices in groups, one row for each (vertex, group) entry.

    ``vertex`` and ``group`` are (k,) int, ``weight`` is (k,) float; ``names`` are the groups'.
    """

    names: tuple[str, ...]
    vertex: IntArray
    group: IntArray
    weight: FloatArray

    @staticmethod
    def none() -> "Weights":
        empty = np.zeros(0, np.int64)
        return Weights((), empty, empty, np.zeros(0))

    def of_groups(self, names: "set[str] | frozenset[str]", vertex_count: int) -> FloatArray:
        """Sum of each vertex's weights in the groups named; (vertex_count,)."""
        chosen = np.array([name in names for name in self.names], bool)
        if not chosen.any():
            return np.zeros(vertex_count)
        rows = chosen[self.group]
        total = np.bincount(self.vertex[rows], self.weight[rows], minlength=vertex_count)
        return total.astype(np.float64)


@dataclass(frozen=True)
class MirrorModifier:
    """A live Mirror modifier: its plane in world space and the axis it uses (0, 1, 2).

    ``merge_limit``: how far apart, in the object's own units, its two copies of a vertex still
    become one; None where it does not merge. ``clip``: editing stops at the plane. ``bisect``:
    +1 where it keeps only the side its normal points to, -1 only the other one, 0 both.
    ``about`` names its mirror object, None for the object itself. ``before`` are the names and
    kinds of the live modifiers above it in the stack, ``index`` its own place there.
    """

    name: str
    axis: int
    plane_point: FloatArray
    plane_normal: FloatArray
    merge_limit: float | None = None
    clip: bool = False
    bisect: int = 0
    about: str | None = None
    groups: bool = True
    before: tuple[tuple[str, str], ...] = ()
    index: int = 0


@dataclass(frozen=True)
class Placement:
    """How an object came to stand where it does: what it owns apart from what its parents do.

    ``scale`` (3,) and ``turned`` are its own; ``parent_scale`` (3,) that of the matrix kept
    from when it was parented. ``users`` counts the objects that share its data.
    """

    scale: tuple[float, float, float] = (1.0, 1.0, 1.0)
    turned: bool = False
    parent_scale: tuple[float, float, float] = (1.0, 1.0, 1.0)
    users: int = 1
    animated: bool = False
    linked: bool = False


@dataclass(frozen=True)
class Surface:
    """One mesh object's neutral shape exactly as stored: vertex numbers are the file's.

    ``positions`` (n, 3) local; ``edges`` (e, 2); ``corners`` (c,) the vertex of each face
    corner; ``face_starts`` (f + 1,) where each face's corners begin; ``to_world`` (4, 4).
    ``layers`` is what else it carries, None where that was not asked for; ``placed`` how its
    object was scaled and turned, None where that is not known. ``split`` is True for a mesh from
    a format that has only triangles and stores a vertex again at every seam and hard edge.
    """

    name: str
    positions: NDArray[np.floating]
    edges: IntArray
    corners: IntArray
    face_starts: IntArray
    to_world: FloatArray
    hidden: NDArray[np.bool_] | None = None
    mirrors: tuple[MirrorModifier, ...] = ()
    layers: "SurfaceLayers | None" = None
    placed: Placement | None = None
    split: bool = False

    @cached_property
    def world(self) -> FloatArray:
        """(n, 3) positions in world space."""
        return transform_points(self.to_world, self.positions)

    @cached_property
    def scale(self) -> float:
        """How many scene units one of the object's own is, on the whole: the edge of the cube that a unit cube becomes.

        1 where the object is flattened or its matrix has no numbers: then there is no such measure.
        """
        with np.errstate(invalid="ignore"):
            edge = float(np.abs(np.linalg.det(self.to_world[:3, :3])) ** (1.0 / 3.0))
        return edge if np.isfinite(edge) and edge > 0.0 else 1.0


@dataclass(frozen=True)
class Part:
    """One mesh object as measuring sees it: rest pose, neutral keys, shape-giving modifiers on.

    ``points`` (m, 3) world; ``triangles`` (t, 3); ``triangle_material`` (t,) index into
    ``materials``. ``how`` says what was evaluated, e.g. "stored" or "Mirror, Subdivision".
    ``bone_parent`` names the bone a whole object hangs on (parented to a bone), if any. ``paint``
    (t, 3) is each triangle's colour in linear light, NaN where not known; (0, 3) without any. ``sent`` is
    what an engine gets of it, None where that was not asked for.
    """

    name: str
    points: FloatArray
    triangles: IntArray
    weights: Weights
    materials: tuple[str, ...] = ()
    triangle_material: IntArray = field(default_factory=lambda: np.zeros(0, np.int64))
    how: str = "stored"
    bone_parent: str | None = None
    paint: NDArray[np.floating] = field(default_factory=lambda: np.zeros((0, 3), np.float32))
    sent: "Sent | None" = None


@dataclass(frozen=True)
class Bone:
    """A rest bone in world space: ``head``, ``tail`` (3,) and its three unit ``axes`` (3, 3) rows.

    ``properties`` are the numbers kept on the bone by name (physics settings and the like).
    """

    name: str
    parent: str | None
    head: FloatArray
    tail: FloatArray
    axes: FloatArray
    deform: bool = True
    connected: bool = False
    properties: tuple[tuple[str, float], ...] = ()

    @property
    def is_placed(self) -> bool:
        """False where a coordinate is no number."""
        return bool(np.isfinite(self.head).all() and np.isfinite(self.tail).all())


@dataclass(frozen=True)
class Armature:
    name: str
    bones: tuple[Bone, ...]
    to_world: FloatArray

    @cached_property
    def by_name(self) -> dict[str, Bone]:
        return {bone.name: bone for bone in self.bones}

    def above(self, name: str) -> tuple[str, ...]:
        """The bones over one, the nearest first; parents that go in a ring are walked once."""
        found: dict[str, None] = {}
        parent = self.by_name[name].parent
        while parent is not None and parent in self.by_name and parent not in found:
            found[parent] = None
            parent = self.by_name[parent].parent
        return tuple(found)

    def below(self, name: str) -> frozenset[str]:
        """The bone and everything under it, by name; empty if there is no such bone."""
        found: set[str] = set()
        todo = [name] if name in self.by_name else []
        children: dict[str, list[str]] = {}
        for bone in self.bones:
            if bone.parent is not None:
                children.setdefault(bone.parent, []).append(bone.name)
        while todo:
            current = todo.pop()
            if current not in found:
                found.add(current)
                todo.extend(children.get(current, ()))
        return frozenset(found)


@dataclass(frozen=True)
class Pin:
    """A landmark the artist has pinned; ``point`` (3,) in world space, rest shape."""

    landmark: str
    point: FloatArray


@dataclass(frozen=True)
class Worn:
    """What the artist named as worn or grown (ears, hair, hats), or as body after all.

    ``kind`` is "object", "group", "bone" or "material"; ``excluded`` False overrules a guess.
    """

    kind: str
    name: str
    excluded: bool = True


@dataclass(frozen=True)
class Figure:
    """One character: what is checked (surfaces), what is measured (parts), and its armature.

    ``humanoid`` maps the open avatar standard's bone names to this armature's, where known.
    ``notes`` are sentences about how it was read. ``allowances`` are its deliberate
    asymmetries, ``baselines`` what its objects were like when a baseline was saved, by name.
    ``outside`` are the names used in the file outside this figure, with whose they are.
    """

    name: str
    surfaces: tuple[Surface, ...]
    parts: tuple[Part, ...]
    armature: Armature | None = None
    metres_per_unit: float = 1.0
    up: tuple[float, float, float] = (0.0, 0.0, 1.0)
    pins: tuple[Pin, ...] = ()
    worn: tuple[Worn, ...] = ()
    humanoid: dict[str, str] = field(default_factory=dict)
    head_bone: str | None = None
    notes: tuple[str, ...] = ()
    allowances: "tuple[Allowance, ...]" = ()
    baselines: "dict[str, Baseline]" = field(default_factory=dict)
    outside: tuple[tuple[str, str], ...] = ()
