"""The crotch: where the body begins above the gap between the two legs."""

from dataclasses import dataclass

import numpy as np

from ...figure import FloatArray, IntArray
from ..directions.middle import middle_of
from ..parts.body import Body
from ..points.sample import along, plane_cut
from ..spot import Spot

LEVELS = 240
"""Slices from sole to crown in which the gap is looked for."""
START, OVER_HIPS = 0.56, 0.02
"""Above the crotch and below it in the trunk lies the first share of the height; with bones, what is so little over the hip
joints. The highest real crotch is at 0.506 of the height (ANSUR II, 95th percentile of men)."""
LOWEST_GAP = 4
"""Slices a gap must have to be one."""
UNDER_SOLE = 0.01
"""What is cut so far below the sole, in heights, bounds the gap as well. Our choice."""
NEAR_MIDDLE = 0.3
"""Legs are looked for no further to the side of the middle than this share of the height. Our choice."""
UNDER_EDGE, AT_EDGE = 0.03, 0.015
"""The legs' own front and back are looked at so far below the gap's upper end, and the body begins there where what lies
between them begins no further above it, in heights. Our choice."""
TRIES = 4
"""How many things may hang before and behind the legs, one above the other."""
HEM = ((0.5, 0.85), (0.22, 0.36))
"""The chin's share of the height, and the share of the chin's height below which what closes the gap is a hem: the
crotch is at a half of the chin's height and more (a table at hzs.jp, common practice), lower in squat figures.
Our choice."""
DEEP_HEM = 0.06
"""A share of the height by which a body lies above a hem; what is less deep may be legs let into a trunk."""
INNER_DEPTH, SPREAD = 0.25, 0.04
"""The inner side of a leg lies within the first share of the legs' depth before and behind their middle; over a hem it is no
further out than below it by the second share of the height. Our choice."""
OVER_FEET = 0.12
"""Without chin and knees a crotch lies higher over the sole than this share of the height. Our choice."""
HIDDEN, SLACK, HIDDEN_SLACK = 0.02, 0.01, 0.03
"""A crotch that lies so far over the gap's upper end is hidden; how far off one in the open may be, and a hidden one, in
heights. Our choice."""


@dataclass(frozen=True)
class Legs:
    """Sole and crown heights, the (left, right) joints of hips and knees where bones tell, and the chin."""

    low: float
    high: float
    hips: tuple[FloatArray, FloatArray] | None
    knees: tuple[FloatArray, FloatArray] | None
    chin: float | None = None


def find_crotch(body: Body, framed: FloatArray, legs: Legs) -> Spot | None:
    """The lowest place of the body between the legs; None when clothes or joined legs hide it.

    The body is cut along its middle. Going down from the trunk, the first height at which
    nothing is cut is the upper end of the gap between the legs. If nothing between the legs'
    own front and back begins there, it is the edge of something that hangs before or behind
    them (a skirt, a cape, a tail), and the next thing above between the legs is taken.
    """
    faces = body.triangles[~body.worn[body.triangles].any(axis=1)] if len(body.triangles) else body.triangles
    height = legs.high - legs.low
    if not len(faces) or height <= 0:
        return None
    middle = _middle(framed[~body.worn], legs)
    cut = _cut(framed, faces, 0, middle, height / (2 * LEVELS))
    bottom = _above_gap(cut[:, 2], legs)
    if bottom is None:
        return None
    edge, back, front = bottom, -np.inf, np.inf
    cut = cut[(cut[:, 2] >= bottom - 1e-9) & (cut[:, 2] < _start(legs))]
    for _ in range(TRIES):
        below = _level(framed, faces, middle, bottom - UNDER_EDGE * height, height)
        if not ((below[:, 0] > 0).any() and (below[:, 0] < 0).any()):
            return None
        back, front = max(back, float(below[:, 1].min())), min(front, float(below[:, 1].max()))
        cut = cut[(cut[:, 1] >= back) & (cut[:, 1] <= front)]
        if not len(cut):
            return None
        if float(cut[:, 2].min()) < bottom + AT_EDGE * height:
            break
        bottom = float(cut[:, 2].min())
    bottom = _through_hem(framed, faces, middle, cut, bottom, (back, front), height)
    if not _plausible(bottom, legs):
        return None
    point = cut[np.argmin(np.abs(cut[:, 2] - bottom))]
    hidden = bottom > edge + HIDDEN * height
    slack = (HIDDEN_SLACK if hidden else SLACK) * height
    evidence = "lowest place of the body between the legs" + (", behind what hangs around the legs" if hidden else "")
    low = min(bottom - slack, edge - SLACK * height) if _plausible(edge, legs) else bottom - slack
    return Spot(bottom, point, "shape", low, bottom + slack, evidence)


