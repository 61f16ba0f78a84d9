"""What is grown over the cranium in one skin with the face: the seam it leaves around the face.

A bare head bulges everywhere between the brow and the crown. Hair, a hood or a hat that is one
skin with it leaves a crease where it begins: across the forehead and down both sides of the face.
Creases are added up as turning (radians) per length of the line they would run along, so it does
not matter whether one edge turns sharply or ten turn a little.
"""

from dataclasses import dataclass

import numpy as np

from ...extents import extent_of
from ...figure import FloatArray, IntArray
from ...findings import Reading
from ..face.side_outline import cuts, front_line
from ..head.region import Head
from ..parts.body import WELD
from ..points.islands import weld
from ..points.sample import along, plane_cut
from .dome import Dome

SMALL = np.radians(2.0)
"""Edges that turn less than this are rounding, not a crease."""
FRONT = (0.53, 0.93)
SIDES = (0.40, 0.66)
"""Between these shares of the head's height a seam over the forehead and beside the face is looked for."""
ONE = 0.18
"""What begins over the forehead within this share of the head's height is one line."""
BESIDE = 0.38
"""A seam beside the face turns by at least this much on both sides; eyes, noses and cheeks do not."""
AROUND = 0.75
"""Over the forehead and beside the face together hair turns by at least this much."""
OVER = 0.3
"""Over the forehead alone hair turns by at least this much; a brow over the eyes does less."""
BRIM = 2.4
"""Over the forehead a brim turns by at least this much: up to it and away from it."""
RING = 0.9
"""And it goes on at the sides by at least this much, more than anything beside the face turns: a fringe ends at
the temples, and locks hang down from it."""
EYES, EVEN = 0.62, 0.56
"""What begins under the first share of the head and runs less evenly than the second is eyes, lids and brows,
not hair: by ready models of bald heads, which had 0.07 to 0.55, and of hair, which mostly had 0.6 and more."""
MUCH = 5.3
"""Eyes alone turn less than this over the forehead and beside the face together; bald ready models had up to 5.1, one with a
quiff over its eyes 5.6."""
LOW, STEPLESS = 0.68, 0.001
"""What turns under the first share of the head and stands out nowhere in front, to the second in heads, is where a bare face
stands out itself, with its brows and cheeks: hair lies on the face. Of 300 invented heads 14 bare ones did so, one with
hair in their skin."""
STANDS_OUT = 0.06
"""A brow stands out over what is under it by less than this, in heads: up to 0.045 on 150 invented heads without hair in their skin. Our choice."""
GAPS = 0.2
"""What runs less evenly than this has the gaps of eyes wherever the head bone ends. Our choice."""
PAINT, FLUSH = 0.2, (0.005, 0.012)
"""Less turning than the first, and less of a step in front and at the sides than the second, in heads, is no seam at all. Our choice."""
LOWEST_BRIM = 0.58
"""No brim begins lower than this share of the head; eyes and an open mouth do. Our choice."""


@dataclass(frozen=True)
class Seam:
    """Turning in radians: ``front`` over the forehead, ``sides`` on the less turned side of the
    face, ``ring`` level lines at the sides.

    ``level`` is the height at which what turns over the forehead begins, NaN where nothing does;
    ``share`` the same from the chin (0) to the top (1). ``even`` is how evenly it runs from side to
    side: the little that turns in some columns, over the mean of all. ``step`` is how far hair or a hat stands
    forward over the face in the middle, in heads, and ``bulge`` how far it stands out on both sides;
    both are 0 where that is too much for a step: in front the face is ``overhung`` then, as under an opening's edge.
    """

    front: float
    sides: float
    ring: float
    level: float
    share: float
    even: float = 1.0
    step: float = 0.0
    bulge: float = 0.0
    overhung: bool = False

    @property
    def is_eyes(self) -> bool:
        """True when what turns lies as low as eyes and brows and has gaps beside and between them, as these have."""
        return self.share < EYES and self.even < EVEN and self.front + self.sides < MUCH and self.step < STANDS_OUT

    @property
    def is_bare(self) -> bool:
        """True when what turns lies low and nothing stands out over the face: brows and cheeks that stand out themselves."""
        return self.share < LOW and self.step < STEPLESS and not self.overhung

    @property
    def is_brim(self) -> bool:
        """True when something stands out over the forehead and goes on around the head."""
        return self.share >= LOWEST_BRIM and not self.is_eyes and self.front >= BRIM and self.ring >= RING and self.ring > self.sides

    @property
    def is_hair(self) -> bool:
        """True when something begins all around the face."""
        return self.may_be_hair and not self.is_eyes and not self.is_bare

    @property
    def is_smooth(self) -> bool:
        """True when nothing turns and nothing stands out: what is called hair there is paint."""
        return max(self.front, self.sides, self.ring) < PAINT and self.step < FLUSH[0] and self.bulge < FLUSH[1]

    @property
    def may_be_hair(self) -> bool:
        """True when enough turns all around the face, be it hair or eyes, lids and cheeks."""
        return not self.is_brim and self.front >= OVER and self.sides >= BESIDE and self.front + self.sides >= AROUND


