"""A plain invented skeleton whose bones are called as a test likes."""

import numpy as np
from evenfold.core.figure import Armature, Bone

BODY = {
    # part: (parent, side, forward, up), invented
    "Hips": (None, 0, 0, 1.0), "Spine": ("Hips", 0, 0, 1.1), "Chest": ("Spine", 0, 0, 1.25), "Neck": ("Chest", 0, 0, 1.5), "Head": ("Neck", 0, 0, 1.6),
    "Shoulder": ("Chest", 0.04, 0, 1.45), "UpperArm": ("Shoulder", 0.2, 0, 1.45), "LowerArm": ("UpperArm", 0.45, 0, 1.44), "Hand": ("LowerArm", 0.7, 0, 1.43),
    "UpperLeg": ("Hips", 0.1, 0, 0.95), "LowerLeg": ("UpperLeg", 0.1, 0, 0.5), "Foot": ("LowerLeg", 0.1, 0, 0.08), "Toes": ("Foot", 0.1, 0.12, 0.02),
}
MIDDLE = ("Hips", "Spine", "Chest", "Neck", "Head")


def bone(name, parent, at, deform=True):
    at = np.asarray(at, float)
    return Bone(name, parent, at, at + np.array([0, 0, 0.05]), np.eye(3), deform)


def armature(spell, extra=(), turn=0.0, parts=BODY):
    """A body whose bones are called ``spell(part, side)``, side "" in the middle; faces -Y before turning."""
    cos, sin = np.cos(turn), np.sin(turn)
    made = []
    for part, (parent, side, forward, up) in parts.items():
        for word, sign in ((("", 0),) if part in MIDDLE else (("L", 1), ("R", -1))):
            over = None if parent is None else spell(parent, "" if parent in MIDDLE else word)
            x, y = sign * side, -forward
            made.append(bone(spell(part, word), over, (cos * x - sin * y, sin * x + cos * y, up)))
    return Armature("Rig", (*made, *extra), np.eye(4))


def standard(part, side):
    return {"L": "left", "R": "right"}[side] + part if side else part.lower()


def expected(spell, parts=BODY):
    return {standard(part, side): spell(part, side) for part in parts for side in (("",) if part in MIDDLE else ("L", "R"))}
