"""Left and right of a figure by the sides in its bones' names."""

import re

import numpy as np

from ...figure import Figure, FloatArray
from ...name_words import words_of
from ..parts import words
from .frame import flat, unit, up_of

EXCHANGED = 0.7
"""The names call left what is right where they point to the other side by more than this, of a unit length. Our choice."""
SHORT = 0.02
"""Bones closer to each other than this share of the furthest apart tell no way. Our choice."""
ROUNDS, NEAREST = 30, 1e-4
"""The way most agree on is neared in so many rounds; none counts more for being nearer to it than the second."""
SIDES = words.LEFT | words.RIGHT
_DIGITS = re.compile(r"\d+")


def _bones_by_side(figure: Figure) -> list[dict[int, FloatArray]]:
    """The heads (3,) of bones that are called alike but for their side, by side."""
    if figure.armature is None:
        return []
    heads: dict[tuple[str, ...], dict[int, FloatArray]] = {}
    names = dict(figure.humanoid)
    known = [(key, figure.armature.by_name[name]) for key, name in names.items() if name in figure.armature.by_name]
    known += [(bone.name, bone) for bone in figure.armature.bones]
    for name, bone in known:
        side = words.side_of(name)
        if side and not set(words_of(name)) & words.HELPER and np.isfinite(bone.head).all():
            key = tuple(token for token in words_of(name.replace("左", " ").replace("右", " ")) if token not in SIDES)
            heads.setdefault((*key, *_DIGITS.findall(name)), {})[side] = bone.head
    return list(heads.values())


def left_by_names(figure: Figure, up: FloatArray) -> FloatArray | None:
    """(3,) the unit level way from the right to the left by the sides in the bones' names; None without sides."""
    heads = _bones_by_side(figure)
    ways = [flat(pair[1] - pair[-1], up) for pair in heads if len(pair) == 2]
    if ways:
        return _middle_way(np.array(ways))
    both = [[pair[side] for pair in heads if side in pair] for side in (1, -1)]
    return unit(flat(np.mean(both[0], axis=0) - np.mean(both[1], axis=0), up)) if both[0] and both[1] else None


def sides_are_exchanged(figure: Figure, forward: FloatArray) -> bool:
    """True where the bones' names call left what is right of the way the figure faces."""
    up = up_of(figure)
    left = left_by_names(figure, up)
    return left is not None and bool(left @ np.cross(up, forward) < -EXCHANGED)


def middle_between_bones(figure: Figure, way: FloatArray) -> FloatArray | None:
    """(3,) a point in the middle of most pairs of bones along ``way``; None without pairs."""
    middles = np.array([(pair[1] + pair[-1]) / 2 for pair in _bones_by_side(figure) if len(pair) == 2])
    if not len(middles):
        return None
    point = middles.mean(axis=0)
    return np.asarray(point + (np.median(middles @ way) - point @ way) * way, float)


def _middle_way(ways: FloatArray) -> FloatArray | None:
    """The unit direction most of the ways (k, 3) agree on, so that one lifted foot does not turn it."""
    length = np.linalg.norm(ways, axis=1)
    ways = ways[length > SHORT * length.max(initial=0.0)]
    if not len(ways):
        return None
    units = ways / np.linalg.norm(ways, axis=1)[:, None]
    found = unit(np.asarray(ways.sum(axis=0), float))
    for _ in range(ROUNDS):
        if found is None:
            return None
        pull = 1 / np.maximum(np.linalg.norm(units - found, axis=1), NEAREST)
        found = unit(np.asarray((units * pull[:, None]).sum(axis=0), float))
    return found
