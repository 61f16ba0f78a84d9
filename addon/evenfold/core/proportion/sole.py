"""Where the figure stands, and whether it stands on two legs at all."""

from dataclasses import replace

import numpy as np

from ..figure import Armature, Figure, FloatArray
from ..findings import Reading
from . import words
from .body import WELD, Body, BoolArray
from .frame import up_of
from .islands import label_pieces
from .legs import arms_of, legs_of
from .named_bones import carrying_bones
from .sample import dense
from .spot import Spot
from .standing import Feet, feet_of

THIN, OFF_GROUND = 0.3, 0.06
"""Arms are thinner and further off the ground than these shares of the height where they end. Our choice."""
AHEAD = 0.03
"""What is lowest stands clearly ahead of other things by this share of the height. Our choice."""
TIP = 0.05
"""What stands is as long as this share of the height where it meets the ground. Our choice."""
UNSEEN = 0.06
"""How far off the ground may be, in heights of the figure, where no two legs are to be seen."""


def find_sole(body: Body, framed: FloatArray) -> Spot | None:
    """The lowest point of feet and legs by weight; else of the feet by shape; None if empty."""
    legs = (body.leg > 0.5) & ~body.worn
    chosen = legs if legs.any() else ~body.worn
    if not chosen.any():
        return None
    own = framed[chosen]
    point = own[np.argmin(own[:, 2])]
    lowest = float(point[2])
    slack = 0.002 * float(np.ptp(framed[:, 2]))
    bottom = Reading("lowest point of the body", lowest, lowest - 3 * slack, lowest + 3 * slack)
    if legs.any():
        return _by_weights(body, framed, legs, bottom, slack)
    surface = _surface(body, framed, 0.65)
    size = float(np.ptp(own[:, 2]))
    feet = feet_of(surface, float(np.median(own[:, 0])), size)
    told = feet if feet is not None and feet.told else None
    if told is not None and _stands_in_front(surface, told, size):
        high = float(told.point[2]) + slack
        return Spot(lowest, point, "shape", bottom.low, high, bottom.method, (bottom,))
    if body.head_how != "weights" and not (told and told.two) and legs_of(_above(surface, told), size) == "none":
        unseen = UNSEEN * float(np.ptp(framed[:, 2]))
        high = lowest + unseen if told is None else max(lowest + unseen, float(told.point[2]) + slack)
        bottom = Reading("lowest point, with no two legs to be seen", lowest, lowest - unseen, high)
        return Spot(lowest, point, "shape", bottom.low, bottom.high, bottom.method, (bottom,))
    if told is None:
        return Spot(lowest, point, "shape", bottom.low, bottom.high, bottom.method, (bottom,))
    foot = float(told.point[2])
    seen = Reading("lowest point of the feet beside the middle", foot, foot - slack, foot + slack)
    low = foot - slack - 0.1 * (foot - lowest)
    return Spot(foot, told.point, "shape", low, foot + slack, seen.method, (seen, bottom))


def _stands_in_front(surface: FloatArray, told: Feet, size: float) -> bool:
    """True where what is lowest lies ahead of the ``told`` feet: tails and capes hang behind, so it is a foot."""
    lowest = surface[surface[:, 2] < surface[:, 2].min() + 0.03 * size]
    feet = surface[(surface[:, 2] >= told.point[2]) & (surface[:, 2] < told.point[2] + 0.03 * size)]
    if not len(feet):
        return False
    near = feet[np.linalg.norm(feet[:, :2] - told.point[:2], axis=1) < 0.1 * size]
    return bool(np.median(lowest[:, 1]) > np.median(near[:, 1]) + AHEAD * size)


def _above(surface: FloatArray, told: Feet | None) -> FloatArray:
    """What of the surface is not below the feet."""
    return surface if told is None else surface[surface[:, 2] >= told.point[2]]


