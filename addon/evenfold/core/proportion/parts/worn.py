"""What is worn or grown on a figure and left out: by the artist's word, by names, by the bones that carry it.

Weights by distance let the bones of hair and ears carry the skin next to them too. So where such a
bone has hair or ears of its own, the skin that it pulls along is not taken for them.
"""

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...figure import Armature, Figure, FloatArray, IntArray, Part
from ...name_words import words_of
from . import words
from .named_bones import MAINLY, carried_groups, depth_of

BoolArray = NDArray[np.bool_]
Decided = dict[str, tuple[str, str]]
"""Each left-out bone with the bone that decided it and the reason."""
BESIDE = frozenset({"ear", "ears", "horn", "horns", "antenna", "antennae", "antennas", "earring", "earrings", "耳", "角"})
"""What stands beside the top of a head: skin between two of them is the skull's, no hair."""
CARRIED = 0.3
"""A point follows what is left out from this share of its weight on. Our choice."""
OWN = 0.5
"""A piece is a bone's own hair where its points follow such bones by more than this on average. Our choice."""
ALL_HEAD = 0.9
"""Skin that follows the head by less than this on average is the body's. Our choice."""


def left_out_sentence(label: str, name: str, reason: str) -> str:
    """That a thing (object, bone, material or vertex group) is left out for the word ``reason`` in its name."""
    return f"The {label} '{name}' is left out of the body because its name says '{reason}'."


_SENTENCE = re.compile(re.escape(left_out_sentence("\0", "\0", "\0")).replace("\0", "(.+)"))


def told_left_out(sentence: str) -> tuple[str, str, str] | None:
    """What ``left_out_sentence`` was made from; None for any other sentence."""
    found = _SENTENCE.fullmatch(sentence)
    return None if found is None else (found[1], found[2], found[3])


def _common_words(figure: Figure) -> dict[str, frozenset[str]]:
    """Words in the name of every object, material, bone or group: the figure's own name tells nothing apart.

    A thing that is called by such a word alone is what it says.
    """
    bones = figure.armature.bones if figure.armature is not None else ()
    names = {
        "object": {part.name for part in figure.parts},
        "material": {name for part in figure.parts for name in part.materials},
        "bone": {bone.name for bone in bones},
        "group": {name for part in figure.parts for name in part.weights.names},
    }
    return {kind: own_words(kind, own) for kind, own in names.items()}


def own_words(kind: str, names: set[str]) -> frozenset[str]:
    """Words in the names of all things of one ``kind``; a sole object is the figure, a sole bone or material is not."""
    found = [frozenset(words_of(name)) for name in names]
    if len(found) < (1 if kind == "object" else 2) or any(len(one) < 2 for one in found):
        return frozenset()
    return frozenset.intersection(*found)


class WornChoice:
    """Decides by the artist's word first and by names second, and keeps the sentences."""

    def __init__(self, figure: Figure) -> None:
        self.said = {(entry.kind, entry.name): entry.excluded for entry in figure.worn}
        self.sentences: dict[str, None] = {}
        self.common = _common_words(figure)
        self.bones = frozenset(figure.armature.by_name) if figure.armature is not None else frozenset()

    def left_out(self, kind: str, name: str) -> str | None:
        """The reason why the thing is left out, "artist" or a word; None if it stays.

        A group that bears a bone's name is judged by the words of bones.
        """
        said = self.said.get((kind, name))
        if said is not None:
            return "artist" if said else None
        word = words.worn_word(name)
        if kind == "group" and name in self.bones:
            kind = "bone"
        return None if word in self.common.get(kind, ()) else word

    def say(self, kind: str, name: str, reason: str) -> None:
        if reason != "artist":
            self.sentences[left_out_sentence({"group": "vertex group"}.get(kind, kind), name, reason)] = None


def worn_bones(armature: Armature | None, choice: WornChoice) -> Decided:
    """Each left-out bone with the bone that decided it and the reason."""
    decided: Decided = {}
    if armature is None:
        return decided
    for bone in sorted(armature.bones, key=lambda entry: depth_of(armature, entry.name)):
        if choice.said.get(("bone", bone.name)) is False:
            continue
        reason = choice.left_out("bone", bone.name)
        if bone.parent in decided and reason != "artist":
            decided[bone.name] = decided[bone.parent]
        elif reason is not None:
            decided[bone.name] = (bone.name, reason)
    return decided


@dataclass(frozen=True)
class WornPart:
    """Of one part's points (n,): what is ``named`` worn, the share ``carried`` by left-out bones, where that
    is more than CARRIED, ``hung``, and by ears and horns alone, ``beside``. ``bones`` are those bones."""

    named: BoolArray
    carried: FloatArray
    hung: BoolArray
    beside: BoolArray
    bones: tuple[str, ...] = ()


