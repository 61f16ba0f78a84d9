"""The foot's own sole: the underside of the foot below its ankle, where a heel or platform lifts it."""

from dataclasses import dataclass

import numpy as np

from ...figure import Figure, FloatArray
from ...findings import Reading
from ..fuse import fuse
from ..parts import words
from ..parts.body import FEWEST, Body, BoolArray
from ..spot import Spot
from .arch import arch_below

FOOTWEAR = frozenset(
    ["boot", "boots", "shoe", "shoes", "heel", "heels", "sandal", "sandals", "platform", "platforms", "slipper", "slippers", "sneaker", "sneakers", "clog", "clogs", "pumps", "footwear"]
)
FOOTWEAR_SIGNS = ("靴", "ブーツ", "ヒール", "サンダル")
CLEAR = 0.012
"""Foot and figure stand on the same unless they differ by this share of the height. Our choice."""
ANKLE = (0.3, 0.51, 0.75)
"""Least, usual and most height of the ankle over the sole, in lengths from ankle to toe joint.

Usual: ankle 0.039 and foot length 0.152 of stature (Drillis and Contini, in Winter, from memory),
the toe joint at half a foot's length before the ankle; least and most are our choice.
"""
TOE = (0.02, 0.2, 0.45)
"""The same for the toe joint. Our choice: no source."""
AHEAD, FARTHEST_TOE = 0.5, 0.4
"""A toe joint lies ahead of the ankle by more than this share of how far it lies below, and less far off than the second, in
heights of the figure: other bones end elsewhere. Our choice."""
NEAR, NEAR_WITH_TOE, OVER_ANKLE = 0.12, 1.6, 0.05
"""To the foot belongs what lies around its ankle within the first, in heights of the figure, or within the second, in lengths
from ankle to toe joint, and no further above it than the third, in heights. Our choice."""
BARE_LENGTH, HEEL = 0.07, 1.5
"""A bare foot reaches further ahead of the ankle than the toe joint does, or than the first, in heights, without one; and
than so many times as far as behind it: a cut-off shin does not. Our choice."""
UNDER_ANKLE, SLACK = 0.01, 0.005
"""It ends below the ankle by this share of the height; how far off its underside may be, in heights. Our choice."""


@dataclass(frozen=True)
class _Foot:
    """One foot in the figure's frame: ``ankle``, ``toe`` (3,), ``near`` (n,) of the body's points."""

    ankle: FloatArray
    toe: FloatArray | None
    near: BoolArray

    @property
    def length(self) -> float:
        return 0.0 if self.toe is None else float(np.linalg.norm(self.toe - self.ankle))


def footwear_of(figure: Figure) -> BoolArray:
    """(n,) which of all parts' points are named footwear, by object or material."""
    rows = []
    for part in figure.parts:
        mine = np.full(len(part.points), words.has_word(part.name, FOOTWEAR, FOOTWEAR_SIGNS) is not None)
        for number, name in enumerate(part.materials):
            if len(part.triangle_material) and words.has_word(name, FOOTWEAR, FOOTWEAR_SIGNS):
                mine[part.triangles[part.triangle_material == number].ravel()] = True
        rows.append(mine)
    return np.concatenate(rows) if rows else np.zeros(0, bool)


def find_foot_sole(figure: Figure, body: Body, framed: FloatArray, axes: FloatArray, sole: Spot, height: float) -> Spot | None:
    """The foot's own sole where it lies clearly above where the figure stands; else None.

    Known from a foot modelled apart from its footwear, from an open arch before a heel, or from
    ankle and toe joint over named footwear.
    """
    footwear = footwear_of(figure)
    foot = _standing_foot(figure, body, framed, axes, height)
    if foot is None:
        found = _named_foot(figure, body, framed, footwear, height)
    else:
        found = (
            _bare_foot(body, framed, footwear, foot, height)
            or _over_arch(body, framed, foot, sole.height)
            or _over_footwear(footwear, foot, sole.height)
        )
    if found is None or found.height < sole.height + CLEAR * height:
        return None
    return found


