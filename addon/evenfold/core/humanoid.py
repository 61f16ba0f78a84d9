"""Finding the open avatar standard's humanoid bones in an armature, by name, hierarchy and place."""

import itertools
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .figure import Armature, Bone, FloatArray
from .humanoid_build import guess_by_build
from .humanoid_fingers import find_fingers
from .humanoid_words import Name, common_words, pieces, read_name

LIMBS = (("Shoulder", "UpperArm", "LowerArm", "Hand"), ("UpperLeg", "LowerLeg", "Foot", "Toes"))
_WANTED = frozenset({"UpperArm", "LowerArm", "Hand", "UpperLeg", "LowerLeg", "Foot"})
_MOST = 5
"""Candidates looked at for each bone of a limb: the best by name."""
FEW_NAMED = 4
"""Names that tell fewer bones than this, and no head, say nothing. Our choice."""
_ROOTS = frozenset({"root", "origin", "master", "armature"})


@dataclass(frozen=True)
class Reading:
    """An armature with what its names say; ``left`` (3,) points to the figure's left."""

    armature: Armature
    names: dict[str, Name]
    left: FloatArray
    size: float

    @cached_property
    def above(self) -> dict[str, tuple[str, ...]]:
        """Each bone's ancestors, the nearest first."""
        return {bone.name: self.armature.above(bone.name) for bone in self.armature.bones}

    @cached_property
    def middle(self) -> float:
        """Where the figure's middle is along ``left``: halfway between the sided bones."""
        sided = {side: self._mean(side) for side in (1, -1)}
        if sided[1] is None or sided[-1] is None:
            heads = np.array([bone.head for bone in self.armature.bones])
            return float(np.median(heads @ self.left))
        return float((sided[1] + sided[-1]) @ self.left / 2)

    def _mean(self, side: int) -> FloatArray | None:
        heads = [self.armature.by_name[name].head for name, said in self.names.items() if said.side == side and said.parts]
        return np.mean(heads, axis=0) if heads else None

    def lateral(self, name: str) -> float:
        """How far to the left of the middle a bone starts, as a share of the armature's size."""
        return float(self.armature.by_name[name].head @ self.left - self.middle) / self.size

    def side_of(self, name: str) -> int:
        """The side a bone is on: by its name unless its place says otherwise; by place without a name."""
        said, lateral = self.names[name].side, self.lateral(name)
        if said == 0:
            return 0 if abs(lateral) < 0.02 else int(np.sign(lateral))
        return 0 if said * lateral < -0.02 else said

    def score(self, name: str, part: str) -> float:
        said = self.names[name]
        score = said.parts.get(part, 0.0)
        if not score:
            return 0.0
        score -= 0.15 * min(said.strange, 4) + 0.03 * bool(said.numbers)
        score -= 0.2 * (not self.armature.by_name[name].deform)
        return max(score, 0.01)

    def ranked(self, part: str, side: int) -> list[str]:
        """The bones that may be ``part`` on ``side`` (0 the middle), best name first, then top down."""
        fit = [
            name for name, said in self.names.items()
            if part in said.parts and (said.side == 0 if side == 0 else self.side_of(name) == side)
        ]
        return sorted(fit, key=lambda name: (-self.score(name, part), len(self.above[name]), self.names[name].numbers, name))


def guess_humanoid(armature: Armature, up: tuple[float, float, float] = (0.0, 0.0, 1.0)) -> dict[str, str]:
    """The standard's bone names and this armature's bones that play them, as far as told.

    No bone is given twice. Bones that twist, steer or end a chain are never taken; bones that
    deform are preferred. Names decide first; hierarchy and rest place settle what names leave open, and
    all of it where names say nothing. Bones without a place are none.
    """
    armature = replace(armature, bones=tuple(bone for bone in armature.bones if bone.is_placed))
    if not armature.bones:
        return {}
    reading = _read(armature, np.asarray(up, float))
    found: dict[str, str] = {}
    for side, word in ((1, "left"), (-1, "right")):
        for limb in LIMBS:
            found |= {f"{word}{part}": name for part, name in _limb(reading, limb, side).items()}
    _trunk(reading, found)
    for side, word in ((1, "left"), (-1, "right")):
        free = _free(reading.ranked("Eye", side), found)
        below = [name for name in free if found.get("head") in reading.above[name]]
        if below:
            found[f"{word}Eye"] = below[0]
        chains = _fingers(reading, side, found.get(f"{word}Hand"), set(found.values()))
        found |= {f"{word}{part}": name for part, name in chains.items()}
    jaw = [name for name in _free(reading.ranked("jaw", 0), found) if found.get("head") in reading.above[name]]
    if jaw:
        found["jaw"] = jaw[0]
    if "head" not in found and len(found) < FEW_NAMED:
        return guess_by_build(armature, np.asarray(up, float)) or found
    return found


