"""What is left out of the count by its name, joined to a line for each kind and word."""

from collections.abc import Iterable
from dataclasses import dataclass

import bpy

from ..core.figure import Worn
from ..core.proportion.parts import words
from ..core.proportion.parts.worn import own_words, told_left_out
from ..host.named import unique_name
from .language import tr, tr_names

PLURALS = {"object": "objects", "bone": "bones", "material": "materials", "vertex group": "vertex groups"}
MOST_NAMES = 4
"""Names told in a sentence; our choice."""


@dataclass(frozen=True)
class LeftOut:
    """Things of one ``kind`` (object, bone, material or vertex group) whose names say one word."""

    kind: str
    word: str
    names: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """What is left out and why, as a guess."""
        names = listed(self.names)
        if len(self.names) == 1:
            return f"The {self.kind} {names} is left out of the count: its name says '{self.word}'."
        return f"The {PLURALS[self.kind]} {names} are left out of the count: their names say '{self.word}'."


def listed(names: tuple[str, ...]) -> str:
    if len(names) > MOST_NAMES:
        return tr(f"{', '.join(names[: MOST_NAMES - 1])} and {len(names) - MOST_NAMES + 1} more")
    return tr_names(names)


def joined(rows: Iterable[tuple[str, str, str]]) -> tuple[LeftOut, ...]:
    """Rows of kind, name and word as one entry for each kind and word, in order, each name once."""
    found: dict[tuple[str, str], dict[str, None]] = {}
    for kind, name, word in rows:
        found.setdefault((kind, word), {})[name] = None
    return tuple(LeftOut(kind, word, tuple(names)) for (kind, word), names in found.items())


def told_apart(guesses: Iterable[str]) -> tuple[tuple[LeftOut, ...], tuple[str, ...]]:
    """A measuring's guesses: what is left out by name, joined, and all other sentences."""
    rows, others = [], []
    for sentence in guesses:
        told = told_left_out(sentence)
        if told is None:
            others.append(sentence)
        else:
            rows.append(told)
    return joined(rows), tuple(others)


def left_out_of(
    meshes: list[bpy.types.Object], rig: bpy.types.Object | None, worn: tuple[Worn, ...]
) -> tuple[LeftOut, ...]:
    """What names alone say is worn or grown; what the artist has said of is not among it."""
    said = {(one.kind, one.name) for one in worn}
    own = {
        "object": own_words("object", {item.name for item in meshes}),
        "material": own_words("material", {slot.material.name for item in meshes for slot in item.material_slots if slot.material is not None}),
        "bone": own_words("bone", set() if rig is None else {bone.name for bone in rig.data.bones}),
        "vertex group": own_words("vertex group", {group.name for item in meshes for group in item.vertex_groups}),
    }
    rows: list[tuple[str, str, str]] = []

    def add(kind: str, name: str, shown: str = "") -> bool:
        word, name = words.worn_word(name), shown or name
        if word is None or word in own[kind] or ({"vertex group": "group"}.get(kind, kind), name) in said:
            return False
        rows.append((kind, name, word))
        return True

    bones = {} if rig is None else _top_bones(rig, own["bone"])
    body = [item for item in meshes if not add("object", item.name, unique_name(item))]
    used = {group.name for item in body for group in item.vertex_groups}
    for name, below in bones.items():
        if used & below or any(item.parent_bone in below for item in body):
            add("bone", name)
    for item in body:
        for slot in item.material_slots:
            if slot.material is not None:
                add("material", slot.material.name)
    every = set() if rig is None else {bone.name for bone in rig.data.bones}
    for name in sorted(used - every):
        add("vertex group", name)
    return joined(rows)


def worn_below(rig: bpy.types.Object | None, names: list[str]) -> list[str]:
    """These bones and those below them whose names say that they are worn or grown."""
    found = dict.fromkeys(names)
    for name in names:
        bone = None if rig is None else rig.data.bones.get(name)
        below = [] if bone is None else bone.children_recursive
        found |= dict.fromkeys(one.name for one in below if words.worn_word(one.name))
    return list(found)


def _top_bones(rig: bpy.types.Object, own: frozenset[str]) -> dict[str, set[str]]:
    """Bones named like something worn, other than by the figure's ``own`` words, under none that is, each with all below it by name."""
    named = {bone.name for bone in rig.data.bones if (words.worn_word(bone.name) or "") not in own | {""}}
    return {
        bone.name: {bone.name, *(one.name for one in bone.children_recursive)}
        for bone in rig.data.bones
        if bone.name in named and not any(one.name in named for one in bone.parent_recursive)
    }
