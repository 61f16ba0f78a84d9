"""Bones known by their names: the head's, the legs', the jaw's, and those that carry something."""

import numpy as np

from ..figure import Armature, Bone, Figure, Part
from . import words


def find_head_bone(figure: Figure) -> str | None:
    """The head bone: named by the artist, by the avatar standard, or by its name."""
    armature = figure.armature
    if armature is None:
        return None
    for name in (figure.head_bone, figure.humanoid.get("head")):
        if name is not None and name in armature.by_name and _is_placed(armature.by_name[name]):
            return name
    carrying = carrying_bones(figure)
    found: list[tuple[bool, bool, bool, int, str]] = []
    for bone in armature.bones:
        if words.has_word(bone.name, words.HEAD, words.HEAD_SIGNS) is None or words.worn_word(bone.name):
            continue
        if not _is_placed(bone):
            continue
        helper = bool(set(words.tokens(bone.name)) & words.HELPER)
        weighted = bool(armature.below(bone.name) & carrying)
        found.append((not weighted, helper, not bone.deform, depth_of(armature, bone.name), bone.name))
    return min(found)[-1] if found else None


def _is_placed(bone: Bone) -> bool:
    return bool(np.isfinite(bone.head).all() and np.isfinite(bone.tail).all())


def depth_of(armature: Armature, name: str) -> int:
    """How many bones stand above the bone ``name``."""
    depth, parent = 0, armature.by_name[name].parent
    while parent is not None and parent in armature.by_name and depth < len(armature.bones):
        depth, parent = depth + 1, armature.by_name[parent].parent
    return depth


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


def jaw_bones(figure: Figure, head_bone: str | None) -> frozenset[str]:
    """The bones under the head bone that move the lower jaw, by the avatar standard or by name."""
    armature = figure.armature
    if armature is None or head_bone is None:
        return frozenset()
    below = armature.below(head_bone) - {head_bone}
    named = {name for name in below if words.has_word(name, words.JAW, words.JAW_SIGNS) is not None and not words.side_of(name)}
    return frozenset(named | ({figure.humanoid.get("jaw", "")} & below))