def _standing_foot(figure: Figure, body: Body, framed: FloatArray, axes: FloatArray, height: float) -> _Foot | None:
    """The lower foot by the bones of the humanoid map; None without an ankle."""
    armature, found = figure.armature, []
    for side in ("left", "right"):
        bone = armature.by_name.get(figure.humanoid.get(f"{side}Foot", "")) if armature is not None else None
        if armature is None or bone is None:
            continue
        toes = armature.by_name.get(figure.humanoid.get(f"{side}Toes", ""))
        ankle = axes @ np.asarray(bone.head, float)
        end = axes @ np.asarray(bone.tail if toes is None else toes.head, float)
        way = end - ankle
        ahead = np.linalg.norm(way[:2]) > AHEAD * abs(way[2]) and way[2] < 0 and np.linalg.norm(way) < FARTHEST_TOE * height
        if np.isfinite(ankle).all() and np.isfinite(end).all():
            found.append((ankle, end if ahead else None))
    if not found:
        return None
    ankle, toe = min(found, key=lambda one: float(one[0][2]))
    reach = NEAR * height if toe is None else NEAR_WITH_TOE * float(np.linalg.norm(toe - ankle))
    near = ~body.worn & (np.linalg.norm(framed[:, :2] - ankle[:2], axis=1) < reach) & (framed[:, 2] < ankle[2] + OVER_ANKLE * height)
    return _Foot(ankle, toe, near)


def _spot(place: FloatArray, reading: Reading, how: str, readings: tuple[Reading, ...] = ()) -> Spot:
    point = np.array([place[0], place[1], reading.height])
    return Spot(reading.height, point, how, reading.low, reading.high, reading.method, readings or (reading,))


def _bare_foot(body: Body, framed: FloatArray, footwear: BoolArray, foot: _Foot, height: float) -> Spot | None:
    """The underside of a foot modelled inside footwear of its own."""
    legs = body.follows_legs
    shod, bare = framed[foot.near & footwear], framed[foot.near & ~footwear & (legs | (not legs.any()))]
    if len(shod) < FEWEST or len(bare) < FEWEST:
        return None
    lowest = bare[np.argmin(bare[:, 2])]
    level = float(lowest[2])
    ahead = bare[bare[:, 2] < float(foot.ankle[2])] - foot.ankle
    way = np.array([0.0, BARE_LENGTH * height, 0.0]) if foot.toe is None else (foot.toe - foot.ankle) * [1.0, 1.0, 0.0]
    along = ahead @ way
    reaches = len(along) and along.max() > max(float(way @ way), -HEEL * along.min())
    if not reaches or level > float(foot.ankle[2]) - UNDER_ANKLE * height or level < float(shod[:, 2].min()):
        return None
    slack = SLACK * height
    return _spot(lowest, Reading("underside of the foot below the ankle, inside its footwear", level, level - slack, level + slack), "weights")


def _named_foot(figure: Figure, body: Body, framed: FloatArray, footwear: BoolArray, height: float) -> Spot | None:
    """Without bones: the underside of what is named a foot, inside what is named footwear."""
    rows = [np.full(len(part.points), words.has_word(part.name, words.FOOT) is not None) for part in figure.parts]
    named = np.concatenate(rows) & ~footwear & ~body.worn if rows else np.zeros(0, bool)
    if named.sum() < FEWEST or (footwear & ~body.worn).sum() < FEWEST:
        return None
    own = framed[named]
    lowest = own[np.argmin(own[:, 2])]
    level, slack = float(lowest[2]), SLACK * height
    return _spot(lowest, Reading("underside of what is named a foot, inside its footwear", level, level - slack, level + slack), "shape")


def _over_arch(body: Body, framed: FloatArray, foot: _Foot, ground: float) -> Spot | None:
    """Below the ankle on the line of the arch that is open between a heel and the ball of the foot."""
    if foot.toe is None or foot.length <= 0:
        return None
    faces = body.triangles[foot.near[body.triangles].any(axis=1)]
    found = arch_below(framed, faces, framed[foot.near], foot.ankle, foot.toe, ground)
    return None if found is None else _spot(foot.ankle, found, "shape")


def _over_footwear(footwear: BoolArray, foot: _Foot, ground: float) -> Spot | None:
    """By ankle and toe joint, both far above the ground, where footwear is named."""
    length = foot.length
    if foot.toe is None or length <= 0 or (foot.near & footwear).sum() < FEWEST:
        return None
    toe, ankle = float(foot.toe[2]), float(foot.ankle[2])
    if toe - ground < TOE[2] * length or ankle - ground < ANKLE[2] * length:
        return None
    readings = [
        Reading("the ankle's height, less what lies under an ankle", ankle - ANKLE[1] * length, ankle - ANKLE[2] * length, ankle - ANKLE[0] * length),
        Reading("the toe joint's height, less what lies under a toe joint", toe - TOE[1] * length, toe - TOE[2] * length, toe - TOE[0] * length),
    ]
    leader, low, high = fuse(readings)
    return _spot(foot.ankle, Reading(leader.method, leader.height, low, high), "bones", tuple(readings))
