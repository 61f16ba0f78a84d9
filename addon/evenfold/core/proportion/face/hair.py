"""The outline from the brow up: a bare skull bulges, a hairline or a brim leaves a hollow."""

import numpy as np

from ...figure import FloatArray
from ..head.region import Head
from ..points.sample import along, plane_cut
from .side_outline import front_line

COLUMNS = (-0.16, -0.08, 0.004, 0.08, 0.16)
"""Where the face is cut, in widths of the head from its middle."""
FEWEST = 3
"""A hollow is one in the middle of at least so many of these cuts."""
BROW = 0.5
"""The brow is at this share of the head's height. Our choice."""
ROUND_TOP = 0.04
"""So close under the top, in heads, a cut turns back, and its outline is not looked at. Our choice."""
SPACING = 0.004
"""Points along a cut are about so far apart, in heads."""
LEVELS, SEEN = 80, 56
"""A cut is looked at in so many levels; one seen in no more than the second of them tells nothing. Our choice."""


def hollow(head: Head, top: float) -> float:
    """How hollow the outline from the brow up is in front, in shares of the head; 0 where unknown.

    A bare skull bulges all the way; a hairline or a brim leaves a hollow below it.
    """
    size = top - head.low
    low = head.low + BROW * size
    faces = head.faces_of(head.skull)
    if not (np.isfinite(size) and size > 0 and len(faces)):
        return 0.0
    near = head.framed[faces][:, :, 2].max(axis=1) > low
    found = []
    for column in COLUMNS:
        cut = along(plane_cut(head.framed, faces[near], 0, head.side + column * head.width), SPACING * size)
        high = min(float(cut[:, 2].max(initial=-np.inf)), top) - ROUND_TOP * size
        if high <= low:
            continue
        heights, front = front_line(cut, low, high, LEVELS)
        if len(heights) > SEEN:
            found.append(_gap(heights, front) / size)
    return float(np.median(found)) if len(found) >= FEWEST else 0.0


def _gap(heights: FloatArray, front: FloatArray) -> float:
    """The deepest place of a line behind its convex hull."""
    hull: list[tuple[float, float]] = []
    for height, place in zip(heights, front, strict=True):
        while len(hull) > 1 and (hull[-1][0] - hull[-2][0]) * (place - hull[-2][1]) >= (hull[-1][1] - hull[-2][1]) * (height - hull[-2][0]):
            hull.pop()
        hull.append((float(height), float(place)))
    corners = np.array(hull)
    return float((np.interp(heights, corners[:, 0], corners[:, 1]) - front).max())
