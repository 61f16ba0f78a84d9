"""The face seen from the side: its outline in the middle, and the chin's rounding on it."""

from dataclasses import dataclass

import numpy as np

from ...figure import FloatArray, IntArray
from ..parts.body import BoolArray
from ..points.sample import along, plane_cut

BINS = 200
STEP = 0.006
"""The outline is looked at in steps of this share of the head."""
WINDOW = 0.05
OVER = round(WINDOW / STEP)
MOST = 5000
"""No outline of a head has so many steps; heights that far apart are no chin's."""
FINE, LEAVES = 24, 0.15
"""The corner over a notch is looked for in so many parts of two steps: where the outline leaves it by this share of one."""
LEDGE = 0.045
"""A ledge rises forward by at least this share of the head within WINDOW of its height."""
TURNS = np.radians(np.arange(0.0, 66.0, 3.0))
"""Directions from which the chin is touched: 0 is straight from below."""
FOREHEAD = 0.8
"""A ball is recognised by its outline from the chin up to this share of the way to the crown. Our choice."""
BALL_BINS = 160
OFF_BALL = 0.005
"""No place of a ball's outline is further off an ellipse than this, in heads. Our choice."""
FIRM = np.radians(30.0)
"""How much of the chin's rounding is taken to follow it down to its lowest point."""


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


def cuts(framed: FloatArray, faces: IntArray, side: float, width: float) -> FloatArray:
    """Points (n, 3) of three cuts near the middle of the head."""
    values = side + width * np.array([-0.031, 0.0017, 0.033])
    return np.concatenate([along(plane_cut(framed, faces, 0, value), width / 150) for value in values])


def front_line(points: FloatArray, low: float, high: float, bins: int = BINS) -> tuple[FloatArray, FloatArray]:
    """Heights (k,) and how far forward the outline reaches there (k,)."""
    bins = max(bins, 0)
    inside = points[(points[:, 2] >= low) & (points[:, 2] <= high)][: None if bins else 0]
    index = np.minimum(((inside[:, 2] - low) / max(high - low, 1e-12) * bins).astype(int), bins - 1)
    front = np.full(bins, -np.inf)
    np.maximum.at(front, index, inside[:, 1])
    heights = low + (np.arange(bins) + 0.5) * (high - low) / max(bins, 1)
    seen = np.isfinite(front)
    return heights[seen], front[seen]


def find_ledge(points: FloatArray, low: float, high: float, size: float) -> tuple[float, float, float] | None:
    """Where the outline first stands forward over what is below it: the chin over the neck.

    Returns the height and forward place of the notch under the ledge, and how far forward the
    outline reaches over it; None where nothing stands out between ``low`` and ``high``. Where
    the points end, there is nothing below.
    """
    step = STEP * size
    span = high + 0.35 * size - low
    if not OVER * step < span < MOST * step:
        return None
    count = int(np.ceil(span / step))
    heights, seen = front_line(points, low, low + count * step, count)
    if len(seen) < 8:
        return None
    levels = low + (np.arange(count) + 0.5) * step
    front = np.interp(levels, heights, seen)
    back = float(np.median(seen)) - 0.5 * size
    ended = levels < heights[0] - 0.6 * step
    front = np.where(ended, max(back, float(points[:, 1].min())), front)
    peak = _ledge(front, levels <= high, ended, size)
    if peak is None:
        return None
    notch = peak
    while notch > 0 and (front[notch] - front[notch - 1]) > 0.35 * step:
        notch -= 1
    while notch < peak + OVER - 1 and front[notch + 1] - front[notch] <= 0.35 * step:
        notch += 1
    reach = front[notch : notch + round(0.2 / STEP)]
    return float(levels[notch]), float(front[notch]), float(reach.max())


def corner_over(points: FloatArray, notch: float, back: float, size: float) -> float:
    """How high over the ``notch`` of ``find_ledge`` the outline (n, 3) still lies no further forward than ``back``."""
    reach = 2 * STEP * size
    heights, front = front_line(points, notch, notch + reach, FINE)
    ahead = np.flatnonzero(front > back + LEAVES * STEP * size)
    return notch if not len(ahead) else float(heights[ahead[0]]) - 0.5 * reach / FINE


