"""Crown and chin of a head that weights, or an object's name, tell from the body."""

import numpy as np

from ...figure import Figure, FloatArray
from ..directions.frame import to_frame, up_of
from ..face.chin import find_chin
from ..face.chin_hints import jaw_reading
from ..parts.body import FEWEST, Body
from ..skull.crown import crown_over, find_crown
from ..spot import Spot
from .build import doubted_by_build
from .head_rig import head_rig_of
from .own_skin import with_own_skin
from .region import Head, head_of, pieces_of
from .short_weights import NEARER, down_to, neck_under

UPRIGHT, RISES = 0.5, 0.2
"""A head bone that rises by less than the first share of its length, or the second of what is above its start, tells nothing
of what is below it. Our choice."""
BELOW_BONE = 1.0
"""A chin lies no further below the start of the head bone, in heights of what is above. Our choice."""
BY_NAME = 0.01
"""An object's name is weaker evidence than weights: its range is wider by this share of the head to both sides. Our choice."""


def find_by_weights(figure: Figure, body: Body, framed: FloatArray, forward: FloatArray, pinned: Spot | None) -> tuple[Spot, Spot]:
    """Crown and chin of points (n, 3) in the frame that faces ``forward``; the crown is ``pinned`` where that is known."""
    how = body.head_how
    piece = pieces_of(body, framed)
    rig = head_rig_of(figure, body.head_bone, forward)
    body, head = with_own_skin(body, framed, piece, rig.start)
    crown = pinned or find_crown(body, head, how, rig.end)
    floor = _floor_of(figure, body, head, crown.height, forward)
    if floor is not None:
        kept = (framed[:, 2] > floor) | (body.follows_jaw if len(body.jaw) else False)
        head = head_of(body, framed, piece, head.own & kept, barred=~np.isin(piece, piece[head.skull]))
    chin = find_chin(body, head, crown.height, how, bone=rig.start)
    neck = neck_under(body, head, chin, crown.height, rig.start) if how == "weights" else None
    if neck is not None:
        whole, below = down_to(body, head, neck, crown.height)
        over = pinned or find_crown(body, whole, how, rig.end)
        lower = find_chin(body, whole, over.height, "shape", below, rig.start)
        jaw = jaw_reading(body, whole, over.height - chin.height)
        if lower.height < chin.height - NEARER * (crown.height - chin.height) and (jaw is None or jaw.low <= lower.height):
            head, crown, chin = whole, over, lower
    if pinned is None:
        crown = crown_over(body, head, how, crown, chin.height, rig.end)
    chin = doubted_by_build(chin, crown.height, head.width)
    if how == "object":
        size = crown.height - chin.height
        crown, chin = _weigh_object(crown, size), _weigh_object(chin, size)
    return crown, chin


def _weigh_object(spot: Spot, size: float) -> Spot:
    """The spot with the wider range of what an object's name tells."""
    return Spot(
        spot.height, spot.point, "shape", spot.low - BY_NAME * size, spot.high + BY_NAME * size,
        f"{spot.evidence}, where the head is taken from an object's name", spot.readings,
    )


def _floor_of(figure: Figure, body: Body, head: Head, crown: float, forward: FloatArray) -> float | None:
    """A height no chin lies below but one that follows the jaw bone, where the weights let the head reach far under its bone's start."""
    if body.head_how != "weights" or body.head_bone is None or figure.armature is None:
        return None
    bone = figure.armature.by_name[body.head_bone]
    start, end = to_frame(np.asarray([bone.head, bone.tail], float), forward, up_of(figure))[:, 2]
    size, rise = crown - float(start), float(end - start)
    upright = rise > RISES * size > 0 and rise > UPRIGHT * float(np.linalg.norm(bone.tail - bone.head))
    floor = float(start) - BELOW_BONE * size
    return floor if upright and head.low < floor and (head.framed[head.skull][:, 2] > floor).sum() > FEWEST else None
