"""Where the figure stands: the lowest point of its feet, by weights or by shape."""

from dataclasses import replace

import numpy as np

from ...extents import extent_of
from ...figure import FloatArray
from ...findings import Reading
from ..parts.body import WELD, Body, BoolArray
from ..points.islands import boxes_of, label_pieces
from ..points.sample import dense
from ..spot import Spot
from .legs import LEGS_END, SAMPLES, legs_of
from .standing import Feet, feet_of

SLACK, LOWEST_SLACK = 0.002, 3
"""How far off the lowest point of feet may be, in heights, and how many times as far that of the whole body, which may be
no foot. Our choice."""
TOWARDS_LOWEST = 0.1
"""Where something lies lower than the feet, the range reaches towards it by this share of the way. Our choice."""
AHEAD, SOLES, NEAR = 0.03, 0.03, 0.1
"""What is lowest stands clearly ahead of other feet by the first share of the height; of both what lies within the second
of its lowest point is compared, of the feet what is no further to the side than the third. Our choice."""
HANGS = 0.5
"""A tail that follows the legs hangs no further up than this share of the height. Our choice."""
SIDES = (0.02, 0.98)
"""Shares of what follows the legs, from right to left, between whose places the middle lies: single points tell nothing."""
SHOE, ANKLE = 0.04, 0.15
"""A shoe is hardly longer or broader than the foot in it by the first share of the height, and as high as the second. Our choice."""
UNDER = 0.02
"""A slab under the foot begins no further below it than this share of the height. Our choice."""
NO_LEGS, AT_FEET = 0.15, 0.08
"""Legs have no skin where what follows them ends further above the ends of their bones than the first share of the height;
a gown's hem lies within the second of these. Our choice."""
UNSEEN = 0.06
"""How far off the ground may be, in heights of the figure, where no two legs are to be seen."""


def find_sole(body: Body, framed: FloatArray, bones: float | None = None) -> Spot | None:
    """The lowest point of feet and legs by weight; else of the feet by shape; None if empty.

    ``bones`` is the height to which the bones of legs and feet reach down, where there are any.
    """
    legs = body.follows_legs & ~body.worn
    chosen = legs if legs.any() else ~body.worn
    if not chosen.any():
        return None
    own = framed[chosen]
    point = own[np.argmin(own[:, 2])]
    lowest = float(point[2])
    slack = SLACK * float(np.ptp(framed[:, 2]))
    bottom = Reading("lowest point of the body", lowest, lowest - LOWEST_SLACK * slack, lowest + LOWEST_SLACK * slack)
    if legs.any():
        hem = None if bones is None else _hem(body, framed, lowest, bones, slack)
        return hem or _by_weights(body, framed, legs, bottom, slack)
    surface = surface_of(body, framed, LEGS_END)
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
    low = foot - slack - TOWARDS_LOWEST * (foot - lowest)
    return Spot(foot, told.point, "shape", low, foot + slack, seen.method, (seen, bottom))


def _hem(body: Body, framed: FloatArray, legs: float, bones: float, slack: float) -> Spot | None:
    """The lower end of a gown that stands where legs and feet are but bones: what follows them ends far above, at ``legs``."""
    size = float(np.ptp(framed[:, 2]))
    rest = framed[~body.worn & ~body.follows_head]
    point = rest[np.argmin(rest[:, 2])] if len(rest) else None
    if legs < bones + NO_LEGS * size or point is None or abs(point[2] - bones) > AT_FEET * size:
        return None
    seen = Reading("hem of a gown over legs that are but bones", float(point[2]), min(float(point[2]), bones) - slack, max(float(point[2]), bones) + slack)
    return Spot(seen.height, point, "weights", seen.low, seen.high, seen.method, (seen,))


def _stands_in_front(surface: FloatArray, told: Feet, size: float) -> bool:
    """True where what is lowest lies ahead of the ``told`` feet: tails and capes hang behind, so it is a foot."""
    lowest = surface[surface[:, 2] < surface[:, 2].min() + SOLES * size]
    feet = surface[(surface[:, 2] >= told.point[2]) & (surface[:, 2] < told.point[2] + SOLES * size)]
    if not len(feet):
        return False
    near = feet[np.linalg.norm(feet[:, :2] - told.point[:2], axis=1) < NEAR * size]
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
    low = faces[framed[faces][:, :, 2].min(axis=1) < bottom.height + HANGS * size]
    used, compact = np.unique(low, return_inverse=True)
    surface = dense(framed[used], compact.reshape(-1, 3), size / SAMPLES) if len(low) else own
    told = feet_of(surface, _between(own), size)
    if told is not None and told.told and float(told.point[2]) > bottom.height + slack:
        point = told.point
    point = _under_foot(body, framed, legs, point, size)
    foot = float(point[2])
    feet = Reading("lowest point that follows the legs or feet", foot, foot - slack, foot + slack)
    hanging = (replace(bottom, method="lowest point that follows the legs, in the middle as a tail or cape hangs"),) if foot > bottom.height else ()
    low_end = feet.low - TOWARDS_LOWEST * (foot - bottom.height)
    return Spot(foot, point, "weights", low_end, feet.high, feet.method, (feet, *hanging))


def _under_foot(body: Body, framed: FloatArray, legs: BoolArray, point: FloatArray, size: float) -> FloatArray:
    """The lowest point of shoes that follow no bone, on or under the feet that end at ``point``; ``point`` where there are none."""
    if not len(body.loose) or not body.loose.any():
        return point
    feet = framed[legs & (framed[:, 2] > point[2] - SHOE * size) & (framed[:, 2] < point[2] + ANKLE * size)]
    if not len(feet):
        return point
    piece = label_pieces(framed, body.triangles, WELD * float(extent_of(framed).max()))
    low, high = boxes_of(framed[body.loose], piece[body.loose], int(piece.max()) + 1)
    inside = (low[:, :2] > feet[:, :2].min(axis=0) - SHOE * size).all(axis=1) & (high[:, :2] < feet[:, :2].max(axis=0) + SHOE * size).all(axis=1)
    shoes = inside & (high[:, 2] > point[2] - UNDER * size) & (high[:, 2] < point[2] + ANKLE * size) & (low[:, 2] > point[2] - ANKLE * size)
    own = framed[body.loose & shoes[piece]]
    lowest = own[np.argmin(own[:, 2])] if len(own) else point
    return lowest if lowest[2] < point[2] else point


def _between(own: FloatArray) -> float:
    """The middle from side to side of what follows both legs."""
    right, left = (np.quantile(own[:, 0], share) for share in SIDES)
    return float((right + left) / 2)


def surface_of(body: Body, framed: FloatArray, highest: float = 1.0) -> FloatArray:
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
    return dense(framed[used], compact.reshape(-1, 3), span / SAMPLES)
