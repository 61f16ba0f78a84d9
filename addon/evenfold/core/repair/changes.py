"""What a repair will change, as plain records: made in the core, written by the host."""

from dataclasses import dataclass, field

from ..figure import FloatArray, IntArray

WAYS = ("left", "right", "average")
"""Which side wins: the left is carried over, the right is, or both meet in the middle."""


@dataclass(frozen=True)
class Moved:
    """Vertices (k,) of an object's neutral shape and where they go, (k, 3) local.

    Every key that builds on the neutral shape is carried along by the same offset.
    """

    owner: str
    vertices: IntArray
    places: FloatArray


@dataclass(frozen=True)
class KeyMoved:
    """Vertices (k,) of one key and where they go in it, (k, 3) local and absolute.

    Every key that builds on this one is carried along by the same offset.
    """

    owner: str
    key: str
    vertices: IntArray
    places: FloatArray


@dataclass(frozen=True)
class KeyMade:
    """A new key with all its ``points`` (n, 3), its range and mute taken from the key ``like``.

    ``relative_to`` and ``mask_group`` name what it builds on and is limited to.
    """

    owner: str
    key: str
    points: FloatArray
    like: str
    relative_to: str
    mask_group: str = ""


@dataclass(frozen=True)
class Weighted:
    """New weights (k,) of vertices (k,) in one group; 0 takes the vertex out of the group.

    The group is made, unlocked and empty, if the object has none of that name.
    """

    owner: str
    group: str
    vertices: IntArray
    weights: FloatArray


@dataclass(frozen=True)
class UVMoved:
    """Face corners (k,) of one UV map and their new coordinates (k, 2)."""

    owner: str
    uv_map: str
    corners: IntArray
    places: FloatArray


@dataclass(frozen=True)
class SeamsSet:
    """Edges (k,) that become seams, or stop being ones."""

    owner: str
    edges: IntArray
    seam: bool


@dataclass(frozen=True)
class BoneSet:
    """A rest bone as it will be: ``head``, ``tail`` and ``z_axis`` (3,) in the armature's own space.

    ``parent`` is a name, None for a root. With ``like`` the bone is new, and what is not named
    here is taken from the bone of that name.
    """

    bone: str
    head: FloatArray
    tail: FloatArray
    z_axis: FloatArray
    parent: str | None
    connected: bool
    deform: bool
    like: str | None = None


@dataclass(frozen=True)
class BonesSet:
    """Rest bones of one armature, written together so that connected chains hold; parents first."""

    owner: str
    bones: tuple[BoneSet, ...]


Change = Moved | KeyMoved | KeyMade | Weighted | UVMoved | SeamsSet | BonesSet


@dataclass(frozen=True)
class Plan:
    """The changes of one repair, and sentences on what was left as it is and why.

    ``largest`` is the greatest change in ``unit`` (metres, degrees, weight, uv); ``further`` are
    those in other units.
    """

    changes: tuple[Change, ...] = ()
    left_alone: tuple[str, ...] = ()
    elements: int = 0
    largest: float = 0.0
    unit: str = "metres"
    further: tuple[tuple[float, str], ...] = ()


@dataclass(frozen=True)
class Wish:
    """What the artist asks for: which side wins, and optionally only these vertices by object.

    Left is the figure's own left, as its names tell; see ``case.Checked.sign``. ``far``: also what
    lies so far off that it may be meant.
    """

    way: str = "left"
    only: dict[str, IntArray] = field(default_factory=dict)
    far: bool = False
