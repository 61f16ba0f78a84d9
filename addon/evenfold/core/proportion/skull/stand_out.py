"""How far hair or a hat stands out over the face, in front and at the sides: a step in the outline."""

import numpy as np

from ...figure import FloatArray, IntArray
from ..face.side_outline import CUT_POINTS, cuts, front_line
from ..head.region import Head
from ..points.sample import along, plane_cut

STEP, STEPS, STEP_AT = 0.06, 100, (0.44, 0.99)
"""A step is looked for within so much, in so many levels to the head's height, between these shares of it."""
DEPTHS = (-0.4, -0.2, 0.0, 0.2, 0.4)
"""At these depths a step at the sides is looked for, in halves of the head's width from its middle."""
OPENING = 0.15
"""What stands out further over what is under it than this, in heads, is an opening's edge. Our choice."""


def front_rise(head: Head, faces: IntArray, low: float, size: float) -> float:
    """How far the outline in front stands out over what is close under it, in heads."""
    line = cuts(head.framed, faces, head.side, head.width)
    return _rise(line[:, 1], line[:, 2], low, size)


def bulge_of(head: Head, faces: IntArray, centre: FloatArray, low: float, size: float) -> float:
    """How far the outlines on both sides stand out as a step, the lesser; ears, which are at one depth alone, do not count."""
    half = head.width / 2
    found = []
    for deep in DEPTHS:
        line = along(plane_cut(head.framed, faces, 1, float(centre[1]) + deep * half), head.width / CUT_POINTS)
        found.append(min(as_step(_rise(hand * (line[:, 0] - head.side), line[:, 2], low, size)) for hand in (1, -1)))
    return float(np.median(found))


def as_step(rise: float) -> float:
    """A rise as a step; 0 for an opening's edge."""
    return rise if rise < OPENING else 0.0


def _rise(out: FloatArray, height: FloatArray, low: float, size: float) -> float:
    """The most by which places (n,) further ``out`` stand over those within STEP below, in heads; 0 where none does."""
    count = round((STEP_AT[1] - STEP_AT[0]) * STEPS)
    heights, seen = front_line(np.column_stack([out, out, height]), low + STEP_AT[0] * size, low + STEP_AT[1] * size, count)
    if len(heights) < count // 2:
        return 0.0
    line = np.interp(low + (STEP_AT[0] + (np.arange(count) + 0.5) / STEPS) * size, heights, seen)
    window = np.lib.stride_tricks.sliding_window_view(line, round(STEP * STEPS)).max(axis=1)
    rise = float((window[round(STEP * STEPS) :] - window[: -round(STEP * STEPS)]).max()) / size
    return max(rise, 0.0)
