"""Which piece of a head is the skull with the face: the one that shows most from the front, unless it is but something on it."""

import numpy as np

from ...figure import FloatArray, IntArray
from ..directions.middle import middle_and_width
from ..parts.body import BoolArray
from ..points.islands import boxes_of
from .from_front import shown_from_front

REACH = 0.3
"""What shows is looked at so far to both sides of the middle, in widths or heights of the head. Our choice."""
LOW_COUNTS = 1.1
"""What shows lowest counts so much, what shows highest one less: the face lies low. Our choice."""
JOINED = 0.4
"""A piece that goes on into the body shows by this share of what shows most, to be taken before those that do not. Our choice."""
SHOWN, MUZZLE = 0.25, 0.65
"""A head behind a muzzle of its own piece shows by the first share of it, and the muzzle is smaller than the second. Our choice."""
ROUND = 0.6
"""A head before hair that hangs is deeper than this share of its breadth: no mask, no fringe. Our choice."""
JUTS = 0.2
"""A muzzle's middle lies so far ahead of the head's, in depths of the head; a face under hair does not. Our choice."""
NECK = 0.7
"""A neck of its own piece is narrower and less deep than this share of the head that it reaches into. Our choice."""
UNDER_HAT, OVER, INTO = 0.35, 0.4, 0.26
"""A face under a hat of its own piece is broader and deeper than the first share of it and lies within its rim; the hat
begins over the second share of the face's height, and the face reaches into it by the third: a neck does not. Our choice."""
LOWER_END, BROAD = 0.12, 0.75
"""Within the first share of its height from below a hat is broader than the second share of its breadth. Our choice."""
SHELL = 0.85
"""A head inside a shell is larger than this share of it. Our choice."""


def skull_of(framed: FloatArray, own: BoolArray, piece: IntArray, faces: IntArray) -> BoolArray:
    """(n,) the piece of the head ``own`` (n,) that shows most from the front, low counting more than high."""
    mine = own[faces].all(axis=1)
    if len(np.unique(piece[own])) == 1 or not mine.any():
        return own
    shown = _shown(framed, framed[own], np.where(mine, piece[faces[:, 0]], -1), faces, int(piece.max()) + 1)
    if shown is None:
        return own
    total, front = shown
    joined = np.zeros(len(total), bool)
    some = own[faces].any(axis=1) & ~mine
    joined[piece[faces[some][:, 0]]] = True
    joined &= total > JOINED * total.max()
    if joined.any():
        total = np.where(joined, total, 0.0)
    return own & (piece == whole_of(framed[own], piece[own], total, front))


def _shown(framed: FloatArray, points: FloatArray, owner: IntArray, faces: IntArray, count: int) -> tuple[FloatArray, FloatArray] | None:
    """(count,) how much of each piece shows from the front on the head of the ``points`` (k, 3), and how far forward that lies.

    None where nothing shows; ``owner`` (t,) is the piece of each of the ``faces`` (t, 3), -1 for what only hides others.
    """
    side, width = middle_and_width(points)
    reach = REACH * min(width, float(np.ptp(points[:, 2])))
    if not reach > 0:
        return None
    low, high = float(points[:, 2].min()), float(points[:, 2].max())
    middle = framed[faces].mean(axis=1)
    near = (np.abs(middle[:, 0] - side) < 2 * reach) & (middle[:, 2] > low) & (middle[:, 2] < high)
    shown, level, ahead = shown_from_front(framed, faces[near], owner[near], side, reach, (low, high))
    mine = shown >= 0
    shown, level, ahead = shown[mine], level[mine], ahead[mine]
    if not len(shown):
        return None
    weight = LOW_COUNTS - (level - level.min()) / max(float(np.ptp(level)), 1e-12)
    front = np.bincount(shown, ahead, count) / np.maximum(np.bincount(shown, minlength=count), 1)
    return np.asarray(np.bincount(shown, weight, count), float), np.asarray(front, float)


