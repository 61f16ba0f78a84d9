"""What the rig says of the head: where its bone starts and where it ends."""

from dataclasses import dataclass

import numpy as np

from ...figure import Armature, Figure, FloatArray
from ...name_words import words_of
from ..directions.frame import to_frame, up_of
from ..parts import words

UPRIGHT = 0.3
"""A head bone that rises by less than this share of its length tells no height."""
ASIDE = 0.25
"""An end bone lies no further to the side or to the front than this share of how high it is over the start."""


@dataclass(frozen=True)
class HeadRig:
    """Heights along the figure's up direction, in scene units; None where the rig does not tell.

    ``start`` and ``end`` of the head bone; the end is that of a bone named as its end, where there is one.
    """

    start: float | None = None
    end: float | None = None


def head_rig_of(figure: Figure, head_bone: str | None, forward: FloatArray) -> HeadRig:
    """Where the bone named ``head_bone`` starts and ends, in the frame that faces ``forward``."""
    if figure.armature is None or head_bone is None:
        return HeadRig()
    bone = figure.armature.by_name[head_bone]
    ends = to_frame(np.asarray([bone.head, bone.tail], float), forward, up_of(figure))
    rise, length = float(ends[1, 2] - ends[0, 2]), float(np.linalg.norm(ends[1] - ends[0]))
    if not np.isfinite(ends).all():
        return HeadRig()
    named = _named_end(figure.armature, head_bone)
    place = ends[1] if named is None else to_frame(named[None], forward, up_of(figure))[0]
    high = float(place[2] - ends[0, 2])
    straight = high > 0 and float(np.linalg.norm(place[:2] - ends[0, :2])) < ASIDE * high
    upright = rise > UPRIGHT * length > 0
    return HeadRig(float(ends[0, 2]) if upright else None, float(place[2]) if straight else None)


def _named_end(armature: Armature, head_bone: str) -> FloatArray | None:
    """(3,) the start of the bone under the head bone that is named as its end or top."""
    for bone in armature.bones:
        found = set(words_of(bone.name))
        is_end = bool(found & words.END) and words.has_word(bone.name, words.HEAD, words.HEAD_SIGNS) is not None
        if bone.parent == head_bone and is_end and np.isfinite(bone.head).all():
            return np.asarray(bone.head, float)
    return None
