"""Hair that is one with the head: how far it stands off the face at the hairline."""

import numpy as np

from ..figure import FloatArray
from .profile import front_line
from .region import Head
from .sample import along, plane_cut

COLUMNS = (-0.24, -0.16, -0.08, 0.004, 0.08, 0.16, 0.24)
"""Where the face is cut, in widths of the head from its middle."""
STEP = 0.008
SUDDEN = 0.014
"""Over a fiftieth of the head's height hair comes forward by at least this share of it."""
LOWEST = 0.6
"""Hairlines lie higher than this share of the head; brows and eyes lie below."""


def _at_column(line: FloatArray, size: float) -> tuple[float, float] | None:
    """(sudden, lasting) thickness where the outline (k,) steps forward, in scene units."""
    rise = line[3:] - line[:-3]
    if not len(rise) or rise.max() < SUDDEN * size:
        return None
    first = int(np.argmax(rise))
    below = line[max(first - 8, 0) : first + 1]
    if len(below) < 5 or len(line) < first + 9:
        return None
    slope = min((below[-1] - below[0]) / (len(below) - 1), 0.0)
    above = line[first + 5 : first + 12]
    expected = below[-1] + slope * 1.15 * np.arange(5, 5 + len(above))
    lasting = float(np.median(above - expected)) / float(np.sqrt(1 + (slope / (STEP * size)) ** 2))
    return float(rise[first]), lasting


def hair_thickness(head: Head, top: float) -> tuple[float, bool] | None:
    """How thick the hair is, in scene units, and whether it keeps that thickness upward.

    None where no hairline shows. Looks at the skull's own piece only.
    """
    size = top - head.low
    low, high = head.low + (LOWEST - 0.1) * size, top - 0.06 * size
    faces = head.faces_of(head.skull)
    if not (np.isfinite(size) and size > 0 and high > low and len(faces)):
        return None
    near = head.framed[faces][:, :, 2].max(axis=1) > low
    count = int((high - low) / (STEP * size))
    levels = low + (np.arange(count) + 0.5) * (high - low) / max(count, 1)
    found = []
    for column in COLUMNS:
        cut = along(plane_cut(head.framed, faces[near], 0, head.side + column * head.width), 0.004 * size)
        heights, front = front_line(cut, low, high, count) if len(cut) else (np.zeros(0), np.zeros(0))
        if len(heights) < 0.8 * count:
            continue
        step = _at_column(np.interp(levels, heights, front), size)
        if step is not None:
            found.append(step)
    if len(found) < 4:
        return None
    sudden, lasting = np.median(np.array(found), axis=0)
    if lasting >= 0.35 * sudden:
        return float(lasting), True
    return float(min(sudden, 0.06 * size)), False


def hollow(head: Head, top: float) -> float:
    """How hollow the outline from the brow up is in front, in shares of the head; 0 where unknown.

    A bare skull bulges all the way; a hairline or a brim leaves a hollow below it.
    """
    size = top - head.low
    low = head.low + 0.5 * size
    faces = head.faces_of(head.skull)
    if not (np.isfinite(size) and size > 0 and len(faces)):
        return 0.0
    near = head.framed[faces][:, :, 2].max(axis=1) > low
    found = []
    for column in COLUMNS[1:-1]:
        cut = along(plane_cut(head.framed, faces[near], 0, head.side + column * head.width), 0.004 * size)
        high = min(float(cut[:, 2].max(initial=-np.inf)), top) - 0.04 * size
        if high <= low:
            continue
        heights, front = front_line(cut, low, high, 80)
        if len(heights) > 56:
            found.append(_gap(heights, front) / size)
    return float(np.median(found)) if len(found) >= 3 else 0.0


def _gap(heights: FloatArray, front: FloatArray) -> float:
    """The deepest place of a line behind its convex hull."""
    hull: list[tuple[float, float]] = []
    for height, place in zip(heights, front, strict=True):
        while len(hull) > 1 and (hull[-1][0] - hull[-2][0]) * (place - hull[-2][1]) >= (hull[-1][1] - hull[-2][1]) * (height - hull[-2][0]):
            hull.pop()
        hull.append((float(height), float(place)))
    corners = np.array(hull)
    return float((np.interp(heights, corners[:, 0], corners[:, 1]) - front).max())
