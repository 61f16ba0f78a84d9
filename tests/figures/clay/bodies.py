"""Bodies below the head, their bones, and all that hangs on them, in head heights."""

import numpy as np

from .fields import Block, Egg, Limb, Ring

HANDS = ((1, "L"), (-1, "R"))


def levels(rng, one):
    """Heights and half widths the body is built from."""
    chin = one.heads - 1
    neck = {"neckless": 0.0, "short": rng.uniform(0.08, 0.18), "long": rng.uniform(0.3, 0.5)}[one.neck]
    neck = min(neck, 0.35 * chin)
    collar = chin - neck + (rng.uniform(0.0, 0.04) if one.neck == "neckless" else 0.0)
    return {
        "chin": chin, "collar": collar, "crotch": chin * rng.uniform(0.36, 0.42) if one.heads < 3 else chin * rng.uniform(0.45, 0.55),
        "wide": (0.2 + 0.05 * one.heads) * rng.uniform(0.9, 1.1),
        "thin": (0.05 + 0.012 * one.heads) * rng.uniform(0.85, 1.15),
    }


def _torso(at):
    wide, collar, crotch = at["wide"], at["collar"], at["crotch"]
    thick = min(0.62 * wide, 0.42 * (collar - crotch) + 0.04)
    chest = (0.0, 0.0, collar - thick)
    hips = (0.0, 0.0, min(crotch + 0.8 * thick, collar - thick - 0.02))
    broad = max(1.0, wide / thick * 0.85)
    return [
        Limb(hips, ((0.0, 0.0, (chest[2] + hips[2]) / 2)), (thick * 0.95, thick * 0.85), "hips", 0.08, broad),
        Limb(((0.0, 0.0, (chest[2] + hips[2]) / 2)), chest, (thick * 0.85, thick), "chest", 0.08, broad),
    ]


def _arms(one, at, bones):
    length = max(0.42 * at["chin"], 0.25)
    angle = {"t": 0.0, "a": -0.75, "down": -1.25, "raised": 1.1}[one.arms]
    thin = at["thin"]
    found = []
    for side, hand in HANDS:
        way = np.array([side * np.cos(angle), 0.0, np.sin(angle)])
        shoulder = np.array([side * at["wide"] * 0.8, 0.0, at["collar"] - 1.4 * thin])
        elbow, wrist = shoulder + 0.48 * length * way, shoulder + 0.9 * length * way
        tip = wrist + way * 0.1 * length
        found += [
            Limb(tuple(shoulder), tuple(elbow), (thin * 1.1, thin), f"upper_arm.{hand}", 0.04),
            Limb(tuple(elbow), tuple(wrist), (thin, thin * 0.8), f"lower_arm.{hand}", 0.03),
            Egg(tuple(tip), (thin * 1.2, thin * 1.2, thin * 1.1), f"hand.{hand}", 0.03),
        ]
        bones[f"upper_arm.{hand}"] = ("chest", shoulder, elbow, thin)
        bones[f"lower_arm.{hand}"] = (f"upper_arm.{hand}", elbow, wrist, thin)
        bones[f"hand.{hand}"] = (f"lower_arm.{hand}", wrist, tip, thin)
    return found


def _foot(one, ankle, thin, hand, boots):
    """Bodies of one foot standing on the height ``ankle`` lies above, toes towards -y."""
    x, y, z = ankle
    floor = z - (0.9 if one.heels else 0.0) * thin - 1.0 * thin
    broad = thin * (1.3 if boots else 1.1)
    found = [Limb((x, y, floor + thin), (x, y - 2.2 * thin, floor + 0.8 * thin), (thin, 0.8 * thin), f"foot.{hand}", 0.2 * thin, broad / thin)]
    if one.heels:
        slope = Limb((x, y, z), (x, y - 2.2 * thin, floor + 0.7 * thin), (thin, 0.7 * thin), f"foot.{hand}", 0.2 * thin)
        heel = Limb((x, y + 0.3 * thin, z - 0.2 * thin), (x, y + 0.3 * thin, floor + 0.45 * thin), (0.6 * thin, 0.45 * thin), f"foot.{hand}", 0.2 * thin)
        found = [slope, heel]
    if boots:
        found.append(Limb((x, y, z + thin), (x, y, z + 3.0 * thin), (thin * 1.3, thin * 1.5), f"shin.{hand}", 0.03))
    return found


