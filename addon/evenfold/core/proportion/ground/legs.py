"""Two legs as the shape shows them: separate cross-sections near the ground that join above."""

import numpy as np

from ...extents import cells_of
from ...figure import FloatArray, IntArray
from ..points.islands import GRID, boxes_of, join
from .closed_legs import on_closed_legs

LEVELS = 100
"""Cells to the figure's height."""
HIGHEST = 62
"""Cross-sections are looked at up to this level."""
LEGS_END, SAMPLES = 0.65, 130
"""Legs are looked for on surfaces that begin below this share of the height, by so many samples to it: up to all levels that
are looked at, and more samples than levels."""
LEG_TOP = 45
"""Legs begin below this level."""
ALIKE = 2.3
"""The larger of two legs' cross-sections is at most so many times as long as the smaller."""
FEWEST_LEVELS = 3
FOUR, OVER_PAWS = range(2, 8), range(10, 18)
"""Four legs are seen on all of the first levels, or over their paws on all of the second. Our choice."""
TABLE = 1.3
"""Four legs are further apart from side to side and from front to back than they are long by this factor; toes and heels are
not, nor are feet and the hands beside them. Our choice."""
LONG = 5.0
"""Seen over the paws alone, front and back legs are so many times as far apart as they are long; the two ends of a sash behind
two feet are not. Our choice."""
ARM_LOW, FEWEST_ARM_LEVELS = 8, 5
"""Arms that hang are looked for from the first level on, and seen on at least so many. Our choice."""
LARGER, ARMS_ALIKE, TRUNK = 2, 1.5, 1.2
"""Cross-sections longer than so many cells are looked at; the longer of two arms' is less than so many times as long as the
other, and the trunk's longer than that by the third. Our choice."""
REACH = 2.5
"""Arms held out are longer away from each other than they are deep by this much; legs are not. Our choice."""
BULK = 4.0
"""A trunk's cross-section is larger than that of what hangs beside it by this factor. Our choice."""
MOST_WITH_ARMS = 5
"""Of more larger cross-sections than this on a level the outermost are locks of hair and no arms. Our choice."""
MOST_PAIRED = 5
"""Pairs are looked for among so many of the longest cross-sections of a level. Our choice."""
ASIDE, IN_ROW = 0.35, 0.5
"""Others lie in a row with a pair where they are off its line by less than the first, in lengths from one of the pair to the
other, and longer than the second share of the smaller. Our choice."""
BETWEEN, AS_LONG = (0.15, 0.85), 0.7
"""What lies in the row between the first shares of the way, and is longer than the second share of the smaller, is between
a pair: they are no neighbours. Our choice."""
BEYOND = (-0.4, 1.4)
"""What lies in the row beyond one end of the way alone makes a pair uneven: two of three. Our choice."""
INSET = 0.25
"""What joins two legs reaches over the way from one's middle to the other's but for this share at each end. Our choice."""
BEGIN = 22
"""Both legs are to be seen below this level, a lifted one as well."""


def legs_of(samples: FloatArray, span: float) -> str:
    """What samples (n, 3) of a surface stand on: "two", held together or not, "four" (or more), or "none" seen.

    ``span`` is the figure's height; the samples need not reach to its top.
    """
    if span <= 0 or not len(samples):
        return "none"
    cell = span / LEVELS
    index = cells_of(samples, cell)
    sections = _sections(index[index[:, 2] < HIGHEST])
    pairs = [(level, pair) for level in range(1, LEG_TOP) for pair in [_pair(sections[level])] if pair is not None]
    if all(_is_table(sections[level]) for level in FOUR) or all(_is_table(sections[level], LONG) for level in OVER_PAWS):
        return "four"
    stacked, first = np.concatenate(sections), np.cumsum([len(boxes) for boxes in sections])
    joined = [level for level, pair in pairs if _joins(stacked[first[level] :], pair)]
    if len(joined) >= FEWEST_LEVELS and _begin([level for level, _ in pairs], joined[0]) < BEGIN:
        return "two"
    return "two" if on_closed_legs(samples, span) else "none"


def arms_of(samples: FloatArray, span: float) -> bool:
    """True where samples (n, 3) of a surface show two alike cross-sections on both sides of a larger one: arms that hang."""
    if span <= 0 or not len(samples):
        return False
    index = cells_of(samples, span / LEVELS)
    sections = _sections(index[index[:, 2] < HIGHEST])
    return sum(_is_flanked(boxes) for boxes in sections[ARM_LOW:]) >= FEWEST_ARM_LEVELS


def _is_flanked(boxes: FloatArray) -> bool:
    """True where the two outermost of the larger cross-sections (k, 4) are alike and a larger one lies between them."""
    boxes = boxes[_length(boxes) > LARGER]
    if not 3 <= len(boxes) <= MOST_WITH_ARMS:
        return False
    outer = boxes[[np.argmin(boxes[:, 0]), np.argmax(boxes[:, 2])]]
    inner = boxes[(boxes[:, 0] >= outer[0, 2]) & (boxes[:, 2] <= outer[1, 0])]
    alike = _length(outer).max() < ARMS_ALIKE * _length(outer).min()
    return bool(alike and len(inner) and _length(inner).max() > TRUNK * _length(outer).max())


def _begin(levels: list[int], joined: int) -> int:
    """The lowest level to which both legs go down without a gap from the level ``joined``."""
    level = joined
    while level - 1 in levels or level - 2 in levels:
        level = level - 1 if level - 1 in levels else level - 2
    return level


