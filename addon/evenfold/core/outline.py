"""Outlines of what triangles cover in a flat view: cells covered, their edge traced, few points kept."""

import numpy as np
from numpy.typing import NDArray

from .figure import FloatArray, IntArray

BoolArray = NDArray[np.bool_]

ROWS = 360
"""Cells along the longer side of a view."""
MOST_POINTS = 420
"""Points of one view's outlines: what a page can carry for each figure."""
FEWEST_CELLS = 5.0
"""Outlines around a smaller area than this many cells are noise."""
AT_ONCE = 8000
"""Triangles looked at together, so that even ones as large as the view need little memory."""
SLACK = 0.4
"""How far, in cells, an outline may pass beside the cells' edge before points are kept."""


def outlines(points: FloatArray, triangles: IntArray) -> tuple[FloatArray, ...]:
    """Closed outlines, each (n, 2), of flat ``points`` (p, 2) and ``triangles`` (t, 3) between them.

    To be filled by the even-odd rule: holes are outlines too. Points that are no numbers are
    left out with their triangles. Empty where nothing has an extent. Raises nothing.
    """
    good = np.isfinite(points).all(axis=1)
    triangles = triangles[good[triangles].all(axis=1)] if len(triangles) else triangles
    if not good.any():
        return ()
    low, high = points[good].min(axis=0), points[good].max(axis=0)
    size = float((high - low).max())
    if not (np.isfinite(size) and size > 0.0):
        return ()
    cell = size / ROWS
    flat = np.where(good[:, None], (points - low) / cell + 2.0, 0.0)
    shape = tuple(int(n) + 4 for n in np.ceil((high - low) / cell))
    covered = _covered(flat, triangles, (shape[1], shape[0]))
    places = flat[good].astype(np.int64)
    covered[places[:, 1], places[:, 0]] = True
    return tuple(loop * cell + (low - 2.0 * cell) for loop in _few([smoothed(one) for one in trace(covered)]))


