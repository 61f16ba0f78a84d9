"""Which way a figure faces by its shape alone: how its halves mirror, and where feet and face are."""

import itertools
from dataclasses import dataclass

import numpy as np

from ...extents import cells_of, extent_of, high_of, low_of
from ...figure import FloatArray, IntArray
from ..parts.painted import Painted
from ..points.islands import GRID, join
from .front import FEWEST, level_axes, vote_for

CELLS = 28
FINER = 6 * CELLS
"""Halves are compared by one point in each of so many to the height, wherever a mesh is fine or coarse."""
WIDEST = 4 * CELLS
"""Beyond so many cells from the middle nothing is told apart: 4 heights, which bounds the memory."""
SIDES = (1, 99)
"""Percentiles of the places from side to side between which the middle lies: single points tell nothing."""
GROUND = 0.06
"""Feet are looked for up to this share of the height."""
GAP, MOST_THINGS, LEAST_CELLS = 90, 4, 2
"""What is less apart than one part in so many of the height is one thing; of so many of the largest that fill more
cells than the third two may be feet. Our choice."""
AS_LONG, AS_MUCH = 0.7, 0.6
"""Two feet alike: the shorter is longer than the first share of the longer, and the smaller has more points than the second
share of the larger. Our choice."""
APART = 0.4
"""Two feet are further apart than this share of their length; the two sides of a sheet are not. Our choice."""
LEGS = 0.3
"""Two alike feet beside each other tell the sides by this much more than anything at a right angle. Our choice."""
EVEN, UNEVEN = 0.95, 0.8
"""A pose with more mirror halves than the first share tells its sides without the feet; one with fewer than
the second does not tell them exactly. Our choice."""
CLEAR = 0.04
"""What tells the sides does so by this much more than the usual angle. Our choice."""
NEAR_LEGS, EXACT = np.radians(40.0), np.radians(1.6)
"""Legs within the first angle of what is mirrored best tell the sides of an uneven pose; less than the second off
the axis is on it. Our choice."""
WIDTH = 0.25
"""The way in which a figure is widest tells its sides by so much. Our choice."""
COARSE, FINE = 3.0, 13
"""Degrees from one angle to the next that is looked at, and in how many steps the best is looked for between its neighbours."""
ANGLES = np.radians(np.arange(0.0, 180.0, COARSE))
ALONG = (0, 30)
"""The angles along the axes of the scene."""
OFF_AXIS = np.radians(8.0)
"""A pose that is turned so far off them may be one along them: common practice, no source."""


def mirrored_shares(points: FloatArray, height: FloatArray, angles: FloatArray, size: float) -> FloatArray:
    """(a,) how much of the figure (n, 2) has a mirror half about the plane across each of ``angles`` (a,), 0 to 1."""
    cell = size / CELLS
    x, y = np.ascontiguousarray(points.T) / cell
    level: IntArray = ((height - height.min()) / cell).astype(np.int64)
    levels = int(level.max()) + 1
    shares = np.zeros(len(angles))
    for number, (ahead, aside) in enumerate(zip(np.sin(angles), np.cos(angles), strict=True)):
        side, deep = aside * x + ahead * y, aside * y - ahead * x
        side -= np.percentile(side, SIDES).mean()
        deep -= deep.min()
        reach = int(min(max(side.max(), -side.min()), WIDEST)) + 1
        deepest = int(min(deep.max(), 2 * WIDEST)) + 1
        column = np.minimum(deep, deepest - 1).astype(np.int64) * levels + level
        across = np.clip(side + reach, 0, 2 * reach - 1).astype(np.int64)
        held = np.zeros((2 * reach, deepest * levels), bool)
        held.reshape(-1)[across * (deepest * levels) + column] = True
        shares[number] = np.count_nonzero(held & held[::-1]) / max(int(np.count_nonzero(held)), 1)
    return shares


def evenly(points: FloatArray, step: float) -> IntArray:
    """Rows of one of the points (n, 3) in each cube of the side ``step`` that holds any."""
    cell = cells_of(points, step)
    wide = high_of(cell) + 1
    return np.unique((cell[:, 0] * wide[1] + cell[:, 1]) * wide[2] + cell[:, 2], return_index=True)[1]


def leg_way(flat: FloatArray, height: FloatArray, size: float) -> FloatArray | None:
    """Unit direction (2,) from one foot to the other, of points (n, 2) at ``height`` (n,); None without two alike.

    Where something hangs below the feet, they are looked for a little higher up.
    """
    low = float(height.min())
    for start in (0.0, GROUND, 2 * GROUND):
        near = flat[(height >= low + start * size) & (height < low + (start + GROUND) * size)]
        way = _between_alike(near, size / GAP) if len(near) else None
        if way is not None:
            return way
    return None


