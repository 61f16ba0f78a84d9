"""The ends of the hands: by weights to the hand, by finger bones, or as the tips of level arms."""

from dataclasses import dataclass

import numpy as np

from ..figure import Armature, Figure, FloatArray
from .parts.body import Body

FEWEST = 4
"""Fewer points than this on a hand tell nothing of its end."""
LONGEST = 1.6
"""A hand longer than this many lower arms holds something; common practice, no source."""


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
        return Tips(places[0], places[1], "weights", "farthest point from the wrist that follows the hand", 0.01)
    return Tips(places[0], places[1], "bones", "ends of the longest fingers' bones", 0.03)


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
        rows = part.weights.of_groups(names, len(part.points)) > 0.5
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
    height = high - low
    left, right = own[np.argmax(own[:, 0])], own[np.argmin(own[:, 0])]
    middle, reach = (left[0] + right[0]) / 2, (left[0] - right[0]) / 2
    if 2 * reach < 0.6 * height or abs(left[2] - right[2]) > 0.04 * height:
        return None
    level = (left[2] + right[2]) / 2
    if not low + 0.25 * height < level < chin + 0.02 * height:
        return None
    outer = own[np.abs(own[:, 0] - middle) > 0.7 * reach]
    thick = outer[:, 2].max() - outer[:, 2].min()
    trunk = own[np.abs(own[:, 0] - middle) < 0.3 * reach]
    if thick > 0.15 * height or np.abs(outer[:, 2] - level).max() > 0.12 * height or np.ptp(trunk[:, 2]) < 0.6 * height:
        return None
    return Tips(left, right, "shape", "outermost points of the level arms", 0.02)