def _covered(points: FloatArray, triangles: IntArray, shape: tuple[int, int]) -> BoolArray:
    """(rows, columns) cells whose middle lies in a triangle: spans of each row, summed up."""
    change = np.zeros(shape[0] * (shape[1] + 1), np.int64)
    for some in np.array_split(triangles, len(triangles) // AT_ONCE + 1):
        _add_spans(change, points[some], shape[1] + 1)
    return np.cumsum(change.reshape(shape[0], shape[1] + 1), axis=1)[:, :-1] > 0


def _add_spans(change: IntArray, corners: FloatArray, width: int) -> None:
    heights = corners[:, :, 1]
    first = np.ceil(heights.min(axis=1) - 0.5).astype(np.int64)
    count = np.floor(heights.max(axis=1) - 0.5).astype(np.int64) - first + 1
    count = np.maximum(count, 0)
    owner = np.repeat(np.arange(len(corners)), count)
    row = first[owner] + np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    middle = row + 0.5
    low, high = np.full(len(owner), np.inf), np.full(len(owner), -np.inf)
    for side in range(3):
        a, b = corners[owner, side], corners[owner, (side + 1) % 3]
        crosses = (np.minimum(a[:, 1], b[:, 1]) <= middle) & (middle <= np.maximum(a[:, 1], b[:, 1]))
        rise = b[:, 1] - a[:, 1]
        share = np.where(rise == 0.0, 0.0, (middle - a[:, 1]) / np.where(rise == 0.0, 1.0, rise))
        across = a[:, 0] + share * (b[:, 0] - a[:, 0])
        low = np.where(crosses, np.minimum(low, across), low)
        high = np.where(crosses, np.maximum(high, across), high)
    start, stop = np.ceil(low - 0.5), np.floor(high - 0.5) + 1
    kept = stop > start
    start, stop, row = start[kept].astype(np.int64), stop[kept].astype(np.int64), row[kept]
    change += np.bincount(row * width + start, minlength=len(change))
    change -= np.bincount(row * width + stop, minlength=len(change))


def trace(covered: BoolArray) -> list[FloatArray]:
    """Loops (n, 2) around covered cells, x and y in cells, through the middles of the cells' sides.

    The outermost cells must be empty. Larger loops first.
    """
    start, end = _sides(covered)
    after: dict[int, list[int]] = {}
    for number, node in enumerate(start.tolist()):
        after.setdefault(node, []).append(number)
    ends = end.tolist()
    width = covered.shape[1] + 1
    loops: list[FloatArray] = []
    middles = np.stack([start % width + end % width, start // width + end // width], axis=1) / 2.0
    for node in list(after):
        while after[node]:
            side = after[node].pop()
            taken = [side]
            while ends[side] != node:
                side = after[ends[side]].pop()
                taken.append(side)
            loops.append(middles[taken])
    loops = [loop for loop in loops if abs(area(loop)) >= FEWEST_CELLS]
    return sorted(loops, key=lambda loop: -abs(area(loop)))


def _sides(covered: BoolArray) -> tuple[IntArray, IntArray]:
    """Corner numbers where each side between a covered and an empty cell starts and ends."""
    width = covered.shape[1] + 1
    starts, ends = [], []
    ways = (((-1, 0), (0, 0), (0, 1)), ((1, 0), (1, 1), (1, 0)), ((0, -1), (1, 0), (0, 0)), ((0, 1), (0, 1), (1, 1)))
    for (down, right), first, last in ways:
        beside = np.roll(covered, (-down, -right), axis=(0, 1))
        row, column = np.nonzero(covered & ~beside)
        starts.append((row + first[0]) * width + column + first[1])
        ends.append((row + last[0]) * width + column + last[1])
    return np.concatenate(starts).astype(np.int64), np.concatenate(ends).astype(np.int64)


def area(loop: FloatArray) -> float:
    """The signed area of a closed loop (n, 2)."""
    x, y = loop[:, 0], loop[:, 1]
    return float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) / 2.0


def smoothed(loop: FloatArray) -> FloatArray:
    """The loop without its stairs: each point the mean of five neighbours, at most a cell away."""
    if len(loop) < 12:
        return loop
    mean = sum((np.roll(loop, step, axis=0) for step in (-2, -1, 1, 2)), loop) / 5.0
    return np.asarray(mean, float)


def _few(loops: list[FloatArray]) -> list[FloatArray]:
    """The loops with as few points as the view may have: coarser, then only the largest."""
    slack = SLACK
    for _ in range(6):
        made = [loop for one in loops if len(loop := simplified(one, slack)) > 2]
        if sum(map(len, made)) <= MOST_POINTS:
            return made
        slack *= 1.6
    kept = np.cumsum([len(loop) for loop in made]) <= MOST_POINTS
    return [loop for loop, keep in zip(made, kept, strict=True) if keep]


def simplified(loop: FloatArray, slack: float) -> FloatArray:
    """The closed loop with only the points it needs to stay within ``slack`` of all others."""
    far = int(np.argmax(((loop - loop[0]) ** 2).sum(axis=1)))
    ring = np.concatenate([loop, loop[:1]])
    keep = np.zeros(len(ring), bool)
    keep[[0, far]] = True
    todo = [(0, far), (far, len(loop))]
    while todo:
        first, last = todo.pop()
        if last - first < 2:
            continue
        away = _away(ring[first + 1 : last], ring[first], ring[last])
        worst = int(np.argmax(away))
        if away[worst] > slack:
            middle = first + 1 + worst
            keep[middle] = True
            todo += [(first, middle), (middle, last)]
    return loop[keep[:-1]]


def _away(points: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """(n,) distances of points from the stretch between ``start`` and ``end``."""
    way = end - start
    length = float(way @ way)
    share = np.clip((points - start) @ way / length, 0.0, 1.0) if length else np.zeros(len(points))
    found: FloatArray = np.linalg.norm(points - start - share[:, None] * way, axis=1)
    return found
