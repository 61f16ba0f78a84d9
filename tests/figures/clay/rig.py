"""Bones and weights: names in several manners, weights that fade smoothly from bone to bone."""

import numpy as np
from evenfold.core.figure import Armature, Bone, Weights

PLAIN = {
    "hips": "Hips", "chest": "Chest", "neck": "Neck", "head": "Head", "hair": "Hair", "tail": "Tail",
    "cape": "Cape", "hat": "Hat", "plinth": "Root", "upper_arm": "UpperArm", "lower_arm": "LowerArm",
    "hand": "Hand", "thigh": "UpperLeg", "shin": "LowerLeg", "foot": "Foot", "toe": "Toe", "ear": "Ear",
}
SIGNS = {
    "hips": "下半身", "chest": "上半身", "neck": "首", "head": "頭", "hair": "髪", "tail": "尻尾",
    "cape": "マント", "hat": "帽子", "plinth": "全ての親", "upper_arm": "腕", "lower_arm": "ひじ",
    "hand": "手首", "thigh": "足", "shin": "ひざ", "foot": "足首", "toe": "つま先", "ear": "耳",
}
SIDES = {"L": ("Left", "左"), "R": ("Right", "右")}


def name_of(role, naming, number):
    """The bone's name for a role such as "thigh.L" in one manner of naming."""
    stem, _, side = role.partition(".")
    if naming == "anonymous":
        return f"Bone.{number:03d}"
    if naming == "signs":
        return (SIDES[side][1] if side else "") + SIGNS[stem]
    long = (SIDES[side][0] if side else "") + PLAIN[stem]
    return {
        "plain": long,
        "dotted": role,
        "prefixed": f"keeper:{long}",
        "joint": f"{side + '_' if side else ''}{stem.replace('_', '')}_JNT",
        "numbered": f"{side or 'C'}_{PLAIN[stem]}_01",
    }[naming]


def armature_of(bones, naming, to_world):
    """(Armature, role -> name); ``bones`` maps roles to (parent, head, tail, radius)."""
    names = {role: name_of(role, naming, number) for number, role in enumerate(bones)}
    made = []
    for role, (parent, head, tail, _) in bones.items():
        ends = np.array([head, tail]) @ to_world[:3, :3].T + to_world[:3, 3]
        way = (ends[1] - ends[0]) / max(np.linalg.norm(ends[1] - ends[0]), 1e-9)
        side = np.cross(way, [0.31, 0.83, 0.47])
        side /= np.linalg.norm(side)
        made.append(Bone(names[role], names.get(parent), ends[0], ends[1], np.stack([side, way, np.cross(side, way)])))
    return Armature("Rig", tuple(made), np.eye(4)), names


def _by_bones(points, bones):
    """Distance to each bone over its reach, as hollow tubes of influence would see it."""
    rows = []
    for _, head, tail, radius in bones.values():
        way = np.subtract(tail, head)
        share = np.clip((points - head) @ way / max(way @ way, 1e-12), 0, 1)
        rows.append(np.linalg.norm(points - head - share[:, None] * way, axis=1) / radius)
    return (np.maximum(np.stack(rows, axis=1), 0.05)) ** -6.0


def _by_bodies(points, bones, bodies):
    """Nearness to the bodies each bone carries, as a rigger would paint it."""
    x, y, z = points.T
    nearest = {role: np.full(len(points), 9.0) for role in bones}
    for body in bodies:
        role = body.bone if body.bone in bones else next(iter(bones))
        nearest[role] = np.minimum(nearest[role], body.distance(x, y, z))
    return np.exp(-np.clip(np.stack([nearest[role] for role in bones], axis=1), -0.5, 9.0) / 0.025)


def weights_of(points, bones, names, how, bodies):
    """Weights that add up to 1, at most four bones a point."""
    if how not in ("auto", "painted"):
        return Weights.none()
    share = _by_bones(points, bones) if how == "auto" else _by_bodies(points, bones, bodies)
    share = np.maximum(share, 1e-30)
    order = np.argsort(-share, axis=1)
    np.put_along_axis(share, order[:, 4:], 0.0, axis=1)
    share /= share.sum(axis=1, keepdims=True)
    share[share < 0.01] = 0
    share /= share.sum(axis=1, keepdims=True)
    vertex, group = np.nonzero(share)
    return Weights(tuple(names[role] for role in bones), vertex, group, share[vertex, group])
