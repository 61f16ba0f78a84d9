"""Physics settings kept on bones: a left and a right chain swing alike."""

from collections.abc import Iterator

import numpy as np

from ..figure import Armature, Bone
from ..findings import Finding
from ..name_words import words_of
from ..sides import counterpart, pairs
from .matched import Limits
from .paired_rows import shown

CODES = ("chain-drifted",)

EQUAL = 1e-5
"""Numbers closer than this share of the larger one are equal: settings are stored in single precision."""

SWINGING = (
    "spring", "stiff", "damp", "drag", "grav", "mass", "inert", "elastic", "bounc", "jiggl",
    "wiggl", "sway", "swing", "swung", "wind", "frict", "collid", "collis", "physic", "dynamic",
    "soft", "tension", "hitradius",
)
"""How words for physics settings begin. Common practice, no source."""


def check(armature: Armature, limits: Limits) -> Iterator[Finding]:
    """The findings on numbers kept on bones: one for each property; elements are left bones."""
    del limits
    paired = pairs(bone.name for bone in armature.bones)
    rows: dict[str, list[tuple[str, str, float]]] = {}
    for left, right in zip(paired.left, paired.right, strict=True):
        for name, size in _differences(armature.by_name[left], armature.by_name[right]):
            rows.setdefault(name, []).append((left, right, size))
    for name, found in rows.items():
        yield _finding(name, found)


def _differences(left: Bone, right: Bone) -> Iterator[tuple[str, float]]:
    """Properties that differ, with by how much; NaN where only one of the bones has it.

    A property with a side in its own name is compared with its counterpart.
    """
    mine, its = _settings(left), _settings(right)
    for name, value in mine.items():
        other = _name_there(name, its)
        if other is None:
            yield name, float("nan")
        elif not _alike(name, value, its[other]):
            yield name, abs(value - its[other])
    told = {_name_there(name, its) for name in mine}
    yield from ((name, float("nan")) for name in its if name not in told)


def _settings(bone: Bone) -> dict[str, float]:
    """What stands on the bone itself, and of nested groups (rigging tools keep their own numbers
    there) what is named for physics."""
    return {name: value for name, value in bone.properties if _swings(name)}


def _swings(name: str) -> bool:
    way = name.removesuffix(".x").removesuffix(".y").removesuffix(".z")
    return "." not in way or any(word.startswith(SWINGING) for word in words_of(way))


def _name_there(name: str, names: dict[str, float]) -> str | None:
    turned = counterpart(name)
    if turned is not None and turned in names:
        return turned
    return name if name in names else None


def _alike(name: str, value: float, other: float) -> bool:
    """Equal. Gravity's part across the figure is mirrored, that of other directions may be."""
    near = EQUAL * max(abs(value), abs(other), EQUAL)
    if name.endswith("gravityDir.x"):
        return abs(value + other) <= near
    return abs(value - other) <= near or (name.endswith(".x") and abs(value + other) <= near)


def _finding(name: str, found: list[tuple[str, str, float]]) -> Finding:
    places = np.arange(len(found))
    lacking = [left for left, _, size in found if np.isnan(size)]
    advice = f"On {shown(lacking)} only one of the two bones has it." if lacking else ""
    return Finding(
        "chain-drifted", places, places, np.array([size for _, _, size in found]), name, kind="bone",
        unit="value", names=tuple(left for left, _, _ in found),
        partner_names=tuple(right for _, right, _ in found), advice=advice,
    )
