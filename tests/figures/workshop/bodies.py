"""Bodies below the head: joints first, then the pieces along them."""

from dataclasses import dataclass

import numpy as np

from .recipe import Recipe
from .shapes import Piece, Points, box, ellipsoid, tube, vector

Joints = dict[str, Points]
LEGS = ([1.5, 2, 3, 4, 5, 6, 7, 8], [0.19, 0.25, 0.333, 0.375, 0.4, 0.458, 0.49, 0.5])
"""Crotch height / height by heads tall; the drawing habit listed in the references, 1.6."""
SHOULDERS = ([1.5, 2, 3, 5, 8], [0.24, 0.3, 0.45, 0.68, 0.85])
"""Half the distance of the shoulder joints by heads tall; invented, broader as heads get smaller."""


@dataclass(frozen=True)
class Body:
    joints: Joints
    pieces: tuple[Piece, ...]
    thick: float
    neck_radius: float


def make_joints(recipe: Recipe, rng: np.random.Generator) -> Joints:
    """Named places of the skeleton in design space, the left side with the prefix "left"."""
    heads = recipe.heads
    chin = heads - 1
    crotch = float(np.interp(heads, *LEGS)) * heads * float(rng.uniform(0.9, 1.1))
    gap = {"neckless": rng.uniform(-0.02, 0.02), "thin": rng.uniform(0.04, 0.1), "thick": rng.uniform(0.02, 0.08)}[recipe.neck]
    top = chin - float(gap) - float(np.interp(heads, [1.5, 3, 8], [0.0, 0.05, 0.2]))
    top = max(top, crotch + 0.15)
    wide = float(np.interp(heads, *SHOULDERS)) * float(rng.uniform(0.85, 1.1))
    span = top - crotch
    joints: Joints = {
        "crotch": np.array([0, 0.03, crotch]), "hips": np.array([0, 0.03, crotch + 0.12 * span]),
        "spine": np.array([0, 0.03, crotch + 0.35 * span]), "chest": np.array([0, 0.03, crotch + 0.6 * span]),
        "neck": np.array([0, 0.05, top]), "head": np.array([0, 0.05, chin + 0.12]), "top": np.array([0, 0.05, heads]),
    }
    arm = max(span * 1.05, 0.3) * float(rng.uniform(0.9, 1.1))
    ankle = min(0.12, crotch * 0.35)
    for side, sign in (("left", 1), ("right", -1)):
        angle = {"t": 0.0, "a": -0.8, "down": -1.35, "raised": -0.8}[recipe.pose]
        if recipe.pose == "raised" and side == "left":
            angle = 1.0
        along = np.array([sign * np.cos(angle), 0, np.sin(angle)])
        shoulder = np.array([sign * wide, 0.04, top - 0.12 * min(1, span)])
        joints[side + "Shoulder"] = np.array([sign * wide * 0.3, 0.04, shoulder[2]])
        joints[side + "UpperArm"] = shoulder
        joints[side + "LowerArm"] = shoulder + along * arm * 0.5 + vector(0, 0.02, 0)
        joints[side + "Hand"] = shoulder + along * arm
        joints[side + "Fingers"] = shoulder + along * (arm + 0.16)
        hip = np.array([sign * max(wide * 0.45, 0.1), 0.03, crotch + 0.03])
        joints[side + "UpperLeg"] = hip
        joints[side + "LowerLeg"] = (hip + vector(hip[0], 0.03, ankle)) / 2 - (0, 0.02, 0)
        joints[side + "LowerLeg"][0] = hip[0]
        joints[side + "Foot"] = np.array([hip[0], 0.05, ankle])
        if recipe.stance == "lifted" and side == "left":
            lift = crotch * float(rng.uniform(0.15, 0.4))
            joints["leftLowerLeg"] = joints["leftLowerLeg"] + vector(0, -0.3 * crotch, lift * 0.8)
            joints["leftFoot"] = joints["leftFoot"] + vector(0, 0.05, lift)
        joints[side + "Toes"] = joints[side + "Foot"] + vector(0, -0.17, -ankle * 0.7)
        joints[side + "ToeEnd"] = joints[side + "Toes"] + vector(0, -0.1, 0)
    return joints


def make_body(recipe: Recipe, rng: np.random.Generator) -> Body:
    joints = make_joints(recipe, rng)
    detail = {"lowpoly": 6, "cage": 8, "remesh": 20, "sculpt": 20}.get(recipe.style, 12)
    shoulder = abs(float(joints["leftUpperArm"][0]))
    thick = float(np.interp(recipe.heads, [1.5, 3, 8], [0.11, 0.14, 0.22])) * float(rng.uniform(0.85, 1.15))
    neck_radius = {"thin": 0.12, "thick": 0.21, "neckless": 0.15}[recipe.neck] * float(rng.uniform(0.85, 1.15))
    if recipe.style == "cage":
        thick *= 1.25
    pieces = [_torso(joints, shoulder, thick, detail, neck_radius, recipe, rng)]
    if recipe.neck != "neckless":
        pieces.append(tube(
            "neck", [joints["neck"] - (0, 0, 0.08), joints["neck"], joints["head"] + vector(0, 0.02, 0.08)],
            [neck_radius * 1.2, neck_radius, neck_radius * 0.9], detail, 0.2, bones=("neck",),
        ))
    for side, letter in (("left", "L"), ("right", "R")):
        pieces += _arm(joints, side, letter, thick * 0.8, detail, recipe)
        pieces += _leg(joints, side, letter, thick, detail, recipe, rng)
    return Body(joints, tuple(pieces), thick, neck_radius)


