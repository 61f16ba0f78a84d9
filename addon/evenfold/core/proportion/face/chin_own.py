"""The chin of a head that is a piece of its own: its lowest point, an open mouth, what it sinks into."""

import numpy as np

from ...figure import FloatArray
from ...findings import Reading
from ..head.region import Head
from .side_outline import ChinFit, cuts, front_line

LIP = 0.06
"""A chin so far over the end of the head's own piece, in heads, may be the lip over an open mouth. Our choice."""
FACE = 0.25
"""So much of the face over a notch, in heads, is compared with what is below it: no nose, no brim. Our choice."""
JAW = 0.8
"""What goes on under a notch and reaches so far forward, of the head's depth, is a jaw under an open mouth; a neck
reaches up to 0.7: invented heads, against 0.87 and 0.96 on ready ones with open mouths."""
BEHIND = 0.06
"""A head of its own that goes on further than this under its chin, in heads, may be a ball behind a muzzle. Our choice."""
ROUND, NARROWS = (0.03, 0.12), 0.75
"""Within the first height over its lowest point, in heads, a ball is as wide as the second of its width within the second:
half of it by its shape, while a neck's is all of it. Our choice."""
BLUR = 0.009
"""How far a clear chin may be off, in heads: facets and rounding."""


def is_lip(head: Head, fit: ChinFit, size: float) -> bool:
    """True where what goes on below the notch reaches about as far forward as the head: a jaw under an open mouth."""
    cut = cuts(head.framed, head.faces_of(head.skull), head.side, head.width)
    cut = cut[cut[:, 2] < fit.touched + FACE * size]
    below, above = (cut[rows, 1] for rows in (cut[:, 2] < fit.notch - 0.01 * size, cut[:, 2] > fit.touched))
    if not len(below) or not len(above) or fit.touched < head.low + LIP * size:
        return False
    return bool(below.max() - above.min() > JAW * np.ptp(above))


def is_round(head: Head, fit: ChinFit | None, size: float) -> bool:
    """True where the head's own piece goes on under the chin and ends round, as a ball behind a muzzle does and no neck."""
    if fit is None or fit.height < head.low + BEHIND * size:
        return False
    own = head.framed[head.skull]
    near, over = (own[own[:, 2] < head.low + share * size] for share in ROUND)
    if len(near) < 3:
        return False
    return bool(np.ptp(near[:, 0]) < NARROWS * np.ptp(over[:, 0]))


def own_end(head: Head, fit: ChinFit | None, size: float) -> Reading:
    """The head is a piece of its own: its lowest point in front, unless a neck hangs on it."""
    method = "lowest point in front of the head's own piece"
    if fit is not None:
        reach = 0.35 * size if fit.touched > head.low + 0.03 * size else max(fit.height - head.low, 0.0) + 0.02 * size
        return Reading(method, head.low, head.low - BLUR * size, head.low + reach)
    return Reading(method, head.low, head.low - BLUR * size, head.low + BLUR * size)


def hidden_below(head: Head, front: FloatArray, fit: ChinFit | None, size: float) -> list[Reading]:
    """Where a head of its own sinks into the body: the height at which they meet in front."""
    lowest = np.full(int(head.piece.max()) + 1, np.inf)
    np.minimum.at(lowest, head.piece, head.framed[:, 2])
    others = ~head.own & ~np.isin(head.piece, np.unique(head.piece[head.own]))
    others &= lowest[head.piece] < head.low - 0.25 * size
    rest = cuts(head.framed, head.faces_of(others), head.side, head.width)
    rest = rest[(rest[:, 2] > head.low - 0.02 * size) & (rest[:, 2] < head.low + 0.35 * size)]
    if len(rest) < 4:
        return []
    low, high = head.low, head.low + 0.4 * size
    heights, line = front_line(front, low, high)
    levels, chest = front_line(rest, low, high)
    if not len(levels) or not len(heights):
        return []
    body_line = np.interp(heights, levels, chest, right=-np.inf)
    covered = body_line >= line
    first = int(np.searchsorted(heights, head.low if fit is None else fit.touched))
    if first >= len(covered) or not covered[first : first + 3].any():
        return []
    bare = np.flatnonzero(~covered[first + 3 :])
    if not len(bare):
        return []
    meet = float(heights[first + 3 + bare[0]])
    return [Reading("where the head meets the body in front", meet, meet - BLUR * size, meet + 0.6 * BLUR * size)]
