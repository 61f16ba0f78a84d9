"""The ends of the hands: by weights to the hand, by finger bones, or as the tips of level arms."""

from dataclasses import dataclass

import numpy as np

from ..figure import Armature, Figure, FloatArray
from .parts.body import Body
from .parts.named_bones import MAINLY

FEWEST = 4
"""Fewer points than this on a hand tell nothing of its end."""
LONGEST = 1.6
"""A hand longer than this many lower arms holds something; common practice, no source."""
BY_WEIGHTS, BY_BONES, BY_SHAPE = 0.01, 0.03, 0.02
"""How far off a fingertip may be, in heights of the figure, by what tells it. Our choice."""
SPAN, EVEN = 0.6, 0.04
"""Level arms reach further than the first from tip to tip, and their tips are as high as each other to within the second, in
heights of the figure. Our choice."""
OVER_SOLE, OVER_CHIN = 0.25, 0.02
"""The tips lie higher over the sole than the first, and no higher over the chin than the second, in the same heights. Our choice."""
OUTER, THICK, OFF_LEVEL = 0.7, 0.15, 0.12
"""Further out than the first, in lengths from the middle to a tip, all lies within the second in height, and no further than the
third above or below the tips, in heights of the figure. Our choice."""
INNER, TRUNK = 0.3, 0.6
"""Within the first of the middle, in the same lengths, the trunk is higher than the second, in heights of the figure. Our choice."""


@dataclass(frozen=True)
class Tips:
    """``left`` and ``right`` (3,) in the figure's frame; ``slack`` as a share of the height."""

    left: FloatArray
    right: FloatArray
    how: str
    evidence: str
    slack: float


def tips_of_hands(figure: Figure, body: Body, framed: FloatArray, axes: FloatArray) -> Tips | None:
    """The farthest point of each hand from its wrist; None unless both sides have one."""
    armature = figure.armature
    if armature is None:
        return None
    places: list[FloatArray] = []
    weighted = True
    for side in ("left", "right"):
        name = figure.humanoid.get(f"{side}Hand", "")
        if name not in armature.by_name:
            return None
        wrist = axes @ np.asarray(armature.by_name[name].head, float)
        longest = _longest(figure, armature, side, name)
        tip = _weighted_tip(figure, body, framed, armature.below(name), wrist, longest)
        if tip is None:
            weighted = False
            tip = _bone_tip(figure, armature, side, axes)
        if tip is None:
            return None
        places.append(tip)
    if weighted:
        return Tips(places[0], places[1], "weights", "farthest point from the wrist that follows the hand", BY_WEIGHTS)
    return Tips(places[0], places[1], "bones", "ends of the longest fingers' bones", BY_BONES)


def _longest(figure: Figure, armature: Armature, side: str, hand: str) -> float:
    lower = armature.by_name.get(figure.humanoid.get(f"{side}LowerArm", ""))
    if lower is None:
        return float("inf")
    return LONGEST * float(np.linalg.norm(armature.by_name[hand].head - lower.head))


def _weighted_tip(
    figure: Figure, body: Body, framed: FloatArray, names: frozenset[str], wrist: FloatArray, longest: float
) -> FloatArray | None:
    found: list[FloatArray] = []
    start = 0
    for part in figure.parts:
        rows = part.weights.of_groups(names, len(part.points)) > MAINLY
        rows &= ~body.worn[start : start + len(part.points)]
        found.append(framed[start : start + len(part.points)][rows])
        start += len(part.points)
    own = np.concatenate(found) if found else np.zeros((0, 3))
    if len(own) < FEWEST:
        return None
    far = np.linalg.norm(own - wrist, axis=1)
    return own[np.argmax(far)] if far.max() <= longest else None


def _bone_tip(figure: Figure, armature: Armature, side: str, axes: FloatArray) -> FloatArray | None:
    """The end of the middle finger's last bone, else of any finger but the thumb."""
    for finger in ("Middle", "Index", "Ring", "Little"):
        for link in ("Distal", "Intermediate", "Proximal"):
            bone = armature.by_name.get(figure.humanoid.get(f"{side}{finger}{link}", ""))
            if bone is not None:
                return np.asarray(axes @ np.asarray(bone.tail, float), float)
    return None


def tips_by_shape(own: FloatArray, low: float, high: float, chin: float) -> Tips | None:
    """The outermost points of a figure whose arms are level; None when they do not look it.

    ``own`` (n, 3) side, forward, up; heights of sole, crown and chin. Level arms reach far out,
    end below the chin and at one height on both sides, and the outer part of each is thin.
    """
    left, right = own[np.argmax(own[:, 0])], own[np.argmin(own[:, 0])]
    middle, reach = (left[0] + right[0]) / 2, (left[0] - right[0]) / 2
    level, height = (left[2] + right[2]) / 2, high - low
    if 2 * reach < SPAN * height or abs(left[2] - right[2]) > EVEN * height:
        return None
    if not low + OVER_SOLE * height < level < chin + OVER_CHIN * height:
        return None
    aside = np.abs(own[:, 0] - middle)
    outer, trunk = own[aside > OUTER * reach, 2], own[aside < INNER * reach, 2]
    if np.ptp(outer) > THICK * height or np.abs(outer - level).max() > OFF_LEVEL * height or np.ptp(trunk) < TRUNK * height:
        return None
    return Tips(left, right, "shape", "outermost points of the level arms", BY_SHAPE)
