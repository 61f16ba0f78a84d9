"""The trade's 52 face-tracking shapes, by name.

Names: MediaPipe, face_blendshapes_graph.cc (51 of them), and Apple's list of blend shape
locations.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

from .sides import Pairs, pairs

CENTRAL = (
    "browInnerUp", "cheekPuff", "jawForward", "jawOpen", "mouthClose", "mouthFunnel",
    "mouthPucker", "mouthRollLower", "mouthRollUpper", "mouthShrugLower", "mouthShrugUpper",
    "tongueOut",
)
DIRECTIONAL = ("jaw", "mouth")
"""Pairs that move both halves sideways; each is the mirror image of the other."""

ONE_SIDED = (
    "browDown", "browOuterUp", "cheekSquint", "eyeBlink", "eyeLookDown", "eyeLookIn", "eyeLookOut",
    "eyeLookUp", "eyeSquint", "eyeWide", "mouthDimple", "mouthFrown", "mouthLowerDown",
    "mouthPress", "mouthSmile", "mouthStretch", "mouthUpperUp", "noseSneer",
)
PAIRED = tuple(sorted(DIRECTIONAL + ONE_SIDED))
SHAPES = CENTRAL + tuple(stem + side for stem in PAIRED for side in ("Left", "Right"))

ENOUGH = 10
"""From so many of the 52 names on, a figure is taken to be meant for face tracking. Our choice."""

CAMEL, CAPITAL, SHORT = "camel", "capital", "short"
STYLES = (CAMEL, CAPITAL, SHORT)
"""eyeBlinkLeft, EyeBlinkLeft and eyeBlink_L; the last keeps jawLeft and mouthLeft long."""

_REACH = 2


@dataclass(frozen=True)
class Coverage:
    """``present`` and ``missing`` are among the 52, in the spelling CAMEL; ``style`` is the figure's.

    ``misspelt`` holds each near miss with the name it should have, in that style.
    """

    present: tuple[str, ...]
    missing: tuple[str, ...]
    style: str
    misspelt: tuple[tuple[str, str], ...]


def spelt(shape: str, style: str) -> str:
    """One of the 52 in another spelling."""
    if style == CAPITAL:
        return shape[0].upper() + shape[1:]
    for side in ("Left", "Right"):
        stem = shape.removesuffix(side)
        if style == SHORT and stem != shape and stem not in DIRECTIONAL:
            return f"{stem}_{side[0]}"
    return shape


@lru_cache(maxsize=1)
def _exact() -> dict[str, str]:
    return {spelt(shape, style): shape for style in reversed(STYLES) for shape in SHAPES}


@lru_cache(maxsize=1)
def _loose() -> dict[str, str]:
    return {_plain(name): shape for name, shape in _exact().items()}


def shape_of(name: str) -> str | None:
    """Which of the 52 an exactly spelt name is, in any of the three spellings."""
    return _exact().get(name)


def likely_shape_of(name: str) -> str | None:
    """As ``shape_of``, whatever the letters' size and separators, and with a dotted prefix."""
    return shape_of(name) or _loose().get(_plain(name)) or _loose().get(_plain(name.rsplit(".", 1)[-1]))


def one_sided(name: str) -> bool | None:
    """True for a shape that stays on its half, False for one that moves both; None if unknown."""
    shape = likely_shape_of(name)
    if shape is not None and shape not in CENTRAL:
        return re.sub(r"(Left|Right)$", "", shape) not in DIRECTIONAL
    plain = _plain(name)
    if plain in ("blinkleft", "blinkright", "blinkl", "blinkr"):
        return True
    return False if plain in ("lookleft", "lookright") else None


def coverage(names: Iterable[str]) -> Coverage | None:
    """How many of the 52 there are among a figure's keys; None below ``ENOUGH`` of them.

    A name in another spelling than most is a near miss, as is one that is two letters off.
    """
    listed = list(dict.fromkeys(names))
    style = _style(listed)
    meant = {name: likely_shape_of(name) for name in listed}
    if len(set(meant.values()) - {None}) < ENOUGH:
        return None
    present = {shape for shape in SHAPES if spelt(shape, style) in meant}
    misspelt: dict[str, str] = {}
    for name in listed:
        free = [one for one in SHAPES if one not in present and one not in misspelt.values()]
        shape = meant[name] or _nearest(name, free)
        if shape in free:
            misspelt[name] = shape
    seen = present | set(misspelt.values())
    return Coverage(
        tuple(one for one in SHAPES if one in present),
        tuple(one for one in SHAPES if one not in seen),
        style,
        tuple((name, spelt(shape, style)) for name, shape in misspelt.items()),
    )


def key_pairs(names: Iterable[str]) -> Pairs:
    """Left and right keys by their names, then those that are one shape's two sides, however spelt."""
    listed = list(names)
    found = pairs(listed)
    shapes: dict[str, list[str]] = {}
    for name in listed:
        shape = likely_shape_of(name)
        if shape is not None and name not in found.partner:
            shapes.setdefault(shape, []).append(name)
    more = [
        (shapes[f"{stem}Left"][0], shapes[f"{stem}Right"][0])
        for stem in PAIRED
        if len(shapes.get(f"{stem}Left", ())) == len(shapes.get(f"{stem}Right", ())) == 1
    ]
    known = {name for both in more for name in both}
    return replace(
        found, left=(*found.left, *(one for one, _ in more)),
        right=(*found.right, *(other for _, other in more)),
        singles=tuple(name for name in found.singles if name not in known),
    )


def other_spelling(name: str, names: Iterable[str]) -> str | None:
    """Which of ``names`` is the shape that ``name`` is, or is nearly, spelt otherwise; None if none."""
    listed = list(names)
    shape, found = likely_shape_of(name), coverage(listed)
    near = {key: likely_shape_of(wanted) for key, wanted in found.misspelt} if found else {}
    for one in listed:
        if shape is not None and one != name and shape in (likely_shape_of(one), near.get(one)):
            return one
    return None


def _style(names: list[str]) -> str:
    """The spelling that most of the names are in; the first of ``STYLES`` where that is a tie."""
    known = set(names)
    votes = {style: sum(spelt(shape, style) in known for shape in SHAPES) for style in STYLES}
    return max(STYLES, key=lambda style: votes[style])


def _plain(name: str) -> str:
    """Small letters and digits only, a final l or r spelt out after a separator."""
    spelt_out = re.sub(r"[._\- ]([lL])$", "left", re.sub(r"[._\- ]([rR])$", "right", name))
    return re.sub(r"[^a-z0-9]", "", spelt_out.lower())


def _nearest(name: str, shapes: list[str]) -> str | None:
    """The one of ``shapes`` that a name is at most two letters off; None if several are."""
    if len(name) < 6:
        return None
    close = [shape for shape in shapes if _apart(_plain(name), _plain(shape)) <= _REACH]
    return close[0] if len(close) == 1 else None


def _apart(one: str, other: str) -> int:
    """Letters to add, drop or change (Levenshtein); more than ``_REACH`` is not counted out."""
    if abs(len(one) - len(other)) > _REACH:
        return _REACH + 1
    row = list(range(len(other) + 1))
    for count, letter in enumerate(one, 1):
        before, row[0] = row[0], count
        for place, its in enumerate(other, 1):
            before, row[place] = row[place], min(row[place] + 1, row[place - 1] + 1, before + (letter != its))
    return row[-1]