def _between_alike(points: FloatArray, step: float) -> FloatArray | None:
    """Unit direction between the two largest things alike of points (n, 2); what is less than ``step`` apart is one."""
    cell = cells_of(points, step)
    key, owner = np.unique(cell[:, 0] * GRID + cell[:, 1], return_inverse=True)
    links = []
    for way in (1, GRID - 1, GRID, GRID + 1):
        at = np.flatnonzero(np.isin(key + way, key))
        links.append(np.stack([at, np.searchsorted(key, key[at] + way)], axis=1))
    label = join(len(key), np.concatenate(links))
    count = np.bincount(label, minlength=len(key))
    things = [points[label[owner] == number] for number in np.argsort(-count)[:MOST_THINGS] if count[number] > LEAST_CELLS]
    for one, other in itertools.combinations(things, 2):
        between = other.mean(axis=0) - one.mean(axis=0)
        extent = [float(extent_of(own).max()) for own in (one, other)]
        alike = min(extent) > AS_LONG * max(extent) and len(other) > AS_MUCH * len(one)
        if alike and np.linalg.norm(between) > APART * max(extent):
            return np.asarray(between / np.linalg.norm(between), float)
    return None


@dataclass(frozen=True)
class Facing:
    """Unit ``forward`` (3,) and how much speaks for it against its opposite, ``vote``.

    ``along`` (3,) is the axis of the scene that an uneven pose off all of them more likely faces than another.
    """

    forward: FloatArray
    vote: float
    along: FloatArray | None = None


def facing_by_shape(points: FloatArray, up: FloatArray, small: FloatArray | None = None) -> FloatArray | None:
    """Unit facing direction (3,) of points (n, 3); None where nothing tells it."""
    found = facing_and_vote(points, up, small)
    return None if found is None else found.forward


def facing_and_vote(
    points: FloatArray, up: FloatArray, small: FloatArray | None = None, painted: Painted | None = None
) -> Facing | None:
    """Which way points (n, 3) face; None where nothing tells it.

    ``small`` (k, 3) are the middles of small pieces, such as eyes; ``painted`` is the surface of the figure's upper half.
    """
    height = points @ up
    size = float(np.ptp(height)) if len(points) >= FEWEST else 0.0
    if size <= 0:
        return None
    across, ahead = level_axes(up)
    flat = np.stack([points @ across, points @ ahead], axis=1)
    found = _sides(flat - (high_of(flat) + low_of(flat)) / 2, height, size)
    if found is None:
        return None
    angle, uneven, along_ahead = found
    forward = -np.sin(angle) * across + np.cos(angle) * ahead
    vote = vote_for(points, up, forward, small, painted)
    forward = forward if vote >= 0 else -forward
    along = None
    if uneven and max(abs(np.sin(angle)), abs(np.cos(angle))) < np.cos(OFF_AXIS):
        along = ahead if along_ahead else across
        along = along if along @ forward > 0 else -along
    return Facing(np.asarray(forward / np.linalg.norm(forward), float), abs(vote), along)


def _sides(flat: FloatArray, height: FloatArray, size: float) -> tuple[float, bool, bool] | None:
    """The angle of the way from side to side of points (n, 2) at ``height`` (n,), whether the pose is too uneven
    to tell it exactly, and whether it would rather be the first axis than the second. None where nothing tells it."""
    few = evenly(np.column_stack([flat, height]), size / FINER)
    flat_few, height_few = flat[few], height[few]
    plain = mirrored_shares(flat_few, height_few, ANGLES, size)
    wide = np.array([np.ptp(flat_few @ np.array([np.cos(angle), np.sin(angle)])) for angle in ANGLES])
    scores = plain + WIDTH * wide / wide.max()
    legs = leg_way(flat, height, size)
    if legs is not None and plain.max() < EVEN:
        scores = scores + LEGS * (np.cos(ANGLES) * legs[0] + np.sin(ANGLES) * legs[1]) ** 2
    if scores.max() - np.median(scores) < CLEAR:
        return None
    best = float(ANGLES[int(np.argmax(scores))])
    if legs is not None and plain[int(np.argmax(scores))] < UNEVEN and abs(np.cos(best) * legs[0] + np.sin(best) * legs[1]) > np.cos(NEAR_LEGS):
        best = float(np.arctan2(legs[1], legs[0]) % np.pi)
    else:
        fine = best + np.radians(np.linspace(-COARSE, COARSE, FINE))
        best = float(fine[int(np.argmax(mirrored_shares(flat_few, height_few, fine, size)))])
    if abs(best) < EXACT or abs(best - np.pi) < EXACT:
        best = 0.0
    return best, bool(plain.max() < UNEVEN), bool(scores[ALONG[0]] >= scores[ALONG[1]])