def whole_of(points: FloatArray, piece: IntArray, total: FloatArray, front: FloatArray) -> int:
    """The piece shown most (``total`` by piece), unless it is but something of a head's.

    That is hair that hangs behind one, a muzzle on one, a neck under one, a hat over one, or a shell around one. ``front`` is
    how far forward lies what is shown of each.
    """
    chosen = int(np.argmax(total))
    low, high = boxes_of(points, piece, len(total))
    shown = total > SHOWN * total.max()
    before = shown & _is_before_hair(low, high, chosen, float(front[chosen]))
    if before.any():
        chosen = int(np.argmax(np.where(before, total, -1.0)))
    behind = shown & _is_behind_muzzle(low, high, chosen)
    if behind.any():
        return int(np.argmax(np.where(behind, total, -1.0)))
    over = shown & _is_over_neck(low, high, chosen)
    over &= [bool(one) and not _is_open_below(points[piece == number]) for number, one in enumerate(over)]
    if over.any():
        return int(np.argmax(np.where(over, total, -1.0)))
    under = shown & _is_under_hat(low, high, chosen)
    if under.any() and _is_open_below(points[piece == chosen]):
        chosen = int(np.argmax(np.where(under, total, -1.0)))
    return _inside_shells(low, high, chosen)


def _size(low: FloatArray, high: FloatArray) -> FloatArray:
    """(k, 3) of boxes; nothing where a piece has no points."""
    return np.where(np.isfinite(high - low), high - low, 0.0)


def _is_before_hair(low: FloatArray, high: FloatArray, chosen: int, front: float) -> BoolArray:
    """(k,) boxes of heads behind which the ``chosen`` one hangs: about as broad, and with their middle before its ``front``."""
    size = _size(low, high)
    alike = (size[:, 0] > MUZZLE * size[chosen, 0]) & (size[:, 1] > ROUND * size[:, 0])
    with np.errstate(invalid="ignore"):
        return np.asarray(alike & (low[:, 1] + high[:, 1] > 2 * front), bool)


def _is_behind_muzzle(low: FloatArray, high: FloatArray, chosen: int) -> BoolArray:
    """(k,) boxes of heads on which the ``chosen`` one is a muzzle: much smaller, both ways, and it juts out."""
    size = _size(low, high)
    with np.errstate(invalid="ignore"):
        ahead = np.nan_to_num((low[:, 1] + high[:, 1]) / 2)
    larger = (size[:, [0, 2]] * MUZZLE > size[chosen, [0, 2]]).all(axis=1)
    return np.asarray(larger & (ahead[chosen] > ahead + JUTS * size[:, 1]), bool)


def _is_over_neck(low: FloatArray, high: FloatArray, chosen: int) -> BoolArray:
    """(k,) boxes of heads, or hats, under which the ``chosen`` one is a neck: narrower, and it reaches into them from below."""
    size = _size(low, high)
    larger = (size[:, :2] * NECK > size[chosen, :2]).all(axis=1)
    return np.asarray(larger & (low[:, 2] > low[chosen, 2]) & (low[:, 2] < high[chosen, 2]) & (high[:, 2] > high[chosen, 2]), bool)


def _is_under_hat(low: FloatArray, high: FloatArray, chosen: int) -> BoolArray:
    """(k,) boxes of faces over which the ``chosen`` one is a hat: it begins over the lower part of one that is hardly narrower."""
    size = _size(low, high)
    broad = (size[:, :2] > UNDER_HAT * size[chosen, :2]).all(axis=1)
    reaches = (high[:, 2] > low[chosen, 2] + INTO * size[:, 2]) & (low[chosen, 2] > low[:, 2] + OVER * size[:, 2])
    within = (low[:, :2] > low[chosen, :2]).all(axis=1) & (high[:, :2] < high[chosen, :2]).all(axis=1)
    return np.asarray(broad & reaches & within, bool)


def _inside_shells(low: FloatArray, high: FloatArray, chosen: int) -> int:
    """The piece in the ``chosen`` one that is hardly smaller, as a head in a shell, which may lie in a shell itself; else the ``chosen`` one."""
    size = _size(low, high)
    while True:
        inside = (low > low[chosen]).all(axis=1) & (high < high[chosen]).all(axis=1) & (size > SHELL * size[chosen]).all(axis=1)
        if not inside.any():
            return chosen
        chosen = int(np.argmax(inside))


def _is_open_below(points: FloatArray) -> bool:
    """True for points (n, 3) of a hat or hood, which is about as broad near its lower end as anywhere; a head is round below."""
    rise = points[:, 2] - points[:, 2].min()
    near = points[rise <= LOWER_END * rise.max()]
    return bool(np.ptp(near[:, 0]) > BROAD * np.ptp(points[:, 0]))