THIN, STEEPER, HIGHEST = 0.045, 1.1, 0.13
"""Hair on top in shares of the head: THIN, and STEEPER times the step at which it stands out over the face, which
counts up to HIGHEST. Fitted to 20 invented heads, tried on 60 others; hair drawn close has 0.02 to 0.05 by eye on ready models."""
FLUSH_HAIR, PER_STEP = 0.015, 0.6
"""Painted hair as flush as skin counts the first, in heads, and the second times as much as it stands out where it begins: by
ready models, whose painted hair had 0.00 to 0.05 by eye. Our choice."""
QUIFF = (0.01, 0.25)
"""Hair that stands out at the sides by more than the first, in heads, but by less than the second of how far it stands out
in front, has a quiff there and is as thick as at its sides: by a ready model. Locks that hang show no step at the sides. Our choice."""
UNSEEN = 0.055
"""Hair on top where no seam is seen, in shares of the head. Our choice."""
THICKEST, THICKER = 0.16, 0.05
"""Hair that is one skin with the face may be as thick as the first, or by the second thicker than it seems, in heads:
invented heads."""
STEP, STEPS, STEP_AT = 0.06, 100, (0.44, 0.99)
"""A step is looked for within so much, in so many levels to the head's height, between these shares of it."""
DEPTHS = (-0.4, -0.2, 0.0, 0.2, 0.4)
"""At these depths a step at the sides is looked for, in halves of the head's width from its middle."""
NO_STEP = 0.15
"""What stands out further over what is under it than this, in heads, is an opening's edge. Our choice."""
BRIM_AT = (0.64, 0.75, 0.88)
"""A brim in one skin begins at this share of the head, low, usual and high: common practice, no source."""
HAT = (0.02, 0.32)
"""A hat stands so far over the skull, least and most."""
NONE = Seam(0.0, 0.0, 0.0, float("nan"), float("nan"))


def find_seam(head: Head, faces: IntArray, low: float, top: float) -> Seam:
    """The seam on ``faces`` of a head from its chin ``low`` to the ``top`` of what is on it."""
    size, half = top - low, head.width / 2
    heights = head.framed[faces][:, :, 2]
    faces = faces[(heights.max(axis=1) > low + 0.35 * size) & (heights.min(axis=1) < low + FRONT[1] * size)]
    if len(faces) < 12 or not (size > 0 and half > 0):
        return NONE
    centre = _centre(head, faces)
    middle, along, turn = creases(head.framed, faces, centre, WELD * float(extent_of(head.framed).max()))
    side, ahead = (middle[:, :2] - centre).T / half
    level = (middle[:, 2] - low) / size
    over = (np.abs(side) < 0.55) & (ahead > 0.3) & (level > FRONT[0]) & (level < FRONT[1])
    front, begin = _line(middle[over][:, 2], (turn * np.abs(along[:, 0]))[over], ONE * size)
    low_side = (np.abs(side) > 0.6) & (level > FRONT[0]) & (level < FRONT[1])
    ring = _line(middle[low_side][:, 2], (turn * np.hypot(along[:, 0], along[:, 1]))[low_side], ONE * size)[0]
    upright = turn * np.abs(along[:, 2])
    beside = (ahead > 0.25) & (level > SIDES[0]) & (level < SIDES[1])
    length = (SIDES[1] - SIDES[0]) * size
    both = [float(upright[beside & (hand * side > 0.38)].sum()) / length for hand in (-1, 1)]
    held = over & (middle[:, 2] >= begin - 0.02 * size) & (middle[:, 2] <= begin + ONE * size)
    even = _evenness(side[held], along[held, 0] / half, turn[held])
    rise = _front_rise(head, faces, low, size)
    return Seam(
        front / (1.1 * half), min(both), ring / (4 * half), begin, (begin - low) / size, even,
        _step(rise), _bulge(head, faces, centre, low, size), rise >= NO_STEP,
    )