def _sections(cells: IntArray) -> list[FloatArray]:
    """For each level (k, 4): lowest and highest cell, side and forward, of what hangs together."""
    key, first = np.unique((cells[:, 2] * GRID + cells[:, 0]) * GRID + cells[:, 1], return_index=True)
    cells = cells[first]
    links = []
    for step in (1, GRID, GRID - 1, GRID + 1):
        at = np.minimum(np.searchsorted(key, key + step), len(key) - 1)
        mine = np.flatnonzero(key[at] == key + step)
        links.append(np.stack([mine, at[mine]], axis=1))
    label = np.unique(join(len(key), np.concatenate(links)), return_inverse=True)[1]
    count = int(label.max()) + 1
    low, high = boxes_of(cells[:, :2].astype(float), label, count)
    level = np.zeros(count, np.int64)
    level[label] = cells[:, 2]
    boxes = np.concatenate([low, high + 1.0], axis=1)
    return [boxes[level == number] for number in range(HIGHEST)]


def _length(boxes: FloatArray) -> FloatArray:
    """(k,) the longer side of each cross-section."""
    return np.asarray((boxes[:, 2:] - boxes[:, :2]).max(axis=1), float)


def _alike_all(boxes: FloatArray) -> int:
    """How many of the largest cross-sections are about alike."""
    length = np.sort(_length(boxes))[::-1]
    return int((length > length[:1].max(initial=0.0) / ALIKE).sum())


def _is_table(boxes: FloatArray, longest: float = 0.0) -> bool:
    """True where the four largest cross-sections (k, 4) are alike and far apart both ways, however they are turned: in no row.

    One way they are further apart than ``longest`` times their length.
    """
    if _alike_all(boxes) < 4:
        return False
    legs = boxes[np.argsort(-_length(boxes))[:4]]
    centre = (legs[:, :2] + legs[:, 2:]) / 2
    apart = np.linalg.svd(centre - centre.mean(axis=0), compute_uv=False)
    length = float(_length(legs).mean())
    return bool(apart.min() > TABLE * length and apart.max() > longest * length)


def _pair(boxes: FloatArray) -> FloatArray | None:
    """(2, 4) the two largest alike cross-sections with nothing as large between them."""
    boxes = boxes[np.argsort(-_length(boxes))][:MOST_PAIRED]
    length, centre = _length(boxes), (boxes[:, :2] + boxes[:, 2:]) / 2
    area = (boxes[:, 2:] - boxes[:, :2]).prod(axis=1)
    for first in range(len(boxes)):
        for second in range(first + 1, len(boxes)):
            unlike = length[first] > ALIKE * length[second] or max(area[first], area[second]) > ALIKE**2 * min(area[first], area[second])
            if unlike or _overlap(boxes[first], boxes[second]) or _are_of_a_row(centre, length, first, second):
                continue
            pair = boxes[[first, second]]
            if not _reach_apart(pair) and not _beside_bulk(boxes, pair):
                return pair
    return None


def _are_of_a_row(centre: FloatArray, length: FloatArray, first: int, second: int) -> bool:
    """True where two cross-sections, the ``first`` the longer, have others between them, or beyond one of them alone.

    All have their middles ``centre`` (k, 2) and their ``length`` (k,).
    """
    way = centre[second] - centre[first]
    apart = float(np.linalg.norm(way))
    share = (centre - centre[first]) @ way / max(apart**2, 1e-12)
    off = np.abs((centre - centre[first]) @ np.array([-way[1], way[0]])) / max(apart, 1e-12)
    in_row = (off < ASIDE * apart) & (length > IN_ROW * length[second])
    between = in_row & (share > BETWEEN[0]) & (share < BETWEEN[1]) & (length > AS_LONG * length[second])
    before, after = in_row & (share < BEYOND[0]), in_row & (share > BEYOND[1])
    return bool(between.any() or before.any() != after.any())


def _beside_bulk(boxes: FloatArray, pair: FloatArray) -> bool:
    """True where one of ``boxes`` (k, 4) beside a pair (2, 4) is far larger both ways: a cut-off trunk, so that the pair are stumps or locks."""
    extent, own = boxes[:, 2:] - boxes[:, :2], pair[:, 2:] - pair[:, :2]
    bulky = (extent.min(axis=1) > own.max()) & (extent.prod(axis=1) > BULK * own.prod(axis=1).max())
    centre = (pair[:, :2] + pair[:, 2:]) / 2
    around = (boxes[bulky, None, :2] < centre).all(axis=2) & (boxes[bulky, None, 2:] > centre).all(axis=2)
    return bool((~around.all(axis=1)).any())


def _reach_apart(pair: FloatArray) -> bool:
    """True where both of a pair (2, 4) are long along the way from one to the other, as arms held out are."""
    extent, way = pair[:, 2:] - pair[:, :2], np.abs((pair[1, :2] + pair[1, 2:]) - (pair[0, :2] + pair[0, 2:]))
    along = int(np.argmax(way))
    return bool((extent[:, along] > REACH * extent[:, 1 - along]).all())


def _overlap(one: FloatArray, other: FloatArray) -> bool:
    """True where two cross-sections share some of the ground: one lies in the other, or around it."""
    return bool((one[:2] < other[2:]).all() and (other[:2] < one[2:]).all())


def _joins(above: FloatArray, pair: FloatArray) -> bool:
    """True when some cross-section (k, 4) of those above spans from one of the pair to the other."""
    centre = (pair[:, :2] + pair[:, 2:]) / 2
    low, high = centre.min(axis=0), centre.max(axis=0)
    inset = INSET * (high - low)
    spans = (above[:, :2] <= low + inset).all(axis=1) & (above[:, 2:] >= high - inset).all(axis=1)
    return bool(spans.any())