def _free(names: list[str], found: dict[str, str]) -> list[str]:
    return [name for name in names if name not in found.values()]


def _read(armature: Armature, up: FloatArray) -> Reading:
    common = common_words([bone.name for bone in armature.bones])
    names = {bone.name: read_name(bone.name, common) for bone in armature.bones}
    heads = np.array([bone.head for bone in armature.bones], float)
    size = float(np.ptp(heads, axis=0).max()) or 1.0
    return Reading(armature, names, _left(armature, names, up), size)


def _left(armature: Armature, names: dict[str, Name], up: FloatArray) -> FloatArray:
    """From right to left by the names' sides; else by the way the toes point; else +X."""
    sided: dict[int, list[FloatArray]] = {1: [], -1: []}
    toes: list[FloatArray] = []
    for bone in armature.bones:
        said = names[bone.name]
        if said.side and said.parts:
            sided[said.side].append(bone.head)
        foot = armature.by_name.get(bone.parent or "")
        if "Toes" in said.parts and foot is not None:
            toes.append(bone.head - foot.head)
    guesses = [np.array([1.0, 0.0, 0.0])]
    if toes:
        guesses.insert(0, np.cross(up, np.sum(toes, axis=0)))
    if sided[1] and sided[-1]:
        guesses.insert(0, np.mean(sided[1], axis=0) - np.mean(sided[-1], axis=0))
    for way in guesses:
        flat = way - up * float(way @ up)
        if np.linalg.norm(flat) > 1e-9:
            return np.asarray(flat / np.linalg.norm(flat), float)
    return guesses[-1]


def _limb(reading: Reading, parts: tuple[str, ...], side: int) -> dict[str, str]:
    """The best choice of one bone for each part, by names and by who hangs below whom."""
    options: list[list[str | None]] = [[*reading.ranked(part, side)[:_MOST], None] for part in parts]
    best: tuple[float, dict[str, str]] = (0.0, {})
    for choice in itertools.product(*options):
        taken = {part: name for part, name in zip(parts, choice, strict=True) if name is not None}
        if len(set(taken.values())) < len(taken):
            continue
        score = _limb_score(reading, taken)
        if score > best[0] + 1e-9:
            best = (score, taken)
    return best[1]


def _limb_score(reading: Reading, taken: dict[str, str]) -> float:
    score = sum(reading.score(name, part) + 0.6 * (part in _WANTED) for part, name in taken.items())
    for over, under in itertools.pairwise(taken.values()):
        if over in reading.above[under]:
            score += 0.5
        elif under in reading.above[over]:
            score -= 3.0
        else:
            score -= 0.2
    return score


def _fork(reading: Reading, names: list[str]) -> str | None:
    """The lowest bone above all of these."""
    chains = [reading.above[name] for name in names]
    return next((name for name in chains[0] if all(name in chain for chain in chains)), None) if chains else None


def _present(found: dict[str, str], *parts: str) -> list[str]:
    """For each side the first of the parts that is there."""
    chosen = [next((found[side + part] for part in parts if side + part in found), None) for side in ("left", "right")]
    return [name for name in chosen if name is not None]


