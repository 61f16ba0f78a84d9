"""Bones known by their names: the head's, the legs', the jaw's, and those that carry something."""

import numpy as np

from ...figure import Armature, Figure, Part
from ...name_words import words_of
from . import words

MAINLY = 0.5
"""A point follows a bone, or several together, that have more than this share of its weight."""
FACE_BONES = 3
"""Fewer bones of eyes, lids, lips and jaw under one bone do not make it the head's. Our choice."""
TOP, TALLER = 0.1, 0.1
"""What follows a neck that carries the head reaches so near the top and is taller than this, in heights. Our choice."""


def find_head_bone(figure: Figure) -> str | None:
    """The head bone: named by the artist, by the avatar standard where it carries something, or by its name.

    Where none has such a name: the bone under which eyes, lids, lips and jaw hang, or the last bone of the
    neck if a head follows it, as in a rig without a head bone of its own.
    """
    armature = figure.armature
    if armature is None:
        return None
    carrying = carrying_bones(figure)
    said, mapped = (_placed(armature, name) for name in (figure.head_bone, figure.humanoid.get("head")))
    if said is not None or (mapped is not None and armature.below(mapped) & carrying):
        return said or mapped
    found: list[tuple[bool, bool, bool, int, str]] = []
    for bone in armature.bones:
        if words.has_word(bone.name, words.HEAD, words.HEAD_SIGNS) is None or words.worn_word(bone.name):
            continue
        if not bone.is_placed:
            continue
        helper = bool(set(words_of(bone.name)) & words.HELPER)
        weighted = bool(armature.below(bone.name) & carrying)
        found.append((not weighted, helper, not bone.deform, depth_of(armature, bone.name), bone.name))
    if found and not (mapped is not None and min(found)[0]):
        return min(found)[-1]
    return mapped or _over_the_face(armature, carrying) or _neck_that_carries_a_head(figure, armature, carrying)


def _over_the_face(armature: Armature, carrying: set[str]) -> str | None:
    """The bone with the most bones of a face right under it, at least FACE_BONES of two kinds."""
    kinds: dict[str, set[str]] = {}
    count: dict[str, int] = {}
    for bone in armature.bones:
        kind = words.has_word(bone.name, words.JAW | words.FACE_DETAIL | words.FACE_PARTS, (*words.JAW_SIGNS, *words.FACE_DETAIL_SIGNS))
        over = armature.by_name.get(bone.parent or "")
        if kind is not None and bone.parent is not None and over is not None and over.is_placed and bone.name in carrying:
            kinds.setdefault(bone.parent, set()).add(kind)
            count[bone.parent] = count.get(bone.parent, 0) + 1
    likely = [(count[name], name) for name in kinds if len(kinds[name]) > 1 and count[name] >= FACE_BONES]
    return max(likely)[1] if likely else None


def _neck_that_carries_a_head(figure: Figure, armature: Armature, carrying: set[str]) -> str | None:
    """The last bone of the neck, where what follows it is higher than a neck and reaches to the figure's top."""
    necks = [bone.name for bone in armature.bones if bone.name in carrying and words.has_word(bone.name, words.NECK, words.NECK_SIGNS)]
    last = [name for name in necks if not (armature.below(name) - {name}) & set(necks)]
    if len(last) != 1 or not armature.by_name[last[0]].is_placed:
        return None
    own, every = [], []
    for part in figure.parts:
        height = part.points @ np.asarray(figure.up, float)
        total = part.weights.of_groups(set(armature.by_name), len(part.points))
        every.append(height[total > 0])
        own.append(height[part.weights.of_groups(armature.below(last[0]), len(part.points)) > MAINLY * np.maximum(total, 1e-9)])
    follows, height = np.concatenate(own), np.concatenate(every)
    if not len(follows) or not np.isfinite(height).all():
        return None
    size = float(np.ptp(height))
    return last[0] if follows.max() > height.max() - TOP * size and np.ptp(follows) > TALLER * size else None


def _placed(armature: Armature, name: str | None) -> str | None:
    """``name`` if it is that of a bone with a place, else None."""
    bone = armature.by_name.get(name or "")
    return name if bone is not None and bone.is_placed else None


def depth_of(armature: Armature, name: str) -> int:
    """How many bones stand above the bone ``name``."""
    return len(armature.above(name))


def carried_groups(part: Part) -> set[str]:
    """The groups of a part in which some point has a weight."""
    used = np.unique(part.weights.group[part.weights.weight > 0])
    return {part.weights.names[group] for group in used}


def carrying_bones(figure: Figure) -> set[str]:
    """The bones that some point of the figure follows, or some object hangs on."""
    carrying: set[str] = set()
    for part in figure.parts:
        carrying |= carried_groups(part)
        if part.bone_parent is not None:
            carrying.add(part.bone_parent)
    return carrying


def leg_bones(figure: Figure) -> frozenset[str]:
    """The bones of legs and feet, with all below them."""
    named = {name for key, name in figure.humanoid.items() if key.lower().endswith(("leg", "foot", "toes"))}
    if figure.armature is None:
        return frozenset(named)
    for bone in figure.armature.bones:
        if words.has_word(bone.name, words.LEG, words.LEG_SIGNS):
            named |= figure.armature.below(bone.name)
    return frozenset(named)


def end_of_legs(figure: Figure) -> float | None:
    """The height to which the bones of legs and feet reach down; None where there are none with a place."""
    if figure.armature is None:
        return None
    bones = [figure.armature.by_name[name] for name in leg_bones(figure) if name in figure.armature.by_name]
    ends = [end for bone in bones if bone.is_placed for end in (bone.head, bone.tail)]
    return float((np.array(ends) @ np.asarray(figure.up, float)).min()) if ends else None


def jaw_bones(figure: Figure, head_bone: str | None) -> frozenset[str]:
    """The bones under the head bone that move the lower jaw, by the avatar standard or by name."""
    armature = figure.armature
    if armature is None or head_bone is None:
        return frozenset()
    below = armature.below(head_bone) - {head_bone}
    named = {name for name in below if words.has_word(name, words.JAW, words.JAW_SIGNS) is not None and not words.side_of(name)}
    return frozenset(named | ({figure.humanoid.get("jaw", "")} & below))