def _ledge(front: FloatArray, allowed: BoolArray, ended: BoolArray, size: float) -> int | None:
    """The step at which the first ledge begins; where the outline ends counts if nothing is steeper."""
    rise = np.where(allowed[:-OVER], front[OVER:] - front[:-OVER], -np.inf)
    sudden = front[2 : 2 + len(rise)] - front[: len(rise)]
    real = np.where(ended[: len(rise)], -np.inf, rise)
    end = int(ended.sum())
    real[: end + 1] = -np.inf
    if ended.any() and end < len(rise):
        stump = front[end : end + 4].max()
        steep = (sudden >= 0.04 * size) & np.isfinite(real)
        wide = (real >= 0.08 * size) & (front[:len(real)] - front[0] < 0.6 * (front[OVER:] - front[0]))
        if not (steep | wide).any() or stump - front[0] <= 0:
            return max(end - 1, 0)
        real = np.where(steep | wide, real, -np.inf)
    if real.max() < LEDGE * size:
        return None
    first = int(np.argmax(real >= max(LEDGE * size, 0.3 * real.max())))
    return first + int(np.argmax(real[first : first + OVER]))


def touch_chin(points: FloatArray, floor: float, behind: float, top: float, size: float) -> ChinFit | None:
    """Touch the outline (n, 3) from below at many angles and follow its rounding to the lowest point.

    Only what lies between the heights ``floor`` and ``top`` and ahead of ``behind`` counts. A
    touching line at angle t has distance h(t) = z cos t - y sin t; for a rounding of radius r
    about (y0, z0) that is z0 cos t - y0 sin t - r, and a sharp chin has r = 0. The angles at which
    the line touches the chin itself, not the border of what is looked at, fix these three.
    """
    rows = (points[:, 2] >= floor) & (points[:, 2] <= top)
    face = points[rows]
    if len(face) < 8 or size <= 0:
        return None
    inside = face[face[:, 1] >= behind]
    if len(inside) < 8:
        return None
    distance = inside[:, 2][None] * np.cos(TURNS)[:, None] - inside[:, 1][None] * np.sin(TURNS)[:, None]
    at = inside[np.argmin(distance, axis=1)]
    edge = 0.02 * size
    free = (at[:, 1] > behind + edge) & (at[:, 2] > floor + 0.25 * edge) & (at[:, 2] < top - edge)
    if not free.any():
        return None
    start = int(np.argmax(free))
    touched = float(at[start, 2])
    one_bulge = np.hypot(*(at[:, 1:] - at[start, 1:]).T) < 0.16 * size
    used = free & one_bulge & (TURNS[start] + FIRM >= TURNS) & (np.arange(len(TURNS)) >= start)
    bend = float(at[used & (TURNS[start] + np.radians(24.0) >= TURNS)][:, 2].max())
    height = touched
    if start > 0 and used.sum() >= 4:
        matrix = np.stack([np.cos(TURNS[used]), -np.sin(TURNS[used]), -np.ones(int(used.sum()))], axis=1)
        middle, _, radius = np.linalg.lstsq(matrix, distance.min(axis=1)[used], rcond=None)[0]
        height = float(np.clip(middle - max(radius, 0.0), touched - 0.08 * size, touched)) if radius > 0 else touched
    return ChinFit(height, touched, bend, float(TURNS[start]), float(at[start, 1]), floor)


def end_of_ball(points: FloatArray, fit: ChinFit, crown: float, size: float) -> float | None:
    """The lowest height of the upright ellipse that the outline (n, 3) follows from chin to forehead.

    None where it follows none, as a face with a jaw, a nose or hair over it does not, and where it is cut off
    under the chin instead of going on to the notch.
    """
    top = fit.touched + FOREHEAD * (crown - fit.touched)
    heights, front = front_line(points, fit.touched, top, BALL_BINS)
    if len(heights) < 0.7 * BALL_BINS or size <= 0:
        return None
    ahead, low = float(front.max()), fit.touched
    deep, up = (front - ahead) / size, (heights - low) / size
    terms = np.stack([deep * deep, up * up, deep, up], axis=1)
    one, two, three, four = np.linalg.lstsq(terms, np.ones(len(up)), rcond=None)[0]
    if not one * two > 0:
        return None
    centre = -np.array([three / one, four / two]) / 2
    whole = 1 + one * centre[0] ** 2 + two * centre[1] ** 2
    if not whole / one > 0:
        return None
    half = np.sqrt(whole / np.array([one, two]))
    below, under = front_line(points, fit.notch + 0.5 * STEP * size, low, BALL_BINS)
    off, cut = (
        _off_ellipse((forward - ahead) / size, (height - low) / size, centre, half)
        for forward, height in ((front, heights), (under, below))
    )
    if np.abs(off).max() >= OFF_BALL or cut.min(initial=0.0) <= -OFF_BALL:
        return None
    return float(low + (centre[1] - half[1]) * size)


def _off_ellipse(deep: FloatArray, up: FloatArray, centre: FloatArray, half: FloatArray) -> FloatArray:
    """(k,) how far places lie off an upright ellipse, negative inside it."""
    return np.asarray((np.hypot((deep - centre[0]) / half[0], (up - centre[1]) / half[1]) - 1) * half.min(), float)
