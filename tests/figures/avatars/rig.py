"""Invented skeletons where a rigger would put them, and weights that blend between their bones."""

from itertools import pairwise

import numpy as np
from evenfold.core.figure import Armature, Bone, Weights

from .mesh import at

CENTRE = ("root", "hips", "spine", "chest", "neck", "head", "jaw")
STANDARD = {
    "upper_leg": "UpperLeg", "lower_leg": "LowerLeg", "foot": "Foot", "toes": "Toes", "shoulder": "Shoulder",
    "upper_arm": "UpperArm", "lower_arm": "LowerArm", "hand": "Hand", "eye": "Eye",
}
PLAIN = {
    "root": "Root", "hips": "Hips", "spine": "Spine", "chest": "Chest", "neck": "Neck", "head": "Head", "jaw": "Jaw", "upper_leg": "UpLeg",
    "lower_leg": "Leg", "foot": "Foot", "toes": "ToeBase", "shoulder": "Shoulder", "upper_arm": "Arm", "lower_arm": "ForeArm", "hand": "Hand", "eye": "Eye",
}
JAPANESE = {
    "root": "全ての親", "hips": "下半身", "spine": "上半身", "chest": "上半身2", "neck": "首", "head": "頭", "jaw": "あご", "upper_leg": "足",
    "lower_leg": "ひざ", "foot": "足首", "toes": "つま先", "shoulder": "肩", "upper_arm": "腕", "lower_arm": "ひじ", "hand": "手首", "eye": "目",
}
CHAIN = {
    "root": "root", "hips": "spine", "spine": "spine.001", "chest": "spine.003", "neck": "spine.004", "head": "spine.006", "jaw": "jaw",
    "upper_leg": "thigh", "lower_leg": "shin", "foot": "foot", "toes": "toe", "shoulder": "shoulder", "upper_arm": "upper_arm",
    "lower_arm": "forearm", "hand": "hand", "eye": "eye",
}


def bone_name(style: str, role: str, number: int) -> str:
    """A role such as "upper_leg.L" in a naming style."""
    part, _, side = role.partition(".")
    if style == "numbered":
        return f"Bone.{number:03d}"
    if style == "japanese":
        return {"L": "左", "R": "右", "": ""}[side] + JAPANESE[part]
    if style == "chain":
        return CHAIN[part] + (f".{side}" if side else "")
    if style == "prefixed":
        return "rig:" + {"L": "Left", "R": "Right", "": ""}[side] + PLAIN[part]
    if style == "joint":
        return f"J_Body_{side or 'C'}_{STANDARD.get(part, part.capitalize())}"
    if style == "low":
        return part + (f"_{side.lower()}" if side else "")
    return STANDARD.get(part, part.capitalize()) + (f".{side}" if side else "")


def humanoid_of(names: dict[str, str]) -> dict[str, str]:
    """The avatar standard's names for the bones that there are."""
    found = {}
    for role, name in names.items():
        part, _, side = role.partition(".")
        if side and part in STANDARD:
            found[{"L": "left", "R": "right"}[side] + STANDARD[part]] = name
        elif part in CENTRE and part != "root":
            found[part] = name
    return found


def _parents(roles):
    chain = [role for role in CENTRE[:-1] if role in roles]
    parents = {role: chain[index - 1] if index else None for index, role in enumerate(chain)}
    parents |= {role: "head" for role in roles if role.split(".")[0] in ("jaw", "eye")}
    for side in ("L", "R"):
        for limb, first in ((("upper_leg", "lower_leg", "foot", "toes"), "hips"), (("shoulder", "upper_arm", "lower_arm", "hand"), "chest")):
            above = first
            for part in limb:
                role = f"{part}.{side}"
                if role in roles:
                    parents[role] = above
                    above = role
    return parents


def armature(places: dict, names: dict, chains: dict) -> Armature:
    """Bones at ``places`` by role; ``chains`` are worn ones: name -> (parent role, path)."""
    parents = _parents(places)
    bones = []
    for role, head in places.items():
        below = next((places[other] for other, parent in parents.items() if parent == role and other.split(".")[0] not in ("jaw", "eye")), None)
        tail = head + at(0, 0, 0.1) if below is None or np.allclose(below, head) else below
        tail = head + at(0, 0, 0.6) if role == "head" else head + at(0, -0.05, 0) if role.startswith("eye") else tail
        above = parents[role]
        bones.append(Bone(names[role], names[above] if above else None, np.asarray(head, float), np.asarray(tail, float), np.eye(3), role != "root"))
    if "jaw" in places:
        top = next(one for one in bones if one.name == names["head"])
        bones.append(Bone(f"{names['head']}_end", top.name, top.tail, top.tail + at(0, 0, 0.1), np.eye(3), False))
    for chain, (above, path) in chains.items():
        parent = names[above]
        for index, (start, end) in enumerate(pairwise(path)):
            name = f"{chain}_{index + 1:02d}"
            bones.append(Bone(name, parent, np.asarray(start, float), np.asarray(end, float), np.eye(3)))
            parent = name
    return Armature("Armature", tuple(bones), np.eye(4))


def _step(value, width):
    if not width:
        return (value >= 0).astype(float)
    share = np.clip(value / width + 0.5, 0, 1)
    return share * share * (3 - 2 * share)


def shares(along, roles, bounds, width):
    """(n, len(roles)) weights that pass from role to role at the ``bounds``; rows add up to 1."""
    rises = [np.ones(len(along))] + [_step(along - bound, width) for bound in bounds] + [np.zeros(len(along))]
    return np.stack([np.maximum(first - after, 0) for first, after in pairwise(rises)], axis=1)


def weights(blocks: list[tuple[tuple[str, ...], np.ndarray]]) -> Weights:
    """Weights of blocks of points one after another: (bone names, (n, names) shares)."""
    names = tuple(dict.fromkeys(name for block, _ in blocks for name in block))
    index = {name: place for place, name in enumerate(names)}
    vertex, group, weight, start = [], [], [], 0
    for block, share in blocks:
        row, column = np.nonzero(share > 0.004)
        vertex.append(row + start)
        group.append(np.array([index[name] for name in block], np.int64)[column])
        weight.append(share[row, column])
        start += len(share)
    return Weights(names, np.concatenate(vertex).astype(np.int64), np.concatenate(group), np.concatenate(weight))