def _by_weights(body: Body, framed: FloatArray, legs: BoolArray, bottom: Reading, slack: float) -> Spot:
    """The lowest point that follows legs or feet, but for a tail or cape that follows them as well.

    Weights by distance let the nearest leg bone carry what hangs beside it.
    """
    own = framed[legs]
    size = float(np.ptp(framed[~body.worn][:, 2]))
    point = own[np.argmin(own[:, 2])]
    faces = body.triangles[legs[body.triangles].all(axis=1)]
    low = faces[framed[faces][:, :, 2].min(axis=1) < bottom.height + 0.5 * size]
    used, compact = np.unique(low, return_inverse=True)
    surface = dense(framed[used], compact.reshape(-1, 3), size / 130) if len(low) else own
    told = feet_of(surface, _between(own), size)
    if told is not None and told.told and float(told.point[2]) > bottom.height + slack:
        point = told.point
    foot = float(point[2])
    feet = Reading("lowest point that follows the legs or feet", foot, foot - slack, foot + slack)
    hanging = (replace(bottom, method="lowest point that follows the legs, in the middle as a tail or cape hangs"),) if foot > bottom.height else ()
    low_end = feet.low - 0.1 * (foot - bottom.height)
    return Spot(foot, point, "weights", low_end, feet.high, feet.method, (feet, *hanging))


def _between(own: FloatArray) -> float:
    """The middle from side to side of what follows both legs."""
    return float((np.quantile(own[:, 0], 0.02) + np.quantile(own[:, 0], 0.98)) / 2)


def _has_front_and_back_legs(armature: Armature) -> bool:
    front = back = False
    for bone in armature.bones:
        found = set(words.tokens(bone.name))
        if found & words.HELPER or not found & (words.LEG | {"shoulder", "paw", "hoof"}):
            continue
        front |= bool(found & words.FRONT_LEG)
        back |= bool(found & words.BACK_LEG)
    return front and back


def _lies_level(armature: Armature, head_bone: str, up: FloatArray) -> bool:
    """True when head and hips are further apart along the ground than upward."""
    head = armature.by_name[head_bone]
    hips = next(
        (bone for bone in armature.bones if words.has_word(bone.name, frozenset({"hips", "hip", "pelvis"}))), None
    )
    if hips is None or hips.name == head_bone:
        return False
    way = head.head - hips.head
    rise = float(way @ up)
    return float(np.linalg.norm(way - rise * up)) > abs(rise)


def refuse_stance(figure: Figure, body: Body, framed: FloatArray) -> str | None:
    """A sentence when heads cannot honestly be counted on this figure; None when they can."""
    pinned = {pin.landmark for pin in figure.pins}
    if {"crown", "chin", "sole"} <= pinned:
        return None
    armature = figure.armature
    if armature is not None and (
        _has_front_and_back_legs(armature)
        or (body.head_bone is not None and _lies_level(armature, body.head_bone, up_of(figure)))
    ):
        return "This figure goes on four legs, and heads are not counted on it; pin crown, chin and sole to count them all the same."
    if "sole" in pinned or (body.leg[~body.worn] > 0.5).any():
        return None
    own = framed[~body.worn]
    height = float(np.ptp(own[:, 2]))
    surface = _below_head(body, framed)
    stands = legs_of(surface, height)
    if stands == "four" and (armature is None or body.head_bone is None):
        return "This stands on four legs or is more than one figure, and heads are not counted on it; pin crown, chin and sole to count them all the same."
    if stands != "none":
        return _refuse_several(body, framed) if armature is None else None
    if armature is None and body.head_how == "none" and _refuse_shape(own) is not None:
        return _refuse_shape(own)
    if not (_has_arms(figure, own) or _two_legs_apart(body, framed, height) or arms_of(surface, height)):
        return "No legs or feet were found, so this looks like a bust; pin the sole to have the heads counted."
    return None


def _two_legs_apart(body: Body, framed: FloatArray, height: float) -> bool:
    """True where two pieces alike stand on the ground, one on each side: legs modelled apart that touch."""
    piece = np.where(body.worn, -1, label_pieces(framed, body.triangles, WELD * height))
    ground = float(framed[~body.worn][:, 2].min()) + 0.03 * height
    standing = [framed[piece == one] for one in np.unique(piece[(piece >= 0) & (framed[:, 2] < ground)])]
    boxes = [(own.min(axis=0), own.max(axis=0)) for own in standing if np.ptp(own[:, 2]) > 0.04 * height]
    if len(boxes) != 2:
        return False
    (low, high), (other_low, other_high) = boxes
    alike = np.abs((high - low) - (other_high - other_low)).max() < 0.03 * height
    beside = max(low[0], other_low[0]) > min(high[0], other_high[0]) - 0.1 * min(high[0] - low[0], other_high[0] - other_low[0])
    return bool(alike and beside and max(high[2], other_high[2]) < ground + 0.55 * height)


