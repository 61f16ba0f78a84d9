"""Finding humanoid bones by the build of a skeleton alone, where names say nothing: what mirrors, hangs on what, and ends where.

Two chains that reach the ground are legs, two that hang on a bone of the middle further up are arms; the bones of the
middle between them are hips, spine and chest, and what goes on upward is neck and head.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .figure import Armature, FloatArray

FEWEST, MOST, PAIRS = 8, 1000, 3
"""A skeleton of fewer bones, or of more, or with fewer that mirror, tells nothing. Our choice."""
NEAR = 0.02
"""What lies so near to its mirror image, or to the middle, in sizes of the skeleton, is it. Our choice."""
ONE_SIDED = 0.08
"""What carries bones that lie further to one side on average, in sizes of the skeleton, is a shoulder. Our choice."""
TURN, TRIES = np.radians(2.0), 6
"""Ways from bone to bone that are no further apart than the first are one, of which the commonest are tried. Our choice."""
GROUND, OVER_GROUND = 0.15, 0.06
"""Legs end so near to the lowest bone, and arms so far over the end of the legs, in heights of the skeleton. Our choice."""
ROOT = 0.05
"""A bone of the middle so near to the lowest, in heights of the skeleton, is the one that all hangs on, no hips. Our choice."""
RISE = 0.1
"""A head lies so far over the hips, in heights of the skeleton. Our choice."""
ON_TOP = 0.5
"""What goes on upward starts over this share of the bone before; a jaw starts lower. Our choice."""
SHORT, HALF = 0.18, 0.5
"""A neck is shorter than the first, in heights of the skeleton, or than the second share of all from its start up; what starts
further over the bone before is hair. Our choice."""
ARM, LEG = ("Shoulder", "UpperArm", "LowerArm", "Hand"), ("UpperLeg", "LowerLeg", "Foot", "Toes")


@dataclass(frozen=True)
class _Below:
    """How many bones, the sum of how far they lie to the side, and how low and high they reach."""

    count: int
    lateral: float
    low: float
    high: float


@dataclass(frozen=True)
class _Tree:
    """A skeleton seen along its ``side`` axis (3,) and ``up`` (3,), unit vectors, mirrored about ``middle`` along the first."""

    armature: Armature
    side: FloatArray
    up: FloatArray
    middle: float
    size: float

    @cached_property
    def pairs(self) -> dict[str, str]:
        """The bones on the positive half that have a mirror image, with it."""
        heads = np.array([bone.head for bone in self.armature.bones], float)
        along = heads @ self.side - self.middle
        image = heads - 2.0 * along[:, None] * self.side
        names = [bone.name for bone in self.armature.bones]
        off = np.linalg.norm(heads[None] - image[:, None], axis=2)
        mirrored = (along > NEAR * self.size) & (off.min(axis=1) < NEAR * self.size)
        return {names[one]: names[int(np.argmin(off[one]))] for one in np.flatnonzero(mirrored)}

    @cached_property
    def central(self) -> frozenset[str]:
        """The bones that start in the middle and carry as much on one side of it as on the other: no shoulders."""
        return frozenset(
            name for name, below in self.below.items()
            if abs(self.lateral(name)) <= NEAR * self.size and abs(below.lateral / below.count) <= ONE_SIDED * self.size
        )

    @cached_property
    def below(self) -> dict[str, "_Below"]:
        """What hangs on each bone, itself included; not on bones whose parents go in a ring."""
        order = [bone.name for bone in self.armature.bones if bone.parent not in self.armature.by_name]
        for name in order:
            order += self.children[name]
        found: dict[str, _Below] = {}
        for name in reversed(order):
            bone = self.armature.by_name[name]
            levels = sorted((float(bone.head @ self.up), float(bone.tail @ self.up)))
            under = [found[child] for child in self.children[name]]
            found[name] = _Below(
                1 + sum(one.count for one in under), self.lateral(name) + sum(one.lateral for one in under),
                min(levels[0], *(one.low for one in under)) if under else levels[0],
                max(levels[1], *(one.high for one in under)) if under else levels[1],
            )
        return found

    @cached_property
    def children(self) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {bone.name: [] for bone in self.armature.bones}
        for bone in self.armature.bones:
            if bone.parent in found:
                found[str(bone.parent)].append(bone.name)
        return found

    def lateral(self, name: str) -> float:
        return float(self.armature.by_name[name].head @ self.side) - self.middle

    def height(self, name: str) -> float:
        return float(self.armature.by_name[name].head @ self.up)

    def ends(self, name: str) -> tuple[float, float]:
        """How low and how high the bone and all that hangs on it reach."""
        return self.below[name].low, self.below[name].high

    def chain(self, name: str) -> list[str]:
        """The longest way down from a bone to an end, the bone first."""
        came: dict[str, str] = {}
        level, last = [name], name
        while level:
            last = level[0]
            below = [(child, one) for one in level for child in self.children[one]]
            came |= dict(below)
            level = [child for child, _ in below]
        found = [last]
        while found[-1] != name:
            found.append(came[found[-1]])
        return found[::-1]

    def held_by(self, name: str) -> str | None:
        """The bone of the middle that one hangs on."""
        return next((one for one in self.armature.above(name) if one in self.central), None)


def guess_by_build(armature: Armature, up: FloatArray) -> dict[str, str]:
    """The standard's bones as the skeleton's build tells them; empty where it is not that of a figure with arms and a head.

    Left and right are given only where the feet's bones tell the front.
    """
    tree = _seen(armature, up)
    if tree is None:
        return {}
    levels = [tree.height(bone.name) for bone in armature.bones]
    low, span = min(levels), max(levels) - min(levels)
    leg, arm = _leg_and_arm(tree, low, span)
    if arm is None:
        return {}
    chest = str(tree.held_by(arm))
    trunk = [one for one in armature.above(chest) if one in tree.central and tree.height(one) > low + ROOT * span]
    hips = str(tree.held_by(leg)) if leg is not None else trunk[-1] if trunk else chest
    return _named(tree, hips, chest, leg, arm, RISE * span)


def _leg_and_arm(tree: _Tree, low: float, span: float) -> tuple[str | None, str | None]:
    """The first bone of a leg and of an arm on the positive half of a skeleton from ``low`` up to ``span`` over it.

    Of chains that hang on the middle the lowest that reaches the ground is a leg; an arm hangs further up, as low down
    the trunk as any, and has the most bones and the furthest start of what hangs there.
    """
    roots = [
        name for name in tree.pairs
        if name in tree.below and tree.armature.by_name[name].parent not in tree.pairs and tree.below[name].count > 1 and tree.held_by(name)
    ]
    legs = [name for name in roots if tree.ends(name)[0] < low + GROUND * span < tree.height(name)]
    leg = min(legs, key=lambda name: (tree.ends(name)[0], -len(tree.chain(name)), name), default=None)
    least = low + GROUND * span if leg is None else tree.height(leg)
    lowest = low + GROUND * span if leg is None else tree.ends(leg)[0] + OVER_GROUND * span
    arms = [name for name in roots if name != leg and tree.height(name) > least and tree.ends(name)[0] > lowest]
    arms = [name for name in arms if leg is None or tree.held_by(name) != tree.held_by(leg)]

    def likely(name: str) -> tuple[int, int, float, str]:
        return -len(tree.armature.above(str(tree.held_by(name)))), min(len(tree.chain(name)), len(ARM)), tree.lateral(name), name

    return leg, max(arms, key=likely, default=None)


def _seen(armature: Armature, up: FloatArray) -> _Tree | None:
    """The skeleton from the side from which most of it mirrors; None where hardly anything does."""
    if not FEWEST <= len(armature.bones) <= MOST or not all(bone.is_placed for bone in armature.bones):
        return None
    heads = np.array([bone.head for bone in armature.bones], float)
    size = float(np.ptp(heads, axis=0).max())
    trees = [_Tree(armature, side, up, middle, size) for side, middle in _sides(heads, up, size)]
    best = max(trees, key=lambda tree: len(tree.pairs), default=None)
    return best if best is not None and len(best.pairs) >= PAIRS else None


def _sides(heads: FloatArray, up: FloatArray, size: float) -> list[tuple[FloatArray, float]]:
    """The level ways (3,) along which most pairs of bones (b, 3) at one height lie, and the middle of these pairs along each."""
    one, other = np.triu_indices(len(heads), 1)
    way = heads[other] - heads[one]
    rise = way @ up
    level = way - rise[:, None] * up
    kept = (np.abs(rise) < NEAR * size) & (np.linalg.norm(level, axis=1) > 2 * NEAR * size)
    across = _level_axis(up)
    ahead = np.cross(up, across)
    angle = np.arctan2(level[kept] @ ahead, level[kept] @ across)
    between = (heads[one[kept]] + heads[other[kept]]) / 2
    steps, counts = np.unique(np.round(angle % np.pi / TURN).astype(np.int64), return_counts=True)
    found = []
    for step in steps[np.argsort(-counts, kind="stable")[:TRIES]]:
        off = (angle - step * TURN + np.pi / 2) % np.pi - np.pi / 2
        near = np.abs(off) <= TURN
        turned = step * TURN + float(np.median(off[near]))
        side = np.cos(turned) * across + np.sin(turned) * ahead
        found.append((side, float(np.median(between[near] @ side))))
    return found


def _level_axis(up: FloatArray) -> FloatArray:
    """A unit vector (3,) across ``up``."""
    axis = np.eye(3)[int(np.argmin(np.abs(up)))]
    level = axis - up * float(axis @ up)
    return np.asarray(level / np.linalg.norm(level), float)


def _named(tree: _Tree, hips: str, chest: str, leg: str | None, arm: str, rise: float) -> dict[str, str]:
    upward = _upward(tree, chest)
    if not upward:
        return {}
    head = _head_of(tree, upward)
    if tree.height(head) < tree.height(hips) + rise:
        return {}
    found = {"head": head, "hips": hips}
    neck = upward[: upward.index(head)]
    if neck:
        found["neck"] = neck[0]
    path = [name for name in (chest, *tree.armature.above(chest)) if name in tree.central]
    path = path[: path.index(hips)][::-1] if hips in path else []
    if len(path) > 3:
        path = [path[0], *path[-2:]]
    found |= dict(zip(("spine", "chest", "upperChest"), path, strict=False))
    return found | (_limbs(tree, leg, arm) if leg is not None else {})


def _upward(tree: _Tree, chest: str) -> list[str]:
    """The bones of the middle that go on upward from the chest, the lowest first."""
    found: list[str] = []
    current = chest
    while len(found) < len(tree.armature.bones):
        bone = tree.armature.by_name[current]
        least = float(((1 - ON_TOP) * bone.head + ON_TOP * bone.tail) @ tree.up) - NEAR * tree.size
        after = [name for name in tree.children[current] if name in tree.central and tree.height(name) >= least and tree.ends(name)[1] > least]
        if not after:
            break
        current = max(after, key=lambda name: (tree.ends(name)[1], name))
        found.append(current)
    return found


def _head_of(tree: _Tree, upward: list[str]) -> str:
    """Of the bones over the chest the first that carries eyes, ears or a jaw; else the second over a short neck, else the first."""
    for name in upward:
        if any(child not in upward for child in tree.children[name]):
            return name
    if len(upward) < 2:
        return upward[0]
    levels = [tree.height(bone.name) for bone in tree.armature.bones]
    rise = tree.height(upward[1]) - tree.height(upward[0])
    most = max(SHORT * (max(levels) - min(levels)), HALF * (tree.ends(upward[0])[1] - tree.height(upward[0])))
    return upward[1] if rise < most else upward[0]


def _limbs(tree: _Tree, leg: str, arm: str) -> dict[str, str]:
    """Arms and legs by side; none where the feet do not tell the front."""
    feet = tree.chain(leg)
    forward = _forward(tree, feet)
    if forward is None:
        return {}
    words = ("left", "right") if float(np.cross(tree.up, forward) @ tree.side) > 0 else ("right", "left")
    shoulder = tree.armature.by_name[arm].parent
    arms = ([shoulder] if shoulder is not None and shoulder not in tree.central else []) + tree.chain(arm)
    parts = [*zip(LEG, feet, strict=False), *zip(ARM if len(arms) > 3 else ARM[1:], arms, strict=False)]
    found = {words[0] + part: name for part, name in parts}
    return found | {words[1] + part: tree.pairs[name] for part, name in parts if name in tree.pairs}


def _forward(tree: _Tree, feet: list[str]) -> FloatArray | None:
    """The way from the ankle to the toes of a leg's bones, or along a foot's bone that lies; None where neither shows it."""
    joints = [tree.armature.by_name[name].head for name in feet[2:]]
    if len(joints) == 1:
        joints.append(tree.armature.by_name[feet[2]].tail)
    if len(joints) < 2:
        return None
    way = joints[-1] - joints[0]
    level = way - tree.up * float(way @ tree.up) - tree.side * float(way @ tree.side)
    return level if np.linalg.norm(level) > max(abs(float(way @ tree.up)), NEAR * tree.size) else None