def _through_hem(
    framed: FloatArray, faces: IntArray, middle: float, cut: FloatArray, bottom: float,
    depth: tuple[float, float], height: float,
) -> float:
    """The height of what lies above a closed hem through which the legs go on; else ``bottom``."""
    inside = cut[cut[:, 2] > bottom + DEEP_HEM * height]
    if not len(inside):
        return bottom
    top = float(inside[:, 2].min())
    below = _level(framed, faces, middle, bottom - UNDER_EDGE * height, height)
    below = below[(below[:, 1] >= depth[0]) & (below[:, 1] <= depth[1])]
    between = _level(framed, faces, middle, (bottom + top) / 2, height)
    return top if len(below) and _legs_go_on(below, between, height) else bottom


def _middle(own: FloatArray, legs: Legs) -> float:
    """The plane between the legs; without hips that of the whole figure, since one foot may be lifted."""
    if legs.hips is not None:
        return float((legs.hips[0][0] + legs.hips[1][0]) / 2)
    body = own[own[:, 2] < legs.high]
    return middle_of(body) if len(body) else 0.0


def _start(legs: Legs) -> float:
    """A height in the trunk to begin at: a little above the hip joints, else a share of the figure's."""
    height = legs.high - legs.low
    if legs.hips is not None:
        return float(max(joint[2] for joint in legs.hips)) + OVER_HIPS * height
    return legs.low + START * height


def _above_gap(levels: FloatArray, legs: Legs) -> float | None:
    """The height where the cut begins above the topmost gap below the trunk."""
    height = legs.high - legs.low
    places = np.sort(levels[(levels > legs.low - UNDER_SOLE * height) & (levels < _start(legs))])
    if not len(places):
        return None
    places = np.concatenate([[legs.low], places])
    gaps = np.flatnonzero(np.diff(places) > LOWEST_GAP * height / LEVELS)
    return float(places[gaps[-1] + 1]) if len(gaps) else None


def _cut(framed: FloatArray, faces: IntArray, axis: int, value: float, step: float) -> FloatArray:
    """Points (n, 3) along the cut of the plane coordinate ``axis`` = ``value``, about ``step`` apart."""
    under = (framed[:, axis] < value)[faces].sum(axis=1)
    return along(plane_cut(framed, faces[(under > 0) & (under < 3)], axis, value), step)


def _level(framed: FloatArray, faces: IntArray, middle: float, level: float, height: float) -> FloatArray:
    """Points along a level cut near the middle, their side counted from it."""
    points = _cut(framed, faces, 2, level, height / LEVELS) - np.array([middle, 0.0, 0.0])
    return points[np.abs(points[:, 0]) < NEAR_MIDDLE * height]


def _legs_go_on(below: FloatArray, between: FloatArray, height: float) -> bool:
    """True when the inner sides of the legs are seen higher up too: what closed the gap was a hem.

    ``below`` and ``between`` are level cuts below the gap's upper end and above it.
    """
    depth = below[:, 1].max() - below[:, 1].min()
    centre = (below[:, 1].max() + below[:, 1].min()) / 2
    for side in (1, -1):
        inner = side * below[side * below[:, 0] > 0, 0]
        band = between[(side * between[:, 0] > 0) & (np.abs(between[:, 1] - centre) < INNER_DEPTH * depth)]
        if not len(band) or not len(inner) or (side * band[:, 0]).min() > inner.min() + SPREAD * height:
            return False
    return True


def _plausible(level: float, legs: Legs) -> bool:
    """Below the hip joints and above the knees where bones tell; else well above the feet."""
    height = legs.high - legs.low
    if legs.hips is not None and level > max(joint[2] for joint in legs.hips) + OVER_HIPS * height:
        return False
    if legs.knees is not None:
        return level > min(joint[2] for joint in legs.knees)
    if legs.chin is None:
        return level > legs.low + OVER_FEET * height
    rise = legs.chin - legs.low
    return level > legs.low + float(np.interp(rise / max(height, 1e-12), *HEM)) * rise
