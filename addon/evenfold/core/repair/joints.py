"""Rest bones whose ends are moved joint by joint, so that connected chains stay connected."""

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from ..figure import Armature, Bone, FloatArray
from ..symmetry.turning import carried
from .changes import BoneSet

HEAD, TAIL = 0, 1

SHORTEST = 1e-6
"""A share of the rig's size below which a bone would vanish: the host drops bones of no length."""

End = tuple[str, int]


@dataclass
class Rig:
    """An armature's bones while they are moved; ``held`` bones (excused ones) must stay.

    ``told`` collects what was left alone and why.
    """

    armature: Armature
    held: frozenset[str] = frozenset()
    ends: dict[End, FloatArray] = field(default_factory=dict)
    z_axes: dict[str, FloatArray] = field(default_factory=dict)
    told: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._children: dict[str, list[str]] = {}
        for bone in self.armature.bones:
            if bone.parent is not None and bone.connected:
                self._children.setdefault(bone.parent, []).append(bone.name)

    def bone(self, name: str) -> Bone:
        return self.armature.by_name[name]

    def joint(self, name: str, end: int) -> list[End]:
        """The ends that are one joint with this one, itself first."""
        bone = self.bone(name)
        root = name if end == TAIL else bone.parent if bone.connected else None
        if root is None:
            return [(name, HEAD)]
        ends = [(root, TAIL), *((child, HEAD) for child in self._children.get(root, ()))]
        return sorted(ends, key=lambda one: one != (name, end))

    def place(self, name: str, end: int) -> FloatArray:
        bone = self.bone(name)
        return self.ends.get((name, end), bone.tail if end == TAIL else bone.head)

    def move(self, wishes: dict[End, FloatArray], allowed: frozenset[str], tolerance: float) -> None:
        """Put ends (each a place (3,) in world space) where they are wished, joint by joint.

        Only ``allowed`` bones may move along. A joint stays where a bone at it may not, or
        where wishes differ by more than the tolerance.
        """
        done: set[End] = set()
        for end, place in wishes.items():
            ends = self.joint(*end)
            if end in done:
                continue
            done.update(ends)
            stuck = next((name for name, _ in ends if name not in allowed or name in self.held), None)
            apart = [float(np.linalg.norm(wishes[one] - place)) for one in ends if one in wishes]
            gap = float(np.linalg.norm(place - self.place(*end)))
            if stuck is None and max(apart) <= tolerance:
                self.ends.update(dict.fromkeys(ends, place))
            elif gap > tolerance:
                why = f"it is joined to {stuck}" if stuck else "the bones joined there disagree"
                self.told.append(f"The {'tail' if end[1] else 'head'} of {end[0]} was left alone: {why}.")

    def moved(self) -> set[str]:
        return {name for name, _ in self.ends} | set(self.z_axes)

    def sets(self) -> Iterable[BoneSet]:
        """What changed, parents first; a bone that would lose its length stays, and is told."""
        into = np.linalg.inv(self.armature.to_world)
        size = max((float(np.abs(b.tail - b.head).max()) for b in self.armature.bones), default=0.0)
        short = [n for n in self.moved() if self._length(n) <= SHORTEST * size < self._old_length(n)]
        for name in short:
            self.told.append(f"{name} was left alone: it would have no length.")
            for end in (HEAD, TAIL):
                for one in self.joint(name, end):
                    self.ends.pop(one, None)
        for name in in_order(self.armature):
            if name in self.moved():
                made = self._set(name, into)
                if made is not None:
                    yield made

    def z_axis(self, name: str) -> FloatArray:
        """(3,) the bone's new z in world space: as asked, else carried along with its direction."""
        bone = self.bone(name)
        old, new = _direction(bone.head, bone.tail), self._direction(name)
        start = self.z_axes.get(name)
        if start is not None:
            return start
        if old is None or new is None or (old == new).all():
            return bone.axes[2]
        return carried(bone.axes[2][None], old[None], new[None])[0]

    def direction(self, name: str) -> FloatArray:
        """(3,) the bone's new direction, its old one where it has no length."""
        found = self._direction(name)
        return self.bone(name).axes[1] if found is None else found

    def _direction(self, name: str) -> FloatArray | None:
        return _direction(self.place(name, HEAD), self.place(name, TAIL))

    def _length(self, name: str) -> float:
        return float(np.linalg.norm(self.place(name, TAIL) - self.place(name, HEAD)))

    def _old_length(self, name: str) -> float:
        return float(np.linalg.norm(self.bone(name).tail - self.bone(name).head))

    def _set(self, name: str, into: FloatArray) -> BoneSet | None:
        bone, places = self.bone(name), [self.place(name, end) for end in (HEAD, TAIL)]
        z_axis = self.z_axis(name)
        same = (places[0] == bone.head).all() and (places[1] == bone.tail).all()
        if same and (z_axis == bone.axes[2]).all():
            return None
        head, tail = (local(into, place) for place in places)
        return BoneSet(
            name, head, tail, turned(into, z_axis), bone.parent, bone.connected, bone.deform
        )


def local(into: FloatArray, place: FloatArray) -> FloatArray:
    """(3,) a world place in the armature's space, rounded as files store it."""
    point = into[:3, :3] @ place + into[:3, 3]
    return point.astype(np.float32).astype(np.float64) + 0.0


def turned(into: FloatArray, axis: FloatArray) -> FloatArray:
    """(3,) a world direction in the armature's space, of length 1."""
    own = into[:3, :3] @ axis
    return own / max(float(np.linalg.norm(own)), 1e-30) + 0.0


def in_order(armature: Armature) -> list[str]:
    """Bone names, every parent before its children."""
    found: list[str] = []
    above = {bone.name: bone.parent for bone in armature.bones}
    seen: set[str] = set()
    for bone in armature.bones:
        chain: list[str] = []
        name: str | None = bone.name
        while name is not None and name not in seen:
            seen.add(name)
            chain.append(name)
            name = above.get(name)
        found += reversed(chain)
    return [name for name in found if name in above]


def _direction(head: FloatArray, tail: FloatArray) -> FloatArray | None:
    along = tail - head
    length = float(np.linalg.norm(along))
    return along / length if length > 0.0 else None
