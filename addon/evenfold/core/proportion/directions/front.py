"""Front from back where a figure's sides are known: what feet, chin and small things such as eyes say."""

import numpy as np

from ...figure import FloatArray
from ..ground.standing import foot_parts
from ..parts.painted import Painted
from .by_paint import vote_of_paint

HABIT = 0.3
"""A little speaks for -Y where nothing else tells front from back: common practice, no source."""
JUTS = 0.004
"""A chin and the back of a head both stand out by this share of the height where they are compared."""
HEAD = 0.18
"""Further apart than this, in heights, what stands out in front and behind is not one head's. Our choice."""
LOWER = 0.02
"""A chin that hangs lower than the nape by this share of the height tells the front."""
TOES = 0.3
"""A foot is told from the end of a leg where it is longer than the shin is deep by this share. Our choice."""
DETAILS, CHIN = 1.5, 0.7
"""How much small things and a chin count beside feet, which count 1. Of 729 invented figures small things pointed
backward in 4, a chin in 166: hair over a nape stands out as well."""
PAINT = 0.8
"""How much the paint counts beside them: of 199 sculpted figures with hair it spoke clearly for the front in 137, for the
back in 16, most of them with hair that comes through a hat behind."""
FEW = 12
"""Of so many small things most are eyes and the like; of more, hair and buttons. Our choice."""
FEWEST = 60
"""Fewer samples than this tell no facing."""


def level_axes(up: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Two level unit directions; the second is -Y where that is level."""
    ahead = np.array([0.0, -1.0, 0.0])
    ahead = ahead - up * (ahead @ up)
    if np.linalg.norm(ahead) < 1e-6:
        ahead = np.array([1.0, 0.0, 0.0])
    ahead = ahead / np.linalg.norm(ahead)
    return np.cross(up, ahead), ahead


def vote_for(
    points: FloatArray, up: FloatArray, forward: FloatArray, small: FloatArray | None, painted: Painted | None = None
) -> float:
    """How much the shape of points (n, 3) speaks for facing ``forward`` (3,), below zero for the opposite.

    ``small`` (k, 3) are the middles of small pieces, such as eyes; ``painted`` is the surface of the figure's upper half.
    """
    size = float(np.ptp(points @ up)) if len(points) >= FEWEST else 0.0
    if size <= 0:
        return 0.0
    axes = np.stack([np.cross(up, forward), forward, up])
    side, deep, height = axes @ points.T
    vote = HABIT * float(forward @ level_axes(up)[1])
    vote += DETAILS * _details(deep, side, height, small @ axes.T) if small is not None and len(small) else 0.0
    vote += PAINT * vote_of_paint(painted, up, forward) if painted is not None else 0.0
    found = foot_parts(np.column_stack([side, deep, height]), float(np.median(side)), size)
    feet = _over_tails(found[0], size) if found is not None and found[1] else _on_the_ground(deep, side, height, size)
    return vote + feet + CHIN * _overhang(deep, side, height, size)


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
