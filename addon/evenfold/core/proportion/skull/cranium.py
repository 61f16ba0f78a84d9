"""What is grown over the cranium in one skin with the face: the seam it leaves around the face.

A bare head bulges everywhere between the brow and the crown. Hair, a hood or a hat that is one
skin with it leaves a crease where it begins: across the forehead and down both sides of the face.
Creases are added up as turning (radians) per length of the line they would run along, so it does
not matter whether one edge turns sharply or ten turn a little.
"""

import numpy as np

from ...extents import extent_of
from ...figure import FloatArray, IntArray
from ..head.region import Head
from ..middle import in_middle
from ..parts.body import WELD
from ..points.islands import weld
from .seam import NONE, Seam
from .stand_out import OPENING, as_step, bulge_of, front_rise

SMALL = np.radians(2.0)
"""Edges that turn less than this are rounding, not a crease."""
FOLDED = np.pi / 2 + 0.6
"""Edges that turn more are where skin is folded back, in radians. Our choice."""

UPPER = 0.35
"""Faces that reach over this share of the head's height are looked at. Our choice."""
LEVELS_OVER, LEVELS_BESIDE = (0.53, 0.93), (0.40, 0.66)
"""Between these shares of the head's height a seam over the forehead and beside the face is looked for."""
FOREHEAD_WIDE, FOREHEAD_AHEAD = 0.55, 0.3
"""The forehead is what lies no further aside than the first and further ahead of the middle than the second, in halves of the
head's width. Our choice."""
ROUND_SIDES = 0.6
"""A brim goes on further aside than this, the same way. Our choice."""
FACE_ASIDE, FACE_AHEAD = 0.38, 0.25
"""Beside the face is what lies further aside than the first and ahead than the second, the same way. Our choice."""
ONE_LINE = 0.18
"""What begins over the forehead within this share of the head's height is one line."""
JUST_UNDER = 0.02
"""How evenly that runs is told from so far under where it begins, in heads. Our choice."""
COLUMNS, COLUMN_WIDE = np.linspace(-0.55, 0.45, 11), 0.1
"""The forehead is looked at in columns that begin there, in halves of the head's width."""
LITTLE = 0.2
"""The little that turns in some columns is what so many of them do not exceed. Our choice."""
AMID = 0.3
"""What tells the middle from front to back lies no further aside than this, in widths of the head. Our choice."""


def find_seam(head: Head, faces: IntArray, low: float, top: float) -> Seam:
    """The seam on ``faces`` of a head from its chin ``low`` to the ``top`` of what is on it."""
    size, half = top - low, head.width / 2
    heights = head.framed[faces][:, :, 2]
    faces = faces[(heights.max(axis=1) > low + UPPER * size) & (heights.min(axis=1) < low + LEVELS_OVER[1] * size)]
    if len(faces) < 12 or not (size > 0 and half > 0):
        return NONE
    centre = _centre(head, faces)
    middle, along, turn = creases(head.framed, faces, centre, WELD * float(extent_of(head.framed).max()))
    side, ahead = (middle[:, :2] - centre).T / half
    level = (middle[:, 2] - low) / size
    high = (level > LEVELS_OVER[0]) & (level < LEVELS_OVER[1])
    over = high & (np.abs(side) < FOREHEAD_WIDE) & (ahead > FOREHEAD_AHEAD)
    front, begin = _line(middle[over][:, 2], (turn * np.abs(along[:, 0]))[over], ONE_LINE * size)
    around = high & (np.abs(side) > ROUND_SIDES)
    ring = _line(middle[around][:, 2], (turn * np.hypot(along[:, 0], along[:, 1]))[around], ONE_LINE * size)[0]
    upright = turn * np.abs(along[:, 2])
    beside = (ahead > FACE_AHEAD) & (level > LEVELS_BESIDE[0]) & (level < LEVELS_BESIDE[1])
    length = (LEVELS_BESIDE[1] - LEVELS_BESIDE[0]) * size
    both = [float(upright[beside & (hand * side > FACE_ASIDE)].sum()) / length for hand in (-1, 1)]
    held = over & (middle[:, 2] >= begin - JUST_UNDER * size) & (middle[:, 2] <= begin + ONE_LINE * size)
    even = _evenness(side[held], along[held, 0] / half, turn[held])
    rise = front_rise(head, faces, low, size)
    return Seam(
        front / (2 * FOREHEAD_WIDE * half), min(both), ring / (4 * half), begin, (begin - low) / size, even,
        as_step(rise), bulge_of(head, faces, centre, low, size), rise >= OPENING,
    )


