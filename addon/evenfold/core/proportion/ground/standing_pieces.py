"""Pieces of their own that stand on the ground: two legs that were modelled apart, or more than one figure."""

import numpy as np

from ...extents import extent_of, high_of, low_of
from ...figure import FloatArray
from ..parts.body import WELD, Body
from ..points.islands import label_pieces

LEGS_GROUND, RISES = 0.03, 0.04
"""A leg begins within the first of the lowest point, and is higher than the second, in heights of the figure; lower is a shoe's sole. Our choice."""
ALIKE, OVERLAP, LEGS_TOP = 0.03, 0.1, 0.55
"""Two legs are as broad and high as each other to within the first, in heights of the figure; side by side they overlap by less
than the second share of the narrower; and they end lower than the third over where they stand. Our choice."""
GROUND, TIP = 0.05, 0.05
"""A figure begins within the first of the lowest point and is longer than the second where it meets the ground, in heights of all
that stands there: what ends in a tip hangs. Our choice."""
FEWEST, TALL, BROAD = 40, 0.55, 0.12
"""It has more points than this, and is taller than the second and broader than the third, in the same heights. Our choice."""


def two_legs_apart(body: Body, framed: FloatArray, height: float) -> bool:
    """True where two pieces alike stand on the ground, one on each side: legs modelled apart that touch."""
    piece = np.where(body.worn, -1, label_pieces(framed, body.triangles, WELD * height))
    ground = float(framed[~body.worn][:, 2].min()) + LEGS_GROUND * height
    standing = [framed[piece == one] for one in np.unique(piece[(piece >= 0) & (framed[:, 2] < ground)])]
    boxes = [(low_of(own), high_of(own)) for own in standing if np.ptp(own[:, 2]) > RISES * height]
    if len(boxes) != 2:
        return False
    (low, high), (other_low, other_high) = boxes
    alike = np.abs((high - low) - (other_high - other_low)).max() < ALIKE * height
    narrower = min(high[0] - low[0], other_high[0] - other_low[0])
    beside = max(low[0], other_low[0]) > min(high[0], other_high[0]) - OVERLAP * narrower
    return bool(alike and beside and max(high[2], other_high[2]) < ground + LEGS_TOP * height)


def refuse_several(body: Body, framed: FloatArray) -> str | None:
    """A sentence where tall pieces stand apart from each other."""
    span = float(np.ptp(framed[~body.worn][:, 2]))
    piece = np.where(body.worn, -1, label_pieces(framed, body.triangles, WELD * span))
    ground = float(framed[~body.worn][:, 2].min()) + GROUND * span
    large = [framed[piece == one] for one in np.flatnonzero(np.bincount(piece[piece >= 0]) > FEWEST)]
    standing = [own for own in large if own[:, 2].min() < ground and extent_of(own[own[:, 2] < ground, :2]).max() > TIP * span]
    tall = [(low_of(own), high_of(own)) for own in standing if np.ptp(own[:, 2]) > TALL * span and np.ptp(own[:, 0]) > BROAD * span]
    for number, (low, high) in enumerate(tall):
        for other_low, other_high in tall[number + 1 :]:
            if ((other_low[:2] > high[:2]) | (other_high[:2] < low[:2])).any():
                return "More than one figure stands here; choose one of them."
    return None
