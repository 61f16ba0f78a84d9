"""The open avatar standard's humanoid bones, and what a map from them to an armature lacks.

Names, parents and requirements as published for VRM 1.0 (humanoid.md, "List of humanoid
bones"); the older names as in its 0.x bone schema.
"""

from dataclasses import dataclass

from .figure import Armature

FINGERS = ("Index", "Middle", "Ring", "Little")
PHALANGES = ("Proximal", "Intermediate", "Distal")
THUMB = ("Metacarpal", "Proximal", "Distal")
SIDES = ("left", "right")


@dataclass(frozen=True)
class HumanoidBone:
    """``parent`` is None for the hips alone; ``needs_parent``: not without its parent's bone."""

    name: str
    parent: str | None
    required: bool = False
    needs_parent: bool = False


def _side(side: str) -> list[HumanoidBone]:
    bones = [
        HumanoidBone(f"{side}Eye", "head"),
        HumanoidBone(f"{side}UpperLeg", "hips", True),
        HumanoidBone(f"{side}LowerLeg", f"{side}UpperLeg", True),
        HumanoidBone(f"{side}Foot", f"{side}LowerLeg", True),
        HumanoidBone(f"{side}Toes", f"{side}Foot"),
        HumanoidBone(f"{side}Shoulder", "upperChest"),
        HumanoidBone(f"{side}UpperArm", f"{side}Shoulder", True),
        HumanoidBone(f"{side}LowerArm", f"{side}UpperArm", True),
        HumanoidBone(f"{side}Hand", f"{side}LowerArm", True),
    ]
    for finger, links in (("Thumb", THUMB), *((finger, PHALANGES) for finger in FINGERS)):
        above = f"{side}Hand"
        for link in links:
            name = f"{side}{finger}{link}"
            bones.append(HumanoidBone(name, above, False, above != f"{side}Hand"))
            above = name
    return bones


BONES: tuple[HumanoidBone, ...] = (
    HumanoidBone("hips", None, True),
    HumanoidBone("spine", "hips", True),
    HumanoidBone("chest", "spine"),
    HumanoidBone("upperChest", "chest", False, True),
    HumanoidBone("neck", "upperChest"),
    HumanoidBone("head", "neck", True),
    HumanoidBone("jaw", "head"),
    *_side("left"),
    *_side("right"),
)
BY_NAME = {bone.name: bone for bone in BONES}


@dataclass(frozen=True)
class MapTrouble:
    """What is wrong with one standard bone of a map, in a sentence that says what to do.

    ``missing`` is true where no bone plays it.
    """

    bone: str
    sentence: str
    missing: bool = False


def label(name: str) -> str:
    """The standard's name as words: "leftUpperLeg" becomes "Left upper leg"."""
    words = "".join(f" {letter.lower()}" if letter.isupper() else letter for letter in name)
    return words[:1].upper() + words[1:]


def newer_names(humanoid: dict[str, str]) -> dict[str, str]:
    """The map under the names of VRM 1.0: 0.x calls the thumb's bones proximal, intermediate, distal.

    A thumb without a metacarpal bone can only be an older one: the newer standard lets no
    other thumb bone be there without it.
    """
    named = dict(humanoid)
    for side in SIDES:
        if f"{side}ThumbMetacarpal" in humanoid:
            continue
        first, second = f"{side}ThumbProximal", f"{side}ThumbIntermediate"
        older = (named.pop(first, None), named.pop(second, None))
        for link, bone in zip(THUMB, older, strict=False):
            if bone is not None:
                named[f"{side}Thumb{link}"] = bone
    return {name: bone for name, bone in named.items() if name in BY_NAME}


def mapped_parent(name: str, humanoid: dict[str, str]) -> str | None:
    """The nearest standard bone above that the map holds; None for the hips."""
    above = BY_NAME[name].parent
    while above is not None and above not in humanoid:
        above = BY_NAME[above].parent
    return above


def troubles(humanoid: dict[str, str], armature: Armature) -> tuple[MapTrouble, ...]:
    """What keeps the map from being a whole humanoid, in the order of the standard's list."""
    users: dict[str, list[str]] = {}
    for name, bone in humanoid.items():
        users.setdefault(bone, []).append(name)
    found: list[MapTrouble] = []
    for entry in BONES:
        found += [MapTrouble(entry.name, words, entry.name not in humanoid) for words in _sentences(entry, humanoid, armature, users)]
    return tuple(found)


def lacking(what: str) -> str:
    """What is said where the armature has no bone for a required one; ``what`` is its label."""
    return f"{what} has no bone, but is required: choose one under Humanoid Bones."


def _sentences(
    entry: HumanoidBone, humanoid: dict[str, str], armature: Armature, users: dict[str, list[str]]
) -> list[str]:
    bone = humanoid.get(entry.name)
    what = label(entry.name)
    if bone is None:
        return [lacking(what)] if entry.required else []
    if bone not in armature.by_name:
        return [f"{what}: '{bone}' is no bone of this armature; choose another."]
    found: list[str] = []
    others = [label(name).lower() for name in users[bone] if name != entry.name]
    if others:
        found.append(f"{what}: '{bone}' is also the {' and the '.join(others)}; give each a bone of its own.")
    if entry.needs_parent and entry.parent not in humanoid:
        found.append(f"{what} may only be there together with the {label(entry.parent or '').lower()}: choose that one too, or clear this one.")
    above = mapped_parent(entry.name, humanoid)
    over = humanoid.get(above) if above is not None else None
    if over is not None and over in armature.by_name and over != bone and bone not in armature.below(over):
        found.append(f"{what}: '{bone}' must hang below '{over}' ({label(above or '').lower()}); change its parent, or choose another bone.")
    return found
