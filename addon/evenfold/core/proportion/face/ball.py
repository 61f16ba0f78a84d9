"""A face that is a ball without a jaw: the ellipse that its outline follows tells its lowest point."""

import numpy as np

from ...figure import FloatArray
from .chin_touch import ChinFit
from .ledge import STEP
from .side_outline import front_line

FOREHEAD = 0.8
"""A ball is recognised by its outline from the chin up to this share of the way to the crown. Our choice."""
LEVELS, SEEN = 160, 0.7
"""The outline is looked at in so many levels; less than this share of them tells no ball. Our choice."""
OFF_BALL = 0.005
"""No place of a ball's outline is further off an ellipse than this, in heads. Our choice."""


def end_of_ball(points: FloatArray, fit: ChinFit, crown: float, size: float) -> float | None:
    """The lowest height of the upright ellipse that the outline (n, 3) follows from chin to forehead.

    None where it follows none, as a face with a jaw, a nose or hair over it does not, and where it is cut off
    under the chin instead of going on to the notch.
    """
    top = fit.touched + FOREHEAD * (crown - fit.touched)
    heights, front = front_line(points, fit.touched, top, LEVELS)
    if len(heights) < SEEN * LEVELS or size <= 0:
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
    below, under = front_line(points, fit.notch + STEP * size / 2, low, LEVELS)
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
