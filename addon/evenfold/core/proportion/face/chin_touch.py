"""The chin's rounding on the outline of a face: touched from below, and followed to its lowest point."""

from dataclasses import dataclass

import numpy as np

from ...figure import FloatArray
from ..fuse import Bracket

BLUR = 0.009
"""How far a clear chin may be off, in heads: facets and rounding."""
CLEAR = Bracket(BLUR, BLUR)

TURNS = np.radians(np.arange(0.0, 66.0, 3.0))
"""Directions from which the chin is touched: 0 is straight from below."""
FEWEST = 8
"""Fewer points are no outline of a chin."""
BORDER = 0.02
"""What is touched so near behind or over it, in heads, is the border of what is looked at, not the chin. Our choice."""
FLOOR = 0.25
"""Below, the border is narrower: this share of that."""
ONE_BULGE = 0.16
"""Touched places no further apart than this, in heads, are on one rounding. Our choice."""
FIRM = np.radians(30.0)
"""How much of the chin's rounding is taken to follow it down to its lowest point."""
TURNED = np.radians(24.0)
"""Within so much of it the face has turned under. Our choice."""
ENOUGH = 4
"""Touched directions that fix a rounding's middle and radius."""
HIDDEN = 0.08
"""A rounding is followed no further under what is really there, in heads. Our choice."""


@dataclass(frozen=True)
class ChinFit:
    """``height`` of the chin's lowest point; ``touched`` the lowest height really on the outline;
    ``bend`` where the face turns under; ``turn`` the angle down to which it was seen; ``ball`` where the
    whole face is one, which tells its lowest point."""

    height: float
    touched: float
    bend: float
    turn: float
    forward: float
    notch: float
    ball: bool = False


def touch_chin(points: FloatArray, floor: float, behind: float, top: float, size: float) -> ChinFit | None:
    """Touch the outline (n, 3) from below at many angles and follow its rounding to the lowest point.

    Only what lies between the heights ``floor`` and ``top`` and ahead of ``behind`` counts. A
    touching line at angle t has distance h(t) = z cos t - y sin t; for a rounding of radius r
    about (y0, z0) that is z0 cos t - y0 sin t - r, and a sharp chin has r = 0. The angles at which
    the line touches the chin itself, not the border of what is looked at, fix these three.
    """
    rows = (points[:, 2] >= floor) & (points[:, 2] <= top)
    face = points[rows]
    if len(face) < FEWEST or size <= 0:
        return None
    inside = face[face[:, 1] >= behind]
    if len(inside) < FEWEST:
        return None
    distance = inside[:, 2][None] * np.cos(TURNS)[:, None] - inside[:, 1][None] * np.sin(TURNS)[:, None]
    at = inside[np.argmin(distance, axis=1)]
    edge = BORDER * size
    free = (at[:, 1] > behind + edge) & (at[:, 2] > floor + FLOOR * edge) & (at[:, 2] < top - edge)
    if not free.any():
        return None
    start = int(np.argmax(free))
    touched = float(at[start, 2])
    one_bulge = np.hypot(*(at[:, 1:] - at[start, 1:]).T) < ONE_BULGE * size
    used = free & one_bulge & (TURNS[start] + FIRM >= TURNS) & (np.arange(len(TURNS)) >= start)
    bend = float(at[used & (TURNS[start] + TURNED >= TURNS)][:, 2].max())
    height = touched
    if start > 0 and used.sum() >= ENOUGH:
        matrix = np.stack([np.cos(TURNS[used]), -np.sin(TURNS[used]), -np.ones(int(used.sum()))], axis=1)
        middle, _, radius = np.linalg.lstsq(matrix, distance.min(axis=1)[used], rcond=None)[0]
        height = float(np.clip(middle - max(radius, 0.0), touched - HIDDEN * size, touched)) if radius > 0 else touched
    return ChinFit(height, touched, bend, float(TURNS[start]), float(at[start, 1]), floor)
