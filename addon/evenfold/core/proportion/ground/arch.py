"""The arch of a foot that is open between a heel and the ball of the foot: where it lies below the ankle is the foot's own sole."""

import numpy as np

from ...figure import FloatArray, IntArray
from ...findings import Reading
from ..points.sample import dense

BINS, FEWEST_BINS = 30, 3
"""The underside is looked at in so many places from behind the ankle to before the toe joint, the arch seen in so many at least."""
ALONG, ACROSS = 1.5, 0.6
"""So far before and behind the ankle, and to its sides, the foot is looked at, in lengths from ankle to toe joint; the lengths
below are the same. Our choice."""
OPEN, SHUT = 0.12, 0.06
"""An arch is open above the first and stands on the ground below the second, in lengths."""
FALLEN = 0.35
"""The arch ends where no more than this share of its height is left: toes may be lifted a little."""
UNDER_ANKLE, SLACK = 0.1, 0.3
"""The sole lies further below the ankle than the first, in lengths; it may be off by the second share of its height. Our choice."""


def arch_below(framed: FloatArray, faces: IntArray, near: FloatArray, ankle: FloatArray, toe: FloatArray, ground: float) -> Reading | None:
    """The height below the ``ankle`` (3,) on the line of an open arch; None without one.

    ``faces`` (t, 3) of the points ``framed`` (n, 3) are those near the ankle, ``near`` (m, 3) the points there; ``toe`` (3,)
    is the toe joint, apart from the ankle on the ground; ``ground`` is where the figure stands.
    """
    way = (toe - ankle)[:2]
    length = float(np.linalg.norm(way))
    used, compact = np.unique(faces, return_inverse=True)
    samples = dense(framed[used], compact.reshape(-1, 3), length / BINS) if len(faces) else near
    off = samples[:, :2] - ankle[:2]
    along = off @ way / length**2
    across = np.abs(off @ np.array([-way[1], way[0]])) / length**2
    kept = (np.abs(along) < ALONG) & (across < ACROSS)
    row = np.minimum(((along[kept] + ALONG) / (2 * ALONG) * BINS).astype(int), BINS - 1)
    under = np.full(BINS, np.inf)
    np.minimum.at(under, row, (samples[kept][:, 2] - ground) / length)
    arch = _open_arch(under)
    if arch is None:
        return None
    place = (arch + 0.5) / BINS * (2 * ALONG) - ALONG
    rise, level = np.polyfit(place, under[arch], 1)
    highest = (float(ankle[2]) - ground) / length - UNDER_ANKLE
    if rise >= 0 or not OPEN < level < highest:
        return None
    slack = SLACK * level
    low, high = ground + (level - slack) * length, ground + min(level + slack, highest) * length
    return Reading("below the ankle, on the line of the arch between heel and toes", ground + level * length, low, high)


def _open_arch(under: FloatArray) -> IntArray | None:
    """Rows of the arch from its highest forward, with the ground reached behind it."""
    seen, ground = np.flatnonzero(np.isfinite(under)), np.flatnonzero(under < SHUT)
    if not len(ground):
        return None
    after = seen[seen > ground[0]]
    top = int(after[np.argmax(under[after])]) if len(after) else 0
    if not (ground < top).any() or under[top] < OPEN:
        return None
    down = after[(after > top) & (under[after] < max(SHUT, FALLEN * under[top]))]
    rows = seen[(seen >= top) & (seen < down[0])] if len(down) else seen[:0]
    return rows if len(rows) >= FEWEST_BINS else None
