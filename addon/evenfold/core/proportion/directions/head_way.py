"""Which way the head looks where a pose turns it aside: the way about which its own halves mirror."""

import numpy as np

from ...figure import FloatArray
from ..parts.body import Body
from .facing import ANGLES, evenly, mirrored_shares
from .front import FEWEST

TIMES, LEAST_SHARE = 4.0, 0.1
"""Of a turned head so many times as many points have a mirror twin about its own plane as about the body's, and the second
share of all at least. Our choice: 13 ready models with turned heads had 4 times as many and more, straight ones up to 2.5 times."""
CLEAR_SHARE, MORE_THAN_BODY = 0.6, 0.3
"""Or the first share of all has one, by the second more than about the body's: dense meshes have some everywhere. Our choice."""
MOST_TURNED = np.radians(75.0)
"""No head is turned further aside than this: common practice, no source."""
CELLS = 120
"""Halves are compared by one point in each of so many to the head's height."""


def head_way(body: Body, up: FloatArray, forward: FloatArray) -> FloatArray:
    """Unit level direction (3,) the head looks: ``forward`` (3,), unless its halves mirror clearly better about another."""
    head = body.points[body.follows_head & ~body.worn]
    if body.head_how == "none" or len(head) < FEWEST:
        return forward
    across = np.cross(up, forward)
    height = head @ up
    size = float(np.ptp(height))
    if not size > 0:
        return forward
    flat = np.stack([head @ across, head @ forward], axis=1)
    few = evenly(np.column_stack([flat, height]), size / CELLS)
    flat, height = flat[few], height[few]
    shares = mirrored_shares(flat - (flat.max(axis=0) + flat.min(axis=0)) / 2, height, ANGLES, size)
    along = np.cos(ANGLES)
    best = int(np.argmax(np.where(np.abs(along) > np.cos(MOST_TURNED), shares, 0.0)))
    body_own = float(shares[0])
    by_far = shares[best] >= max(LEAST_SHARE, TIMES * body_own)
    if not by_far and (shares[best] < CLEAR_SHARE or shares[best] < body_own + MORE_THAN_BODY):
        return forward
    way = along[best] * forward - np.sin(ANGLES[best]) * across
    return np.asarray(way * np.sign(along[best]), float)
