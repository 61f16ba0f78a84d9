"""Which way is up for a rig that lies in the scene, as figures do that came in along another axis."""

import numpy as np

from ...figure import Armature, FloatArray
from ...name_words import words_of
from ...sides import pairs
from ..parts import words
from .frame import unit

LEANS = 0.7
"""A spine whose direction has at least this share of the scene's up stands; legs whose direction has as much of
the spine's opposite belong to something that walks upright. Our choice."""
LEVEL = 0.34
"""One that rises or falls less than this, about 20 degrees, lies level. Our choice."""
TURNED = 0.02
"""An up direction that leans to the figure's side by more than this is set square to it. Our choice."""
ALONG = 0.94
"""A spine within about 20 degrees of an axis of the scene lies along that axis. Our choice."""
HIPS = frozenset({"hips", "hip", "pelvis"})
HIPS_SIGNS = ("下半身", "腰")
ARMS = frozenset({"shoulder", "clavicle", "collar", "arm", "upperarm", "uparm"})
ARMS_SIGNS = ("肩", "腕")
FOOT_SIGNS = ("足首", "つま先")


def guess_up(armature: Armature) -> tuple[float, float, float] | None:
    """Unit up direction in world space of a rig whose spine does not rise; None where it does, or for four legs.

    Told by names: from hips to head, and from hips to feet, which is the opposite way in what walks upright.
    """
    ways = _ways(armature)
    if ways is None:
        return None
    spine, legs = ways
    if spine[2] >= LEANS or float(spine @ legs) > -LEANS:
        return None
    axis = int(np.argmax(np.abs(spine)))
    if abs(spine[axis]) >= ALONG:
        spine = np.eye(3)[axis] * np.sign(spine[axis])
    elif abs(spine[2]) < LEVEL:
        spine = spine * [1.0, 1.0, 0.0] / np.hypot(spine[0], spine[1])
    spine = _square(spine, _across(armature))
    return float(spine[0]), float(spine[1]), float(spine[2])


def _square(up: FloatArray, across: FloatArray | None) -> FloatArray:
    """``up`` without what of it points ``across`` the figure; the very same where that is next to nothing."""
    lean = 0.0 if across is None else float(up @ across)
    square = None if across is None or abs(lean) < TURNED else unit(up - lean * across)
    return up if square is None else square


def _across(armature: Armature) -> FloatArray | None:
    """The unit direction from bones called right to those called left like them; None where there are no such pairs."""
    places = {bone.name: bone.head for bone in armature.bones if bone.is_placed}
    found = pairs(places)
    if not found.left:
        return None
    ways = [places[left] - places[right] for left, right in zip(found.left, found.right, strict=True)]
    return unit(np.sum(ways, axis=0))


def names_its_way(armature: Armature) -> bool:
    """True where the bones' names tell hips, head and feet, and with them which way is up."""
    return _ways(armature) is not None


def _ways(armature: Armature) -> tuple[FloatArray, FloatArray] | None:
    """The unit directions from hips to head and from hips to feet; None where the names do not tell these."""
    hips = _mean(armature, HIPS, HIPS_SIGNS)
    hips = _top_of(armature, words.LEG, words.LEG_SIGNS) if hips is None else hips
    head = _mean(armature, words.HEAD, words.HEAD_SIGNS)
    head = _top_of(armature, ARMS, ARMS_SIGNS) if head is None else head
    feet = _mean(armature, words.FOOT, FOOT_SIGNS)
    if hips is None or head is None or feet is None:
        return None
    spine, legs = unit(head - hips), unit(feet - hips)
    return None if spine is None or legs is None else (spine, legs)


def _top_of(armature: Armature, named: frozenset[str], signs: tuple[str, ...]) -> FloatArray | None:
    """(3,) the middle of where limbs of such names begin, for a rig whose trunk is called otherwise; None unless on both sides."""
    limbs = {bone.name for bone in armature.bones if words.has_word(bone.name, named, signs) is not None}
    tops = [bone for bone in armature.bones if bone.name in limbs and bone.parent not in limbs and bone.is_placed]
    sided = [bone for bone in tops if words.side_of(bone.name)]
    if {words.side_of(bone.name) for bone in sided} != {1, -1}:
        return None
    return np.asarray(np.mean([bone.head for bone in sided], axis=0), float)


def _mean(armature: Armature, named: frozenset[str], signs: tuple[str, ...]) -> FloatArray | None:
    """(3,) the middle of where the bones of such names start, helpers left out."""
    places = [
        bone.head for bone in armature.bones
        if words.has_word(bone.name, named, signs) is not None
        and not set(words_of(bone.name)) & words.HELPER and np.isfinite(bone.head).all()
    ]
    return np.mean(places, axis=0) if places else None
