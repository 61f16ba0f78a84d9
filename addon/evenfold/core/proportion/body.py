"""One cloud of points with what each belongs to: head, legs, or worn and left out."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..figure import Armature, Bone, Figure, FloatArray, IntArray, Part
from . import words

BoolArray = NDArray[np.bool_]
FEWEST = 8
"""Fewer points than this on the head's bone tell nothing of the head's shape."""
BEYOND = 1e12
"""Scene units from the origin at which nothing stands: a coordinate from there on is a fault. Our choice."""
Row = tuple[FloatArray, IntArray, FloatArray, FloatArray, FloatArray, BoolArray]
"""A part's points, triangles, shares of head, neck and leg, and what is worn."""


@dataclass(frozen=True)
class Body:
    """``points`` (n, 3) world; ``triangles`` (t, 3); the rest (n,) for each point.

    ``head``, ``neck`` and ``leg`` are shares from 0 to 1 of a point's weight.
    """

    points: FloatArray
    triangles: IntArray
    head: FloatArray
    neck: FloatArray
    leg: FloatArray
    worn: BoolArray
    head_how: str
    head_bone: str | None
    guesses: tuple[str, ...]


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
        found.append((not weighted, helper, not bone.deform, _depth(armature, bone.name), bone.name))
    return min(found)[-1] if found else None


def _is_placed(bone: Bone) -> bool:
    return bool(np.isfinite(bone.head).all() and np.isfinite(bone.tail).all())


def _depth(armature: Armature, name: str) -> int:
    depth, parent = 0, armature.by_name[name].parent
    while parent is not None and parent in armature.by_name and depth < len(armature.bones):
        depth, parent = depth + 1, armature.by_name[parent].parent
    return depth


def _carried_groups(part: Part) -> set[str]:
    used = np.unique(part.weights.group[part.weights.weight > 0])
    return {part.weights.names[group] for group in used}


def carrying_bones(figure: Figure) -> set[str]:
    """The bones that some point of the figure follows, or some object hangs on."""
    carrying: set[str] = set()
    for part in figure.parts:
        carrying |= _carried_groups(part)
        if part.bone_parent is not None:
            carrying.add(part.bone_parent)
    return carrying


def _common_words(figure: Figure) -> set[str]:
    """Words in every material's name: a prefix of the whole figure tells nothing apart."""
    names = {name for part in figure.parts for name in part.materials}
    shared = [set(words.tokens(name)) for name in names]
    return set.intersection(*shared) if len(shared) > 1 else set()


class _WornChoice:
    """Decides by the artist's word first and by names second, and keeps the sentences."""

    def __init__(self, figure: Figure) -> None:
        self.said = {(entry.kind, entry.name): entry.excluded for entry in figure.worn}
        self.sentences: dict[str, None] = {}
        self.common = _common_words(figure)

    def left_out(self, kind: str, name: str) -> str | None:
        """The reason why the thing is left out, "artist" or a word; None if it stays."""
        said = self.said.get((kind, name))
        if said is not None:
            return "artist" if said else None
        word = words.worn_word(name)
        return None if kind == "material" and word in self.common else word

    def say(self, kind: str, name: str, reason: str) -> None:
        if reason != "artist":
            label = {"group": "vertex group"}.get(kind, kind)
            self.sentences[
                f"The {label} '{name}' is left out of the body because its name says '{reason}'."
            ] = None


def worn_bones(armature: Armature | None, choice: _WornChoice) -> dict[str, tuple[str, str]]:
    """Each left-out bone with the bone that decided it and the reason."""
    decided: dict[str, tuple[str, str]] = {}
    if armature is None:
        return decided
    for bone in sorted(armature.bones, key=lambda entry: _depth(armature, entry.name)):
        if choice.said.get(("bone", bone.name)) is False:
            continue
        reason = choice.left_out("bone", bone.name)
        if bone.parent in decided and reason != "artist":
            decided[bone.name] = decided[bone.parent]
        elif reason is not None:
            decided[bone.name] = (bone.name, reason)
    return decided


def _leg_bones(figure: Figure) -> frozenset[str]:
    named = {name for key, name in figure.humanoid.items() if key.lower().endswith(("leg", "foot", "toes"))}
    if figure.armature is None:
        return frozenset(named)
    for bone in figure.armature.bones:
        if words.has_word(bone.name, words.LEG, words.LEG_SIGNS):
            named |= figure.armature.below(bone.name)
    return frozenset(named)


def _share(part: Part, names: set[str] | frozenset[str], total: FloatArray) -> FloatArray:
    if part.bone_parent is not None and not len(part.weights.vertex):
        return np.full(len(part.points), float(part.bone_parent in names))
    return part.weights.of_groups(names, len(part.points)) / np.maximum(total, 1e-12)