def _torso(
    joints: Joints, shoulder: float, thick: float, detail: int, neck: float, recipe: Recipe,
    rng: np.random.Generator,
) -> Piece:
    bottom, top = joints["crotch"][2], joints["neck"][2]
    hips = max(float(joints["leftUpperLeg"][0]) + thick * 0.8, 0.16)
    levels = [bottom - 0.02, *(bottom + (top - bottom) * np.array([0.15, 0.45, 0.8, 0.96])), top + 0.03]
    plump = float(rng.uniform(0.9, 1.25))
    sides = [hips * 0.8, hips, hips * 0.92 * plump, max(shoulder * 0.95, neck * 1.3), max(shoulder * 0.6, neck * 1.2), neck]
    deep = [0.6, 0.65, 0.65, 0.6, 0.55, 0.8]
    radii = [(s, min(s, 0.48) * d) if k < 5 else (s, s * d) for k, (s, d) in enumerate(zip(sides, deep, strict=True))]
    path = [[0, 0.05 if z > top - 0.05 else 0.03, z] for z in levels]
    return tube("torso", path, radii, detail + detail % 2, 0.25, bones=("hips", "spine", "chest"), material="cloth")


def _arm(joints: Joints, side: str, letter: str, thick: float, detail: int, recipe: Recipe) -> list[Piece]:
    a, b, c, d = (joints[side + name] for name in ("UpperArm", "LowerArm", "Hand", "Fingers"))
    inner = a + (joints["chest"] - a) * (0.45 if recipe.style == "cage" else 0.3, 0, 0)
    bones = tuple(side + name for name in ("UpperArm", "LowerArm", "Hand"))
    pieces = [tube(f"arm.{letter}", [inner, a, b, c], [thick, thick, thick * 0.85, thick * 0.7], detail, bones=bones)]
    along = (d - c) / np.linalg.norm(d - c)
    if recipe.heads > 4 and recipe.style not in ("lowpoly", "cage"):
        for k in range(4):
            root = c + along * 0.08 + vector(0, (k - 1.5) * 0.04, 0)
            pieces.append(tube(f"arm.{letter}", [root - along * 0.06, root, root + along * 0.1], [0.025] * 3, 6,
                               bones=(side + "Hand",)))
    pieces.append(ellipsoid(f"arm.{letter}", c + along * 0.07, (thick * 0.95,) * 3, detail, bones=(side + "Hand",)))
    return pieces


def _leg(
    joints: Joints, side: str, letter: str, thick: float, detail: int, recipe: Recipe, rng: np.random.Generator
) -> list[Piece]:
    hip, knee, ankle = (joints[side + name] for name in ("UpperLeg", "LowerLeg", "Foot"))
    bones = tuple(side + name for name in ("UpperLeg", "LowerLeg", "Foot"))
    floor = ankle[2] - min(0.12, joints["crotch"][2] * 0.35)
    low = ankle + vector(0, 0, 0.02)
    pieces = [tube(f"leg.{letter}", [hip + vector(0, 0, 0.06), hip, knee, low], [thick, thick, thick * 0.85, thick * 0.75],
                   detail, 0.3, bones=bones)]
    foot = (side + "Foot", side + "Toes")
    label = f"foot.{letter}"
    tall = max(ankle[2] - floor, 0.05)
    length = min(0.2, 0.14 + 0.02 * recipe.heads)
    if recipe.foot == "stump":
        pieces.append(ellipsoid(label, (ankle[0], ankle[1], floor + tall), (thick, thick, tall), detail, bones=foot[:1]))
        return pieces
    if recipe.foot == "heel":
        pieces.append(box(label, (ankle[0], ankle[1] + 0.04, floor + tall * 0.35), (0.025, 0.025, tall * 0.35),
                          material="cloth", bones=foot[:1]))
        sole = ellipsoid(label, (ankle[0], ankle[1] - length * 0.5, floor + tall * 0.6), (thick * 0.8, length, tall * 0.55),
                         detail, 2.5, bones=foot, material="cloth")
        slope = (sole.points[:, 1] - ankle[1]) * tall
        sole.points[:, 2] = np.maximum(sole.points[:, 2] + slope, floor)
        return [*pieces, sole]
    shoe = ellipsoid(label, (ankle[0], ankle[1] - length * 0.45, floor + tall * 0.4), (thick * 1.05, length, tall * 0.9),
                     detail, 2.6 if recipe.foot == "boot" else 2.2, bones=foot,
                     material="skin" if recipe.foot == "bare" else "cloth")
    if recipe.foot != "bare":
        shoe.points[:, 2] = np.maximum(shoe.points[:, 2], floor)
    pieces.append(shoe)
    if recipe.foot == "boot":
        thick_sole = min(float(rng.uniform(0.03, 0.1)), tall * 0.8)
        pieces.append(box(label, (ankle[0], ankle[1] - length * 0.45, floor + thick_sole / 2),
                          (thick * 1.1, length * 1.02, thick_sole / 2), bones=foot, material="cloth"))
    return pieces