def under_seam(seam: Seam, dome: Dome, size: float, low: float) -> list[Reading]:
    """Where the skull ends under hair, or under a hat whose brim tells how high the head goes on."""
    slack = 0.0 if dome.bare else dome.slack
    if seam.is_brim:
        lowest, usual, highest = (low + (seam.level - low) / share for share in reversed(BRIM_AT))
        cap, floor = dome.top - HAT[0] * size, dome.top - HAT[1] * size
        height = float(np.clip(usual, floor, cap))
        return [
            Reading("skull by where the brim begins", height, min(max(lowest, floor), height), max(min(highest, cap), height)),
            Reading("top of the hat", dome.top, floor, dome.top),
        ]
    is_quiff = QUIFF[0] < seam.bulge < QUIFF[1] * seam.step
    thick = (THIN + STEEPER * min(seam.bulge if is_quiff else seam.step, HIGHEST)) * size
    height = dome.top - thick
    return [
        Reading("dome less hair as thick as its seam says", height, dome.top - max(THICKEST * size, thick + THICKER * size) - slack, height + 0.8 * thick + slack),
        Reading("top of the hair", dome.top, dome.top - 0.25 * size, dome.top),
    ]


def under_paint(step: float, dome: Dome, size: float) -> list[Reading]:
    """Where the skull ends under what only its colour tells apart, which stands out by ``step``, in heads."""
    slack = 0.0 if dome.bare else dome.slack
    height = dome.top - (FLUSH_HAIR + PER_STEP * min(step, HIGHEST)) * size
    return [
        Reading("dome less hair or a hat told by its colour", height, dome.top - THICKEST * size - slack, dome.top + slack),
        Reading("top of what is told by its colour", dome.top, dome.top - 0.25 * size, dome.top),
    ]


def under_unseen_hair(dome: Dome, size: float) -> Reading:
    """Somewhere under the top of hair that leaves no seam and no skull to be seen."""
    slack = 0.0 if dome.bare else dome.slack
    height = dome.top - UNSEEN * size
    return Reading("dome less some hair that grows out of the skull", height, dome.top - THICKEST * size - slack, dome.top + slack)


def _front_rise(head: Head, faces: IntArray, low: float, size: float) -> float:
    """How far the outline in front stands out over what is close under it, in heads."""
    line = cuts(head.framed, faces, head.side, head.width)
    return _rise(line[:, 1], line[:, 2], low, size)


def _step(rise: float) -> float:
    """A rise as a step; 0 for an opening's edge."""
    return rise if rise < NO_STEP else 0.0


def _bulge(head: Head, faces: IntArray, centre: FloatArray, low: float, size: float) -> float:
    """The same of the outlines on both sides, the lesser; ears, which are at one depth alone, do not count."""
    half = head.width / 2
    found = []
    for deep in DEPTHS:
        line = along(plane_cut(head.framed, faces, 1, float(centre[1]) + deep * half), head.width / 150)
        found.append(min(_step(_rise(hand * (line[:, 0] - head.side), line[:, 2], low, size)) for hand in (1, -1)))
    return float(np.median(found))


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


def _evenness(side: FloatArray, along: FloatArray, turn: FloatArray) -> float:
    """How evenly edges with middles at ``side`` that reach ``along`` turn from side to side, 0 to about 1."""
    if not len(side):
        return 1.0
    starts = np.linspace(-0.55, 0.45, 11)
    low, high = side - np.abs(along) / 2, side + np.abs(along) / 2
    shared = np.minimum(high[:, None], starts + 0.1) - np.maximum(low[:, None], starts)
    columns = (turn[:, None] * np.clip(shared, 0.0, None)).sum(axis=0)
    return float(np.quantile(columns, 0.2) / max(float(columns.mean()), 1e-12))


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
    near = near[np.abs(near[:, 0] - head.side) < 0.3 * head.width]
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
    kept = hollow & (bend > SMALL) & (bend < np.pi / 2 + 0.6)
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