def _legs(one, at, bones):
    thin = min(at["thin"] * 1.25, 0.2 * at["crotch"])
    found = []
    for side, hand in HANDS:
        hip = np.array([side * at["wide"] * 0.45, 0.0, at["crotch"] + 0.3 * thin])
        ankle = np.array([hip[0], 0.0, (1.9 if one.heels else 1.0) * thin])
        knee = np.array([hip[0], -0.02, (hip[2] + ankle[2]) / 2])
        if one.lifted and side < 0:
            knee = hip + np.array([0.0, -0.35 * hip[2], -0.3 * hip[2]])
            ankle = knee + np.array([0.0, 0.1 * hip[2], -0.4 * hip[2] + thin])
        found += [
            Limb(tuple(hip), tuple(knee), (thin * 1.25, thin), f"thigh.{hand}", 0.05),
            Limb(tuple(knee), tuple(ankle), (thin, thin * 0.75), f"shin.{hand}", 0.2 * thin),
            *_foot(one, ankle, thin, hand, "boots" in one.wear),
        ]
        ball = ankle + np.array([0.0, -1.6 * thin, -(1.2 if one.heels else 0.3) * thin])
        bones[f"thigh.{hand}"] = ("hips", hip, knee, thin)
        bones[f"shin.{hand}"] = (f"thigh.{hand}", knee, ankle, thin)
        bones[f"foot.{hand}"] = (f"shin.{hand}", ankle, ball, thin)
        bones[f"toe.{hand}"] = (f"foot.{hand}", ball, ball + np.array([0.0, -1.2 * thin, 0.0]), thin)
    return found


def body_of(rng, one, form):
    """(bodies, bones, levels): ``bones`` maps a role to (parent, head, tail, radius)."""
    at = levels(rng, one)
    bodies = _torso(at)
    middle = np.array([0.0, 0.0, (at["crotch"] + at["collar"]) / 2])
    low, high = np.array([0.0, 0.0, at["crotch"]]), np.array([0.0, 0.02, at["collar"]])
    back = 0.0 if one.neck == "neckless" else rng.uniform(0.06, 0.14)
    joint = np.array([0.0, back, at["chin"] + (0.03 if one.neck == "neckless" else rng.uniform(0.12, 0.25))])
    bones = {
        "hips": (None, low, middle, 0.24), "chest": ("hips", middle, high, 0.24),
        "neck": ("chest", high, joint, 0.2), "head": ("neck", joint, np.array([0.0, 0.0, one.heads]), 0.5),
    }
    if one.neck != "neckless":
        thick = rng.uniform(0.12, 0.19)
        bodies.append(Limb((0.0, 0.03, at["collar"] - 0.1), (0.0, back + 0.02, at["chin"] + 0.3), (thick * 1.15, thick), "neck", 0.04))
    elif len(form) > 1:
        thick = 0.75 * min(at["wide"], 0.3)
        bodies.append(Limb((0.0, 0.03, at["collar"] - 0.15), (0.0, 0.08, at["chin"] + 0.3), (thick, thick), "neck", 0.04))
    bodies += _arms(one, at, bones) + _legs(one, at, bones)
    if "dress" in one.wear:
        middle_z = (at["crotch"] + at["collar"]) / 2
        hem = at["crotch"] * rng.uniform(0.35, 0.7)
        bodies.append(Limb((0.0, 0.0, middle_z), (0.0, 0.0, hem + 0.25 * at["wide"]), (at["wide"] * 0.6, at["wide"] * 1.0), "hips", 0.05))
    return bodies, bones, at


def scarf_of(at):
    """A collar around the neck, below the chin."""
    return [Ring((0.0, 0.04, at["collar"] - 0.06), max(0.2, at["wide"] * 0.55), 0.07, "neck", 0.03, 0.8)]


def cape_of(at, lowest):
    """A thin sheet behind the back from the collar to ``lowest``."""
    high = at["collar"] - 0.05
    return [Egg((0.0, at["wide"] * 0.9, (high + lowest) / 2), (at["wide"] * 1.2, 0.07, (high - lowest) / 2), "cape", 0.03)]


def tail_of(at, lowest):
    """A tail from the hips down behind the legs to ``lowest``."""
    root = (0.0, 0.1, at["crotch"] + 0.15 * at["chin"])
    knee = (0.0, at["wide"] + 0.25, at["crotch"] * 0.9)
    return [Limb(root, knee, (0.08, 0.07), "tail", 0.04), Limb(knee, (0.0, at["wide"] + 0.35, lowest + 0.05), (0.07, 0.05), "tail", 0.04)]


def plinth_of(at):
    """What the figure stands on, its top at the sole."""
    return [Block((0.0, 0.0, -0.11), (at["wide"] * 2.2, at["wide"] * 2.2, 0.1), "plinth", 0.02)]
