"""The lowest point of the chin, from the outline of the face in the middle of the head."""

import numpy as np

from ..figure import FloatArray, IntArray
from .body import Body
from .sample import along, plane_cut
from .spot import Spot

BINS = 160
UNDERSIDE = np.radians(30.0)
"""Where the outline below the face rises less than this, it is the chin's underside."""


def _cuts(framed: FloatArray, faces: IntArray, side: float, width: float) -> FloatArray:
    """Points (n, 3) of three cuts near the middle of the head."""
    values = side + width * np.array([-0.031, 0.0017, 0.033])
    return np.concatenate([along(plane_cut(framed, faces, 0, value), width / 150) for value in values])


def _front_profile(points: FloatArray, low: float, high: float) -> tuple[FloatArray, FloatArray]:
    """Heights (k,) and how far forward the outline reaches there (k,)."""
    inside = points[(points[:, 2] >= low) & (points[:, 2] <= high)]
    index = np.minimum(((inside[:, 2] - low) / max(high - low, 1e-12) * BINS).astype(int), BINS - 1)
    front = np.full(BINS, -np.inf)
    np.maximum.at(front, index, inside[:, 1])
    heights = low + (np.arange(BINS) + 0.5) * (high - low) / BINS
    seen = np.isfinite(front)
    return heights[seen], front[seen]


def _corner(points: FloatArray, low: float, crown: float) -> tuple[float, float, float, float] | None:
    """The chin on the outline, the lowest point behind it, the outline's bend, and how clearly it stands out (in heads)."""
    size = crown - low
    heights, front = _front_profile(points, low - 0.3 * size, crown - 0.3 * size)
    near = heights < low + 0.4 * size
    if near.sum() < 8:
        return None
    notch = int(np.argmin(np.where(near, front, np.inf)))
    above = np.arange(len(heights)) > notch
    if not above.any():
        return None
    face = int(np.argmax(np.where(above & (heights < crown - 0.35 * size), front, -np.inf)))
    rise, reach = heights[face] - heights[notch], front[face] - front[notch]
    if face <= notch + 2 or reach < 0.08 * size:
        return None
    span = slice(notch, face + 1)
    away = (rise * (front[span] - front[notch]) - reach * (heights[span] - heights[notch])) / np.hypot(rise, reach)
    best = int(np.argmax(away)) + notch
    if away.max() < 0.03 * size:
        return None
    back = front[notch] + 0.3 * (front[best] - front[notch])
    under = points[
        (points[:, 1] >= back) & (points[:, 1] <= front[best] + 0.02 * size)
        & (np.abs(points[:, 2] - heights[best]) < 0.14 * size) & (points[:, 2] >= heights[notch])
    ]
    if not len(under):
        bend = float(heights[best])
        return bend, bend, bend, float(away.max() / size)
    turned = under[np.argmin(under[:, 2] * np.cos(UNDERSIDE) - under[:, 1] * np.sin(UNDERSIDE))]
    behind = under[under[:, 1] >= (back + turned[1]) / 2]
    bend = float(heights[best])
    return float(turned[2]), float(behind[:, 2].min()), bend, float(away.max() / size)


def _stump(points: FloatArray, low: float, crown: float, centre: float) -> bool:
    """True when a neck hangs below the head's own points: narrow and upright at its end."""
    size = crown - low
    heights, front = _front_profile(points, low, crown)
    if len(front) < BINS // 3:
        return False
    lower = float(np.interp(low + 0.025 * size, heights, front)) - centre
    upper = float(np.interp(low + 0.07 * size, heights, front)) - centre
    whole = float(front.max()) - centre
    return bool(lower < 0.75 * whole and upper < 1.2 * max(lower, 1e-9))


def find_chin(body: Body, framed: FloatArray, crown: Spot) -> Spot:
    """The chin from what is weighted to the head; where its signs disagree the range widens."""
    chosen = (body.head > 0.5) & ~body.worn
    kept = ~body.worn[body.triangles].any(axis=1)
    share = chosen[body.triangles].sum(axis=1)
    head_faces = body.triangles[kept & (share == 3)]
    own = framed[chosen]
    upper = own[own[:, 2] >= np.median(own[:, 2])]
    side = float(np.ptp(own[:, 0])) and float((upper[:, 0].max() + upper[:, 0].min()) / 2)
    width = float(np.ptp(upper[:, 0])) or 1.0
    cut = _cuts(framed, head_faces, side, width)
    if len(cut) < 10:
        cut = own[np.abs(own[:, 0] - side) < 0.2 * width]
    cut = cut if len(cut) else own
    centre = float((cut[:, 1].max() + cut[:, 1].min()) / 2)
    front = cut[cut[:, 1] >= centre - 0.05 * np.ptp(cut[:, 1])]
    low = float(front[:, 2].min())
    size = crown.height - low
    mixed = kept & (share > 0) & (share < 3)
    rim = _rim(framed, body.triangles[mixed], side, width)
    joined = rim is not None
    neck_faces = body.triangles[kept & ((body.neck > 0.4)[body.triangles].any(axis=1) | mixed)]
    outline = np.concatenate([cut, _cuts(framed, neck_faces, side, width)]) if joined else cut
    corner = None
    if joined or _stump(front, low, crown.height, centre):
        outline = outline[outline[:, 1] >= centre - 0.05 * np.ptp(cut[:, 1])]
        corner = _corner(outline, rim if rim is not None else low, crown.height)
    return _settle(front, low, rim, corner, size)


def _rim(framed: FloatArray, faces: IntArray, side: float, width: float) -> float | None:
    """Height in front where the head's weight passes to the neck's; None for a head on its own."""
    if not len(faces):
        return None
    ring = framed[faces].mean(axis=1)
    near = ring[(np.abs(ring[:, 0] - side) < 0.25 * width)]
    if not len(near):
        return None
    ahead = near[near[:, 1] >= np.quantile(near[:, 1], 0.6)]
    return float(np.median(ahead[:, 2])) if len(ahead) else None


def _settle(front: FloatArray, low: float, rim: float | None, corner: tuple[float, float, float, float] | None, size: float) -> Spot:
    lowest = front[np.argmin(front[:, 2])]
    slack = 0.008 * size
    if corner is None:
        if rim is None:
            return Spot(low, lowest, "weights", low - slack, low + slack, "lowest point in front that follows the head bone")
        return Spot(
            low, lowest, "weights", low - 2 * slack, low + 0.12 * size,
            "where the head's weight ends in front; no chin stands out of the outline",
        )
    height, under, bend, clear = corner
    at = front[np.argmin(np.abs(front[:, 2] - height))]
    point = np.array([at[0], at[1], height])
    blur = slack if clear > 0.06 else 4 * slack
    other = low if rim is None else max(low, min(rim, height + 0.1 * size))
    reach = min(abs(height - other), 0.25 * size)
    below = min(height - blur, (height + under) / 2 - slack) - (0.15 * reach if other < height else 0.0)
    above = max(height + blur, bend + slack) + (0.5 * reach if other > height else 0.0)
    return Spot(height, point, "weights", below, above, "lowest point of the face's outline before it recedes to the neck")