def _trunk(reading: Reading, found: dict[str, str]) -> None:
    """Fill in hips, spine, chest, neck and head, from the fork of the legs to the head."""
    legs = _present(found, "UpperLeg", "LowerLeg", "Foot")
    arms = _present(found, "Shoulder", "UpperArm", "LowerArm")
    fork = _fork(reading, arms) if len(arms) == 2 else None
    heads, top = _free(reading.ranked("head", 0), found), _top(reading, arms)
    beside_arms = [name for name in heads if top in reading.above[name]]
    head = next(iter(beside_arms or heads), None)
    if head is None and fork is not None:
        head = _end_of_chain(reading, fork)
    if head is not None:
        found["head"] = head
    hips = _hips(reading, legs, head, arms, found)
    if hips is not None:
        found["hips"] = hips
    _between(reading, found, hips, head, fork)


def _top(reading: Reading, names: list[str]) -> str | None:
    """The bone on which the first of these hangs in the end; None without any."""
    return (reading.above[names[0]] or (names[0],))[-1] if names else None


def _end_of_chain(reading: Reading, start: str) -> str | None:
    """The last of the numbered middle bones above the arms: a head that is not called one."""
    current, steps = start, 0
    while steps < len(reading.names):
        after = [
            bone.name for bone in reading.armature.bones
            if bone.parent == current and reading.names[bone.name].side == 0
            and {"spine", "neck"} & set(reading.names[bone.name].parts)
        ]
        if not after:
            break
        current, steps = min(after, key=lambda name: reading.names[name].numbers), steps + 1
    return current if steps >= 2 else None


def _hips(
    reading: Reading, legs: list[str], head: str | None, arms: list[str], found: dict[str, str]
) -> str | None:
    """The bone called hips if the legs and the spine hang on it; else the one they fork from."""
    upper = [head] if head is not None else arms
    carried = [*legs, *upper]
    named = _free(reading.ranked("hips", 0), found)
    whole = [name for name in named if all(name in reading.above[one] for one in carried)]
    if len(legs) == 2 and upper:
        fork = _fork(reading, carried)
        if whole and (fork is None or reading.score(whole[0], "hips") > 0.7):
            return whole[0]
        if fork is not None and not _is_root(reading, fork):
            return fork
    return next(iter(whole or named), None)


def _is_root(reading: Reading, name: str) -> bool:
    """True for the bone a whole figure hangs on: named so, or the topmost and at the feet."""
    if set(pieces(name)) & _ROOTS:
        return True
    heads = [bone.head[2] for bone in reading.armature.bones]
    bone: Bone = reading.armature.by_name[name]
    return not reading.above[name] and float(bone.head[2]) < min(heads) + 0.1 * (max(heads) - min(heads))


def _between(
    reading: Reading, found: dict[str, str], hips: str | None, head: str | None, fork: str | None
) -> None:
    """Share out the bones from hips to head: spine, chest and upper chest up to the arms, neck above."""
    path: list[str] = []
    if head is not None:
        path = [name for name in reading.above[head][::-1] if name not in found.values() or name == hips]
    if hips in path:
        path = path[path.index(hips) + 1 :]
    path = [name for name in path if reading.names[name].parts and not _is_root(reading, name)]
    necks = [name for name in path if "neck" in reading.names[name].parts]
    if not necks and fork in path:
        necks = path[path.index(fork) + 1 :]
    if not path:
        necks = _free(reading.ranked("neck", 0), found)[:1]
        path = [name for part in ("spine", "chest", "upperChest") for name in _free(reading.ranked(part, 0), found)[:1]]
    if necks:
        found["neck"] = necks[0]
        path = path[: path.index(necks[0])] if necks[0] in path else path
    spines = [name for name in path if reading.names[name].side == 0 and {"spine", "chest", "upperChest"} & set(reading.names[name].parts)]
    found |= _share(spines or [name for name in path if "hips" in reading.names[name].parts])


def _share(bones: list[str]) -> dict[str, str]:
    """One bone is the spine, two are spine and chest; of more than three the first and the last two."""
    if len(bones) > 3:
        bones = [bones[0], *bones[-2:]]
    return dict(zip(("spine", "chest", "upperChest"), bones, strict=False))


def _fingers(reading: Reading, side: int, hand: str | None, used: set[str]) -> dict[str, str]:
    bones = [
        bone for bone in reading.armature.bones
        if reading.side_of(bone.name) == side and bone.name not in used
        and (hand is None or hand in reading.above[bone.name])
    ]
    return find_fingers(bones, reading.names, reading.above, hand)
