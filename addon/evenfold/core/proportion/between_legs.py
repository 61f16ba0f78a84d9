"""The crotch: where the body begins above the gap between the two legs."""

from dataclasses import dataclass

import numpy as np

from ..figure import FloatArray, IntArray
from .body import Body
from .sample import along, plane_cut
from .spot import Spot

LEVELS = 240
"""Slices from sole to crown in which the gap is looked for."""
LOWEST_GAP = 4
"""Slices a gap must have to be one."""


@dataclass(frozen=True)
class Legs:
    """Sole and crown heights, and the (left, right) joints of hips and knees where bones tell."""

    low: float
    high: float
    hips: tuple[FloatArray, FloatArray] | None
    knees: tuple[FloatArray, FloatArray] | None


def find_crotch(body: Body, framed: FloatArray, legs: Legs) -> Spot | None:
    """The lowest place of the body between the legs; None when clothes or joined legs hide it.

    The body is cut along its middle. Going down from the trunk, the first height at which
    nothing is cut is the gap between the legs. A cut that is open at the bottom is the hem of
    a skirt: then the body is looked for above the hem, between the hem's front and back.
    """
    faces = body.triangles[~body.worn[body.triangles].any(axis=1)] if len(body.triangles) else body.triangles
    height = legs.high - legs.low
    if not len(faces) or height <= 0:
        return None
    middle = _middle(framed[~body.worn], legs)
    cut = along(plane_cut(framed, faces, 0, middle), height / (2 * LEVELS))
    bottom = _above_gap(cut[:, 2], legs)
    if bottom is None or not _two_legs(framed, faces, middle, bottom - 0.03 * height, height):
        return None
    point = _closed(cut, bottom, height)
    evidence = "lowest place of the body between the legs"
    slack = 0.01 * height
    if point is None:
        point = _under_hem(cut, bottom, legs)
        evidence, slack = "lowest place of the body between the legs, above a hem", 0.03 * height
    if point is None or not _plausible(float(point[2]), legs):
        return None
    level = float(point[2])
    return Spot(level, point, "shape", level - slack, level + slack, evidence)


def _middle(own: FloatArray, legs: Legs) -> float:
    if legs.hips is not None:
        return float((legs.hips[0][0] + legs.hips[1][0]) / 2)
    low = own[own[:, 2] < legs.low + 0.2 * (legs.high - legs.low)]
    return float((low[:, 0].max() + low[:, 0].min()) / 2) if len(low) else 0.0


def _start(legs: Legs) -> float:
    """A height in the trunk to begin at: a little above the hip joints, else 0.56 of the height.

    The highest real crotch is at 0.506 of the height (ANSUR II, 95th percentile of men).
    """
    height = legs.high - legs.low
    if legs.hips is not None:
        return float(max(joint[2] for joint in legs.hips)) + 0.02 * height
    return legs.low + 0.56 * height


def _above_gap(levels: FloatArray, legs: Legs) -> float | None:
    """The height where the cut begins above the topmost gap below the trunk."""
    height = legs.high - legs.low
    places = np.sort(levels[(levels > legs.low - 0.01 * height) & (levels < _start(legs))])
    if not len(places):
        return None
    places = np.concatenate([[legs.low], places])
    gaps = np.flatnonzero(np.diff(places) > LOWEST_GAP * height / LEVELS)
    return float(places[gaps[-1] + 1]) if len(gaps) else None


def _two_legs(framed: FloatArray, faces: IntArray, middle: float, level: float, height: float) -> bool:
    """True when a level cut just below shows something on both sides and nothing in the middle."""
    side = plane_cut(framed, faces, 2, level)[:, :, 0].ravel() - middle
    side = side[np.abs(side) < 0.3 * height]
    return bool((side > 0).any() and (side < 0).any())


def _closed(cut: FloatArray, bottom: float, height: float) -> FloatArray | None:
    """The lowest point, if the cut runs on from front to back there; None at an open hem."""
    near = cut[(cut[:, 2] >= bottom - 1e-9) & (cut[:, 2] < bottom + 0.02 * height)]
    deep = np.sort(near[:, 1])
    widest = float(np.diff(deep).max(initial=0.0))
    if widest > max(0.4 * float(np.ptp(deep)), 0.015 * height):
        return None
    return near[np.argmin(near[:, 2])]


def _under_hem(cut: FloatArray, bottom: float, legs: Legs) -> FloatArray | None:
    """The lowest point of the cut above the hem and well between its front and back."""
    height = legs.high - legs.low
    hem = cut[(cut[:, 2] >= bottom - 1e-9) & (cut[:, 2] < bottom + 0.02 * height)]
    front, back = float(hem[:, 1].max()), float(hem[:, 1].min())
    centre, half = (front + back) / 2, (front - back) / 2
    inside = cut[(np.abs(cut[:, 1] - centre) < 0.4 * half) & (cut[:, 2] > bottom) & (cut[:, 2] < _start(legs))]
    return inside[np.argmin(inside[:, 2])] if len(inside) else None


def _plausible(level: float, legs: Legs) -> bool:
    """Below the hip joints and above the knees where bones tell; else not in the feet."""
    height = legs.high - legs.low
    if legs.hips is not None and level > max(joint[2] for joint in legs.hips) + 0.02 * height:
        return False
    if legs.knees is not None:
        return level > min(joint[2] for joint in legs.knees)
    return level > legs.low + 0.08 * height