def worn_of_part(part: Part, choice: WornChoice, bones: Decided, total: FloatArray) -> WornPart:
    """What of a part is left out, as far as its own names and weights tell; ``total`` (n,) of all weights."""
    count = len(part.points)
    none, nothing = np.zeros(count, bool), np.zeros(count)
    reason = choice.left_out("object", part.name)
    if reason is not None:
        choice.say("object", part.name, reason)
        return WornPart(~none, _carried(part, bones, total), none, none, _carriers(part, bones))
    if choice.said.get(("object", part.name)) is False:
        return WornPart(none, nothing, none, none)
    if part.bone_parent in bones:
        choice.say("bone", *bones[part.bone_parent])
        return WornPart(~none, nothing, none, none)
    named = _by_material(part, choice)
    for name in part.weights.names:
        reason = choice.left_out("group", name)
        if name not in bones and reason is not None and ("bone", name) not in choice.said:
            named |= part.weights.of_groups({name}, count) > MAINLY
            choice.say("group", name, reason)
    carried = _carried(part, bones, total)
    hung, cover = carried > CARRIED, {name: why for name, why in bones.items() if why[1] not in BESIDE}
    beside = hung & (_carried(part, cover, total) <= CARRIED) if cover != bones else none
    return WornPart(named, carried, hung, beside, _carriers(part, bones))


def _carriers(part: Part, bones: Decided) -> tuple[str, ...]:
    return tuple(sorted(carried_groups(part) & set(bones)))


def _carried(part: Part, bones: Decided, total: FloatArray) -> FloatArray:
    names = {name for name in part.weights.names if name in bones}
    return part.weights.of_groups(names, len(part.points)) / np.maximum(total, 1e-12) if names else np.zeros(len(part.points))


def _by_material(part: Part, choice: WornChoice) -> BoolArray:
    worn = np.zeros(len(part.points), bool)
    for index, name in enumerate(part.materials):
        reason = choice.left_out("material", name)
        rows = part.triangle_material == index
        if reason is None or not len(part.triangle_material) or not rows.any():
            continue
        kept, mine = np.zeros(len(worn), bool), np.zeros(len(worn), bool)
        kept[part.triangles[~rows].ravel()] = True
        mine[part.triangles[rows].ravel()] = True
        worn |= mine & ~kept
        choice.say("material", name, reason)
    return worn


def settle(
    parts: tuple[Part, ...], found: list[WornPart], bones: Decided, piece: IntArray, head: FloatArray, choice: WornChoice
) -> tuple[BoolArray, BoolArray]:
    """(n,) what is left out, and what of it may be the head's skin pulled along by hair with pieces of its own.

    ``piece`` (n,) is each point's piece, ``head`` (n,) its share of the head.
    """
    named = np.concatenate([one.named for one in found])
    carried = np.concatenate([one.carried for one in found])
    hung = np.concatenate([one.hung for one in found])
    count = np.maximum(np.bincount(piece), 1)
    is_own = (np.bincount(piece, carried) / count > OWN) | (np.bincount(piece, named) / count > OWN)
    owners = _owners(parts, found, bones, piece, is_own, choice)
    pulled = np.concatenate([_pulled(part, one, bones, owners) for part, one in zip(parts, found, strict=True)])
    pulled &= ~named & ~is_own[piece]
    of_head = np.bincount(piece, np.minimum(head, 1.0)) / count > ALL_HEAD
    worn = named | (hung & ~(pulled & ~of_head[piece]))
    for one in found:
        if one.hung.any():
            for name in one.bones:
                choice.say("bone", *bones[name])
    return worn, worn & pulled


def _owners(
    parts: tuple[Part, ...], found: list[WornPart], bones: Decided, piece: IntArray, is_own: BoolArray, choice: WornChoice
) -> set[str]:
    """The deciding bones that carry a piece of their own; what the artist named is never doubted."""
    owners: set[str] = set()
    start = 0
    for part, one in zip(parts, found, strict=True):
        mine = is_own[piece[start : start + len(part.points)]]
        start += len(part.points)
        if part.bone_parent in bones and one.named.all():
            owners.add(bones[part.bone_parent][0])
        if not one.bones or not mine.any():
            continue
        rows = mine[part.weights.vertex] & (part.weights.weight > CARRIED)
        owners |= {bones[part.weights.names[group]][0] for group in np.unique(part.weights.group[rows]) if part.weights.names[group] in bones}
    return {name for name in owners if choice.said.get(("bone", name)) is None}


def _pulled(part: Part, one: WornPart, bones: Decided, owners: set[str]) -> BoolArray:
    """(n,) what follows left-out bones only because these carry a piece of their own elsewhere."""
    others = {name for name in one.bones if bones[name][0] not in owners}
    if not one.bones or len(others) == len(one.bones):
        return np.zeros(len(part.points), bool)
    rest = part.weights.of_groups(others, len(part.points)) if others else np.zeros(len(part.points))
    return one.hung & (rest <= CARRIED)
