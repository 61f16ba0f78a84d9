"""Which way a figure faces by its shape alone: how its halves mirror, and where feet and face are."""

import itertools

import numpy as np

from ..figure import FloatArray, IntArray
from .islands import join
from .standing import foot_parts

CELLS = 28
FINER = 6 * CELLS
"""Halves are compared by one point in each of so many to the height, wherever a mesh is fine or coarse."""
WIDEST = 4 * CELLS
"""Beyond so many cells from the middle nothing is told apart: 4 heights, which bounds the memory."""
GROUND = 0.06
"""Feet are looked for up to this share of the height."""
APART = 0.4
"""Two feet are further apart than this share of their length; the two sides of a sheet are not. Our choice."""
HABIT = 0.3
"""A little speaks for -Y where nothing else tells front from back: common practice, no source."""
JUTS = 0.004
"""A chin and the back of a head both stand out by this share of the height where they are compared."""
HEAD = 0.18
"""Further apart than this, in heights, what stands out in front and behind is not one head's. Our choice."""
LOWER = 0.02
"""A chin that hangs lower than the nape by this share of the height tells the front."""
LEGS = 0.3
"""Two alike feet beside each other tell the sides by this much more than anything at a right angle. Our choice."""
EVEN, UNEVEN = 0.95, 0.8
"""A pose with more mirror halves than the first share tells its sides without the feet; one with fewer than
the second does not tell them exactly. Our choice."""
TOES = 0.3
"""A foot is told from the end of a leg where it is longer than the shin is deep by this share. Our choice."""
FEW = 12
"""Of so many small things most are eyes and the like; of more, hair and buttons. Our choice."""
ANGLES = np.radians(np.arange(0.0, 180.0, 3.0))