def _refuse_several(body: Body, framed: FloatArray) -> str | None:
    """A sentence where tall pieces stand apart from each other; what ends in a tip hangs and does not stand."""
    span = float(np.ptp(framed[~body.worn][:, 2]))
    piece = np.where(body.worn, -1, label_pieces(framed, body.triangles, WELD * span))
    ground = float(framed[~body.worn][:, 2].min()) + 0.05 * span
    large = [framed[piece == one] for one in np.flatnonzero(np.bincount(piece[piece >= 0]) > 40)]
    standing = [own for own in large if own[:, 2].min() < ground and np.ptp(own[own[:, 2] < ground, :2], axis=0).max() > TIP * span]
    tall = [(own.min(axis=0), own.max(axis=0)) for own in standing if np.ptp(own[:, 2]) > 0.55 * span and np.ptp(own[:, 0]) > 0.12 * span]
    for number, (low, high) in enumerate(tall):
        for other_low, other_high in tall[number + 1 :]:
            if ((other_low[:2] > high[:2]) | (other_high[:2] < low[:2])).any():
                return "More than one figure stands here; choose one of them."
    return None


def _has_arms(figure: Figure, own: FloatArray) -> bool:
    """True when there are arms down to the hands: a bust has none, a figure in a long dress has."""
    armature = figure.armature
    if armature is not None:
        carrying = carrying_bones(figure)
        keys = {key.lower() for key, name in figure.humanoid.items() if name in carrying}
        if {"lefthand", "righthand"} <= keys:
            return True
        hands = [words.side_of(bone.name) for bone in armature.bones if bone.name in carrying and words.has_word(bone.name, words.HAND, words.HAND_SIGNS)]
        if carrying:
            return {1, -1} <= set(hands)
    return _stretches_out(own)


def _stretches_out(own: FloatArray) -> bool:
    """True for points (n, 3) that reach far to both sides in something thin over the ground: arms, no wide head."""
    height, low = float(np.ptp(own[:, 2])), float(own[:, 2].min())
    side = (own[:, 0].max() + own[:, 0].min()) / 2
    tips = [own[hand * (own[:, 0] - side) > 0.4 * np.ptp(own[:, 0])] for hand in (1, -1)]
    if float(np.ptp(own[:, 0])) <= 0.5 * height:
        return False
    return all(float(np.ptp(tip[:, 2])) < THIN * height and float(tip[:, 2].min()) > low + OFF_GROUND * height for tip in tips)


def _refuse_shape(own: FloatArray) -> str | None:
    height = float(np.ptp(own[:, 2]))
    lowest = own[own[:, 2] < own[:, 2].min() + 0.06 * height]
    spread = float(np.linalg.norm(np.ptp(lowest[:, :2], axis=0)))
    if spread > 0.75 * height or height <= 0:
        return "This shape does not stand upright on two feet as far as can be seen; pin crown, chin and sole to count heads."
    return None


def _below_head(body: Body, framed: FloatArray) -> FloatArray:
    """The surface without what follows the head: ears that hang low are no legs."""
    if body.head_how != "weights":
        return _surface(body, framed, 0.65)
    return _surface(replace(body, worn=body.worn | (body.head > 0.5)), framed)


def _surface(body: Body, framed: FloatArray, highest: float = 1.0) -> FloatArray:
    """Points all over what is not worn, so that a gap between points is a gap in the figure.

    Only faces that begin below the share ``highest`` of the figure's height.
    """
    faces = body.triangles[~body.worn[body.triangles].any(axis=1)]
    if not len(faces):
        return framed[~body.worn]
    height = framed[:, 2]
    low, span = float(height[faces].min()), float(np.ptp(height[faces]))
    faces = faces[height[faces].min(axis=1) <= low + highest * span]
    used, compact = np.unique(faces, return_inverse=True)
    return dense(framed[used], compact.reshape(-1, 3), span / 130)
