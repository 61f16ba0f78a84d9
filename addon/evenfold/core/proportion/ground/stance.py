"""Whether a figure stands on two legs at all, so that its heads can honestly be counted."""

from dataclasses import replace

import numpy as np

from ...extents import extent_of
from ...figure import Armature, Figure, FloatArray, IntArray
from ...name_words import words_of
from ..directions.frame import up_of
from ..directions.lying import lies
from ..parts import words
from ..parts.body import Body
from ..parts.named_bones import carrying_bones, leg_bones
from .gown import hides_legs
from .legs import LEGS_END, arms_of, legs_of
from .sole import surface_of
from .standing_pieces import refuse_several, two_legs_apart

THIN, OFF_GROUND = 0.3, 0.06
"""Arms are thinner and further off the ground than these shares of the height where they end. Our choice."""
INNER, OUTER = (0.4, THIN), (0.45, 0.12)
"""Further than the first from the middle, in shares of what reaches from side to side, arms are one way thinner than the second,
in heights: a cut-off shoulder is not so further in, a wide head not at its very ends. What a rig calls an arm may reach out
little further than the head. Our choice."""
REACHES = 0.5
"""What reaches from side to side no further than this share of the height holds out no arms. Our choice."""
LOWEST, SPREAD = 0.06, 0.75
"""What lies within the first of the lowest point spreads no further over the ground than the second where a figure stands upright,
in heights. Our choice."""


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
    if "sole" in pinned or (body.follows_legs & ~body.worn).any():
        return None
    own = framed[~body.worn]
    height = float(np.ptp(own[:, 2]))
    surface = _below_head(body, framed)
    stands = legs_of(surface, height)
    if stands == "four" and (armature is None or body.head_bone is None or not _knows_arms(figure)):
        return "This stands on four legs or is more than one figure, and heads are not counted on it; pin crown, chin and sole to count them all the same."
    if body.head_how != "weights" and body.head_bone is None and _lies_by_shape(figure, body, stands):
        return "This figure seems to lie in the scene, and its shape does not tell which end is up; turn it upright, or pin crown, chin and sole."
    if stands != "none":
        return refuse_several(body, framed) if armature is None or body.head_bone is None else None
    if armature is None and body.head_how == "none" and _refuse_shape(own) is not None:
        return _refuse_shape(own)
    hanging = (arms_of(surface, height) or hides_legs(surface, height)) and not _legs_carry_nothing(figure, body)
    if not (_has_arms(figure, own) or two_legs_apart(body, framed, height) or hanging):
        return "No legs or feet were found, so this looks like a bust; pin the sole to have the heads counted."
    return None


def _has_front_and_back_legs(armature: Armature) -> bool:
    front = back = False
    for bone in armature.bones:
        found = set(words_of(bone.name))
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


def _lies_by_shape(figure: Figure, body: Body, stands: str) -> bool:
    """True where the scene's Z is taken for up and the shape lies along another of its axes.

    What ``stands`` on two legs and is higher than deep only stretches its arms.
    """
    own = body.points[~body.worn]
    if up_of(figure)[2] < 1 - 1e-6 or (stands == "two" and np.ptp(own[:, 2]) > extent_of(own).min()):
        return False
    return lies(own, _kept_faces(body))


def _kept_faces(body: Body) -> IntArray:
    """(t, 3) triangles of what is not worn, as rows of its points alone."""
    faces = body.triangles[~body.worn[body.triangles].any(axis=1)]
    return np.asarray((np.cumsum(~body.worn) - 1)[faces], np.int64)


def _knows_arms(figure: Figure) -> bool:
    """True where the rig has arms."""
    return any("arm" in key.lower() or "hand" in key.lower() for key in figure.humanoid)


def _has_arms(figure: Figure, own: FloatArray) -> bool:
    """True when there are arms down to the hands or elbows: a bust has none, a figure in a long dress has."""
    armature = figure.armature
    if armature is not None:
        carrying = carrying_bones(figure)
        keys = {key.lower() for key, name in figure.humanoid.items() if name in carrying}
        if {"lefthand", "righthand"} <= keys or {"leftlowerarm", "rightlowerarm"} <= keys:
            return True
        hands = [words.side_of(bone.name) for bone in armature.bones if bone.name in carrying and words.has_word(bone.name, words.HAND, words.HAND_SIGNS)]
        if {1, -1} <= set(hands):
            return True
        if carrying:
            return any("arm" in key for key in keys) and _stretches_out(own, *OUTER)
    return _stretches_out(own, *INNER) and _stretches_out(own, *OUTER)


def _stretches_out(own: FloatArray, outer: float, slim: float) -> bool:
    """True for points (n, 3) that reach far to both sides in something thin over the ground: arms, no wide head.

    The ends are what lies further than the share ``outer`` of the breadth from the middle; one way at least they are
    thinner than the share ``slim`` of the height.
    """
    height, low = float(np.ptp(own[:, 2])), float(own[:, 2].min())
    side = (own[:, 0].max() + own[:, 0].min()) / 2
    tips = [own[hand * (own[:, 0] - side) > outer * np.ptp(own[:, 0])] for hand in (1, -1)]
    if float(np.ptp(own[:, 0])) <= REACHES * height:
        return False
    extent = np.array([extent_of(tip)[1:] for tip in tips])
    thin = (extent[:, 1] < THIN * height) & (extent.min(axis=1) < slim * height)
    return bool(thin.all()) and all(float(tip[:, 2].min()) > low + OFF_GROUND * height for tip in tips)


def _legs_carry_nothing(figure: Figure, body: Body) -> bool:
    """True where a rig that carries the head has legs that nothing follows: they were not modelled, or are cut off."""
    legs = leg_bones(figure)
    return body.head_how == "weights" and bool(legs) and not legs & carrying_bones(figure)


def _refuse_shape(own: FloatArray) -> str | None:
    height = float(np.ptp(own[:, 2]))
    lowest = own[own[:, 2] < own[:, 2].min() + LOWEST * height]
    spread = float(np.linalg.norm(extent_of(lowest[:, :2])))
    if spread > SPREAD * height or height <= 0:
        return "This shape does not stand upright on two feet as far as can be seen; pin crown, chin and sole to count heads."
    return None


def _below_head(body: Body, framed: FloatArray) -> FloatArray:
    """The surface without what follows the head: ears that hang low are no legs."""
    if body.head_how != "weights":
        return surface_of(body, framed, LEGS_END)
    return surface_of(replace(body, worn=body.worn | body.follows_head), framed)