def _evenness(side: FloatArray, along: FloatArray, turn: FloatArray) -> float:
    """How evenly edges with middles at ``side`` that reach ``along`` turn from side to side, 0 to about 1."""
    if not len(side):
        return 1.0
    low, high = side - np.abs(along) / 2, side + np.abs(along) / 2
    shared = np.minimum(high[:, None], COLUMNS + COLUMN_WIDE) - np.maximum(low[:, None], COLUMNS)
    columns = (turn[:, None] * np.clip(shared, 0.0, None)).sum(axis=0)
    return float(np.quantile(columns, LITTLE) / max(float(columns.mean()), 1e-12))


def _line(heights: FloatArray, across: FloatArray, reach: float) -> tuple[float, float]:
    """The most that runs across within ``reach`` of height, and where it begins; NaN where nothing does."""
    order = np.argsort(heights)
    level, total = heights[order], np.concatenate([[0.0], np.cumsum(across[order])])
    if total[-1] <= 0:
        return 0.0, float("nan")
    last = np.searchsorted(level, level + reach, side="right")
    held = total[last] - total[:-1]
    first = int(np.argmax(held))
    begin = np.searchsorted(total, total[first] + held[first] / 6, side="left") - 1
    return float(held[first]), float(level[max(int(begin), first)])


def _centre(head: Head, faces: IntArray) -> FloatArray:
    """(2,) the middle of the head from side to side and from front to back."""
    near = head.framed[np.unique(faces)]
    near = near[in_middle(near, head, AMID)]
    deep = np.percentile(near[:, 1], [2, 98]).mean() if len(near) else 0.0
    return np.array([head.side, float(deep)])


def creases(points: FloatArray, faces: IntArray, centre: FloatArray, step: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Hollow edges: their middles (e, 3), the ways they run times their lengths (e, 3), turnings (e,).

    Outward is away from the upright axis through ``centre``, so it does not matter how the faces
    are wound; points closer than ``step`` are one.
    """
    used, compact = np.unique(faces, return_inverse=True)
    place, first = points[used], weld(points[used], step)
    faces = first[compact.reshape(-1, 3)]
    where = np.zeros((int(first.max()) + 1, 3))
    where[first] = place
    corners = where[faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    middle = corners.mean(axis=1)
    out = (normal[:, :2] * (middle[:, :2] - centre)).sum(axis=1) >= 0
    normal = np.where(out[:, None], normal, -normal) / np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    one, other, ends = _neighbours(faces, len(where))
    bend = np.arctan2(np.linalg.norm(np.cross(normal[one], normal[other]), axis=1), (normal[one] * normal[other]).sum(axis=1))
    hollow = ((middle[other] - middle[one]) * (normal[one] - normal[other])).sum(axis=1) > 0
    kept = hollow & (bend > SMALL) & (bend < FOLDED)
    pair = where[ends[kept]]
    return pair.mean(axis=1), pair[:, 1] - pair[:, 0], bend[kept]


def _neighbours(faces: IntArray, count: int) -> tuple[IntArray, IntArray, IntArray]:
    """Pairs of faces (e,), (e,) that share an edge, and its ends (e, 2)."""
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    owner = np.tile(np.arange(len(faces)), 3)
    key = edges[:, 0] * count + edges[:, 1]
    order = np.argsort(key, kind="stable")
    twin = np.flatnonzero(key[order][1:] == key[order][:-1])
    one, other = order[twin], order[twin + 1]
    return owner[one], owner[other], edges[one]