def _worn_of_part(
    part: Part, choice: _WornChoice, bones: dict[str, tuple[str, str]], total: FloatArray
) -> BoolArray:
    count = len(part.points)
    said = choice.said.get(("object", part.name))
    reason = choice.left_out("object", part.name)
    if reason is not None:
        choice.say("object", part.name, reason)
        return np.ones(count, bool)
    if said is False:
        return np.zeros(count, bool)
    worn = np.zeros(count, bool)
    if part.bone_parent in bones:
        choice.say("bone", *bones[part.bone_parent])
        return np.ones(count, bool)
    for index, name in enumerate(part.materials):
        reason = choice.left_out("material", name)
        rows = part.triangle_material == index
        if reason is None or not len(part.triangle_material) or not rows.any():
            continue
        kept = np.zeros(count, bool)
        kept[part.triangles[~rows].ravel()] = True
        mine = np.zeros(count, bool)
        mine[part.triangles[rows].ravel()] = True
        worn |= mine & ~kept
        choice.say("material", name, reason)
    names = {name for name in part.weights.names if name in bones}
    for name in part.weights.names:
        reason = choice.left_out("group", name)
        if name not in bones and reason is not None and ("bone", name) not in choice.said:
            worn |= part.weights.of_groups({name}, count) > 0.5
            choice.say("group", name, reason)
    carried = _share(part, names, total) if names else np.zeros(count)
    if carried.max(initial=0.0) > 0.3:
        worn |= carried > 0.3
        for name in sorted(names & _carried_groups(part)):
            choice.say("bone", *bones[name])
    return worn


def gather(figure: Figure) -> Body:
    """Put the figure's parts together; worn parts are marked, nothing is dropped."""
    choice = _WornChoice(figure)
    bones = worn_bones(figure.armature, choice)
    head_bone = find_head_bone(figure)
    bone_names = set(figure.armature.by_name) if figure.armature else None
    head_names: frozenset[str] = frozenset()
    if head_bone is not None and figure.armature is not None:
        head_names = figure.armature.below(head_bone)
    legs = _leg_bones(figure)
    rows: list[Row] = []
    start = 0
    how = "none"
    for part in figure.parts:
        groups = bone_names if bone_names is not None else set(part.weights.names)
        total = part.weights.of_groups(groups, len(part.points))
        names = head_names or frozenset(
            name for name in part.weights.names if bone_names is None and words.has_word(name, words.HEAD, words.HEAD_SIGNS)
        )
        head = _share(part, names, total)
        if head.max(initial=0.0) > 0.5:
            how = "weights"
        neck_names = {name for name in part.weights.names if "neck" in words.tokens(name) or "首" in name}
        neck = _share(part, neck_names, total)
        leg_names = legs or {name for name in part.weights.names if words.has_word(name, words.LEG, words.LEG_SIGNS)}
        worn = _worn_of_part(part, choice, bones, total)
        rows.append((part.points, part.triangles + start, head, neck, _share(part, leg_names, total), worn))
        start += len(part.points)
    if how == "none":
        rows, how = _head_by_object(figure, rows)
    if not rows:
        empty = np.zeros(0)
        return Body(np.zeros((0, 3)), np.zeros((0, 3), np.int64), empty, empty, empty, np.zeros(0, bool), how, head_bone, ())
    points, triangles, head, neck, leg, worn = (np.concatenate(column) for column in zip(*rows, strict=True))
    points, triangles, worn, lost = _without_lost(points.astype(float), triangles, worn)
    head, neck, leg = (np.nan_to_num(share, posinf=0.0, neginf=0.0) for share in (head, neck, leg))
    worn, sentences = _keep_a_head(head, leg, worn, choice)
    sentences = (*sentences, *lost)
    mine = points[(head > 0.5) & ~worn]
    if len(mine) < FEWEST:
        how = "none"
    return Body(points, triangles, head, neck, leg, worn, how, head_bone, sentences)


def _without_lost(
    points: FloatArray, triangles: IntArray, worn: BoolArray
) -> tuple[FloatArray, IntArray, BoolArray, tuple[str, ...]]:
    """Points without a place are put amid the others and left out, with the triangles they bound."""
    whole = (np.abs(points) < BEYOND).all(axis=1)
    if whole.all():
        return points, triangles, worn, ()
    middle = np.median(points[whole], axis=0) if whole.any() else np.zeros(3)
    sentence = f"{int((~whole).sum())} points have no place (their coordinates are no numbers, or far too large) and are left out; clean up the mesh."
    return np.where(whole[:, None], points, middle), triangles[whole[triangles].all(axis=1)], worn | ~whole, (sentence,)


def _head_by_object(figure: Figure, rows: list[Row]) -> tuple[list[Row], str]:
    """Without weights an object called head is taken for it."""
    found = False
    for index, part in enumerate(figure.parts):
        if words.has_word(part.name, words.HEAD, words.HEAD_SIGNS) and not rows[index][5].all():
            points, triangles, _, neck, leg, worn = rows[index]
            rows[index] = (points, triangles, np.ones(len(part.points)), neck, leg, worn)
            found = True
    return rows, "object" if found else "none"


def _keep_a_head(head: FloatArray, leg: FloatArray, worn: BoolArray, choice: _WornChoice) -> tuple[BoolArray, tuple[str, ...]]:
    mine = head > 0.5
    if mine.any() and not (mine & ~worn).any():
        sentence = "Leaving out what the names call worn would leave nothing of the head, so it was kept; say what is worn."
        return worn & ~mine & (leg <= 0.5), (*choice.sentences, sentence)
    return worn, tuple(choice.sentences)