def _level_axes(up: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Two level unit directions; the second is -Y where that is level."""
    ahead = np.array([0.0, -1.0, 0.0])
    ahead = ahead - up * (ahead @ up)
    if np.linalg.norm(ahead) < 1e-6:
        ahead = np.array([1.0, 0.0, 0.0])
    ahead = ahead / np.linalg.norm(ahead)
    return np.cross(up, ahead), ahead


def _mirrored(points: FloatArray, height: FloatArray, angle: float, size: float) -> float:
    """How much of the figure (n, 2) has a mirror half about the plane across ``angle``, 0 to 1."""
    side = points @ np.array([np.cos(angle), np.sin(angle)])
    deep = points @ np.array([-np.sin(angle), np.cos(angle)])
    middle = (np.percentile(side, 1) + np.percentile(side, 99)) / 2
    cell = size / CELLS
    across: FloatArray = np.clip((side - middle) / cell, -WIDEST, WIDEST)
    depth: IntArray = np.clip((deep - deep.min()) / cell, 0, 2 * WIDEST).astype(np.int64)
    level: IntArray = ((height - height.min()) / cell).astype(np.int64)
    reach, deeper, higher = int(np.abs(across).max()) + 1, int(depth.max()) + 1, int(level.max()) + 1
    held = np.zeros((2, 2 * reach + 1, deeper * higher), bool)
    for half, sign in zip(held, (1.0, -1.0), strict=True):
        half[np.floor(across * sign).astype(np.int64) + reach, depth * higher + level] = True
    return float(np.count_nonzero(held[0] & held[1]) / max(int(np.count_nonzero(held[0])), 1))


def _evenly(points: FloatArray, step: float) -> IntArray:
    """Rows of one of the points (n, 3) in each cube of the side ``step`` that holds any."""
    cell = np.floor((points - points.min(axis=0)) / step).astype(np.int64)
    wide = cell.max(axis=0) + 1
    return np.unique((cell[:, 0] * wide[1] + cell[:, 1]) * wide[2] + cell[:, 2], return_index=True)[1]


def leg_way(flat: FloatArray, height: FloatArray, size: float) -> FloatArray | None:
    """Unit direction (2,) from one foot to the other, of points (n, 2) at ``height`` (n,); None without two alike.

    Where something hangs below the feet, they are looked for a little higher up.
    """
    low = float(height.min())
    for start in (0.0, GROUND, 2 * GROUND):
        near = flat[(height >= low + start * size) & (height < low + (start + GROUND) * size)]
        way = _between_alike(near, size / 90) if len(near) else None
        if way is not None:
            return way
    return None


def _between_alike(points: FloatArray, step: float) -> FloatArray | None:
    """Unit direction between the two largest things alike of points (n, 2); what is less than ``step`` apart is one."""
    cell = np.floor((points - points.min(axis=0)) / step).astype(np.int64)
    key, owner = np.unique(cell[:, 0] * 4096 + cell[:, 1], return_inverse=True)
    links = []
    for way in (1, 4095, 4096, 4097):
        at = np.flatnonzero(np.isin(key + way, key))
        links.append(np.stack([at, np.searchsorted(key, key[at] + way)], axis=1))
    label = join(len(key), np.concatenate(links))
    count = np.bincount(label, minlength=len(key))
    things = [points[label[owner] == number] for number in np.argsort(-count)[:4] if count[number] > 2]
    for one, other in itertools.combinations(things, 2):
        between = other.mean(axis=0) - one.mean(axis=0)
        extent = [float(np.ptp(own, axis=0).max()) for own in (one, other)]
        alike = min(extent) > 0.7 * max(extent) and len(other) > 0.6 * len(one)
        if alike and np.linalg.norm(between) > APART * max(extent):
            return np.asarray(between / np.linalg.norm(between), float)
    return None


def facing_by_shape(points: FloatArray, up: FloatArray, small: FloatArray | None = None) -> FloatArray | None:
    """Unit facing direction (3,) of points (n, 3); None where nothing tells it."""
    found = facing_and_vote(points, up, small)
    return None if found is None else found[0]


def facing_and_vote(points: FloatArray, up: FloatArray, small: FloatArray | None = None) -> tuple[FloatArray, float] | None:
    """Unit facing direction (3,) of points (n, 3), and how much speaks for it against its opposite.

    None where nothing tells it. ``small`` (k, 3) are the middles of small pieces, such as eyes.
    """
    if len(points) < 60:
        return None
    height = points @ up
    size = float(np.ptp(height))
    across, ahead = _level_axes(up)
    flat = np.stack([points @ across, points @ ahead], axis=1)
    centre = (flat.max(axis=0) + flat.min(axis=0)) / 2
    flat = flat - centre
    if size <= 0:
        return None
    few = _evenly(np.column_stack([flat, height]), size / FINER)
    scores = plain = np.array([_mirrored(flat[few], height[few], angle, size) for angle in ANGLES])
    wide = np.array([np.ptp(flat[few] @ np.array([np.cos(angle), np.sin(angle)])) for angle in ANGLES])
    scores = scores + 0.25 * wide / wide.max()
    legs = leg_way(flat, height, size)
    if legs is not None and plain.max() < EVEN:
        scores = scores + LEGS * (np.cos(ANGLES) * legs[0] + np.sin(ANGLES) * legs[1]) ** 2
    if scores.max() - np.median(scores) < 0.04:
        return None
    best = float(ANGLES[int(np.argmax(scores))])
    if legs is not None and plain[int(np.argmax(scores))] < UNEVEN and abs(np.cos(best) * legs[0] + np.sin(best) * legs[1]) > np.cos(np.radians(40)):
        best = float(np.arctan2(legs[1], legs[0]) % np.pi)
    else:
        fine = best + np.radians(np.linspace(-3.0, 3.0, 13))
        best = float(fine[int(np.argmax([_mirrored(flat[few], height[few], angle, size) for angle in fine]))])
    if abs(best) < np.radians(1.6) or abs(best - np.pi) < np.radians(1.6):
        best = 0.0
    way, aside = np.array([-np.sin(best), np.cos(best)]), np.array([np.cos(best), np.sin(best)])
    vote = HABIT * float(way[1])
    if small is not None and len(small):
        spots = np.stack([small @ across, small @ ahead], axis=1) - centre
        vote += _details(flat @ way, flat @ aside, height, np.column_stack([spots @ aside, spots @ way, small @ up]))
    vote = _vote(vote, flat @ way, flat @ aside, height, size)
    forward = (1.0 if vote >= 0 else -1.0) * (way[0] * across + way[1] * ahead)
    return np.asarray(forward / np.linalg.norm(forward), float), abs(vote)


def vote_for(points: FloatArray, up: FloatArray, forward: FloatArray, small: FloatArray) -> float:
    """How much the shape of points (n, 3) speaks for facing ``forward`` (3,), below zero for the opposite.

    ``small`` (k, 3) are the middles of small pieces, such as eyes.
    """
    size = float(np.ptp(points @ up)) if len(points) >= 60 else 0.0
    if size <= 0:
        return 0.0
    axes = np.stack([np.cross(up, forward), forward, up])
    side, deep, height = axes @ points.T
    vote = HABIT * float(forward @ _level_axes(up)[1])
    vote += _details(deep, side, height, small @ axes.T) if len(small) else 0.0
    return _vote(vote, deep, side, height, size)


def _vote(vote: float, deep: FloatArray, side: FloatArray, height: FloatArray, size: float) -> float:
    """``vote`` with what feet and face add: above zero when they are on the side of growing ``deep``."""
    found = foot_parts(np.column_stack([side, deep, height]), float(np.median(side)), size)
    feet = _over_tails(found[0], size) if found is not None and found[1] else _on_the_ground(deep, side, height, size)
    return vote + feet + 0.7 * _overhang(deep, side, height, size)


def _over_tails(feet: list[FloatArray], size: float) -> float:
    """What feet (k, 3 each: side, deep, height) say that were told from something that hangs lower."""
    votes = []
    for own in feet:
        rise = own[:, 2] - own[:, 2].min()
        foot, shin = own[rise < 0.04 * size, 1], own[rise > min(0.07 * size, 0.8 * rise.max()), 1]
        if len(foot) > 3 and len(shin) > 3 and rise.max() > 0.05 * size:
            votes.append(_shift(foot, shin, size))
    return 2 * float(np.mean(votes)) if votes else 0.0


def _on_the_ground(deep: FloatArray, side: FloatArray, height: FloatArray, size: float) -> float:
    """What the feet on both sides of the middle say, where the figure stands on its lowest points."""
    low, vote = height.min(), 0.0
    away = side - np.median(side)
    standing = [half for half in (away > 0.025 * size, away < -0.025 * size) if half.any() and height[half].min() < low + 0.02 * size]
    for first, last, upper in ((0.0, 0.04, 0.14), (0.02, 0.08, 0.2)):
        for half in standing:
            foot = deep[half & (height >= low + first * size) & (height < low + last * size)]
            shin = deep[half & (height > low + (upper - 0.06) * size) & (height < low + upper * size)]
            if len(foot) > 3 and len(shin) > 3:
                vote += _shift(foot, shin, size) / len(standing)
    return vote


def _shift(foot: FloatArray, shin: FloatArray, size: float) -> float:
    """How far a foot's middle lies ahead of its shin's, from -1 to 1; nothing where it is no longer than that."""
    longer = float(np.clip((np.ptp(foot) / max(float(np.ptp(shin)), 1e-12) - 1) / TOES, 0, 1))
    return longer * float(np.clip((foot.max() + foot.min() - shin.max() - shin.min()) / 2 / (0.02 * size), -1, 1))


def _overhang(deep: FloatArray, side: FloatArray, height: FloatArray, size: float) -> float:
    """From -1 to 1: does a chin stand out over a neck more, and lower, in front than behind?

    A chin hangs lower than the back of a head does over the nape.
    """
    rows = 150
    near = (np.abs(side - np.median(side)) < 0.025 * size) & (height > height.min() + 0.35 * size)
    row = np.clip(((height[near] - height.min()) / size * rows).astype(int), 0, rows - 1)
    juts, levels = [], []
    for sign in (1.0, -1.0):
        line = np.full(rows, -np.inf)
        np.maximum.at(line, row, sign * deep[near])
        known = np.flatnonzero(np.isfinite(line))
        if len(known) < rows // 3:
            return 0.0
        line = _closed(np.interp(np.arange(known[0], known[-1] + 1), known, line[known]))
        rise = (line[3:] - line[:-3])[: -rows // 12]
        juts.append(float(rise.max()) / size)
        levels.append(int(np.argmax(rise >= 0.7 * rise.max())))
    found = float(np.clip((juts[0] - juts[1]) / 0.02, -1, 1))
    apart = levels[1] - levels[0]
    is_one_head = min(juts) > JUTS and abs(apart) < HEAD * rows
    lower = float(np.clip(apart / (LOWER * rows), -1, 1)) if is_one_head else 0.0
    return float(np.clip(found + 1.5 * lower, -1, 1))


def _closed(line: FloatArray) -> FloatArray:
    """An outline without the gaps of a few rows in which samples were missing."""
    window = np.lib.stride_tricks.sliding_window_view
    grown = window(np.pad(line, 2, constant_values=-np.inf), 5).max(axis=1)
    return np.asarray(window(np.pad(grown, 2, constant_values=np.inf), 5).min(axis=1), float)


def _details(deep: FloatArray, side: FloatArray, height: FloatArray, small: FloatArray) -> float:
    """From -1 to 1: are the small things (k, 3: side, deep, height) in front or behind? Eyes and
    mouths are in front; ears are beside the middle and say nothing."""
    low, size = float(height.min()), float(np.ptp(height))
    votes = []
    for across, place, level in small[small[:, 2] > low + 0.4 * size]:
        around = deep[(np.abs(height - level) < 0.03 * size) & (np.abs(side - across) < 0.06 * size)]
        if len(around) > 3 and np.ptp(around) > 0:
            votes.append(2 * (place - around.min()) / float(np.ptp(around)) - 1)
    return min(FEW / len(votes), 1.0) * float(np.clip(2 * np.mean(votes), -1, 1)) if votes else 0.0
