"""The chin of a head that is a piece of its own: its lowest point, an open mouth, what it sinks into."""

import numpy as np

from ...figure import FloatArray
from ...findings import Reading
from ..fuse import Bracket
from ..head.region import Head
from .chin_fit import FaceOutline
from .chin_seen import MEETS_BODY
from .chin_touch import BLUR, CLEAR, ChinFit
from .side_outline import cuts, front_line

OVER_LIP = 0.06
"""A chin so far over the end of the head's own piece, in heads, may be the lip over an open mouth. Our choice."""
FACE_OVER = 0.25
"""So much of the face over a notch, in heads, is compared with what is below it: no nose, no brim. Our choice."""
UNDER_NOTCH = 0.01
"""What is below begins so far under the notch, in heads. Our choice."""
JAW_REACH = 0.8
"""What goes on under a notch and reaches so far forward, of the head's depth, is a jaw under an open mouth; a neck
reaches up to 0.7: invented heads, against 0.87 and 0.96 on ready ones with open mouths."""

BALL_BELOW = 0.06
"""A head of its own that goes on further than this under its chin, in heads, may be a ball behind a muzzle. Our choice."""
ROUND, NARROWS = (0.03, 0.12), 0.75
"""Within the first height over its lowest point, in heads, a ball is as wide as the second of its width within the second:
half of it by its shape, while a neck's is all of it. Our choice."""

NO_NECK = 0.03
"""A neck may hang on a head of its own whose outline's chin lies further than this over its lowest point, in heads. Our choice."""
HIGHEST_CHIN = 0.35
"""Over a neck, or over a body that the head sinks into, the chin lies no further than this over the head's lowest point, in
heads. Our choice."""
OVER_CHIN = 0.02
"""Without a neck it lies no further than this over the outline's chin, in heads. Our choice."""

STANDS_UNDER = 0.25
"""What a head sinks into goes on at least so far under it, in heads: no collar, no bow. Our choice."""
MARGIN = 0.02
"""It is looked at from so far under the head's lowest point, in heads. Our choice."""
LOOKED_AT = 0.4
"""The outlines of both are compared up to so far over the head's lowest point, in heads. Our choice."""
CLOSE_ABOVE = 3
"""The body covers the head where it does so within so many levels over the chin. Our choice."""
FEWEST = 4
"""Fewer points are no outline of a body."""
SHOWS = (0.03, 0.06)
"""A neck over clothes shows up to the notch by the first, or up to the chin by the second, in heights of what is over them. Our choice."""
MEETING = Bracket(BLUR, 0.6 * BLUR)
"""How far the chin may lie off the height where a head that sinks in meets the body. Our choice."""


def is_lip(head: Head, fit: ChinFit, size: float) -> bool:
    """True where what goes on below the notch reaches about as far forward as the head: a jaw under an open mouth."""
    cut = cuts(head.framed, head.faces_of(head.skull), head.side, head.width)
    cut = cut[cut[:, 2] < fit.touched + FACE_OVER * size]
    below, above = (cut[rows, 1] for rows in (cut[:, 2] < fit.notch - UNDER_NOTCH * size, cut[:, 2] > fit.touched))
    if not len(below) or not len(above) or fit.touched < head.low + OVER_LIP * size:
        return False
    return bool(below.max() - above.min() > JAW_REACH * np.ptp(above))


def is_round(head: Head, fit: ChinFit | None, size: float) -> bool:
    """True where the head's own piece goes on under the chin and ends round, as a ball behind a muzzle does and no neck."""
    if fit is None or fit.height < head.low + BALL_BELOW * size:
        return False
    own = head.framed[head.skull]
    near, over = (own[own[:, 2] < head.low + share * size] for share in ROUND)
    if len(near) < 3:
        return False
    return bool(np.ptp(near[:, 0]) < NARROWS * np.ptp(over[:, 0]))


def own_end(head: Head, fit: ChinFit | None, size: float) -> Reading:
    """The head is a piece of its own: its lowest point in front, unless a neck hangs on it."""
    method = "lowest point in front of the head's own piece"
    if fit is None:
        return CLEAR.about(method, head.low, size)
    if fit.touched > head.low + NO_NECK * size:
        return Bracket(BLUR, HIGHEST_CHIN).about(method, head.low, size)
    over = max(fit.height - head.low, 0.0) + OVER_CHIN * size
    return Reading(method, head.low, head.low - BLUR * size, head.low + over)


def hidden_below(head: Head, front: FloatArray, fit: ChinFit | None, size: float) -> list[Reading]:
    """Where a head of its own sinks into the body: the height at which they meet in front."""
    rest = _below(head, size)
    if len(rest) < FEWEST:
        return []
    low, high = head.low, head.low + LOOKED_AT * size
    heights, line = front_line(front, low, high)
    levels, chest = front_line(rest, low, high)
    if not len(levels) or not len(heights):
        return []
    body_line = np.interp(heights, levels, chest, right=-np.inf)
    covered = body_line >= line
    first = int(np.searchsorted(heights, head.low if fit is None else fit.touched))
    if first >= len(covered) or not covered[first : first + CLOSE_ABOVE].any():
        return []
    bare = np.flatnonzero(~covered[first + CLOSE_ABOVE :])
    if not len(bare):
        return []
    return [MEETING.about(MEETS_BODY, float(heights[first + CLOSE_ABOVE + bare[0]]), size)]


def over_hidden(front: FloatArray, meets: float, crown: float) -> ChinFit | None:
    """The chin over a neck that goes down into clothes: it or its notch shows well over the height where the outline ``meets`` them."""
    size = crown - meets
    fit = FaceOutline(front[front[:, 2] > meets], meets, crown, joined=True).chin_over(meets - MARGIN * size)
    if fit is None or (fit.notch < meets + SHOWS[0] * size and fit.touched < meets + SHOWS[1] * size):
        return None
    return fit


def _below(head: Head, size: float) -> FloatArray:
    """The outline (n, 3) of what the head may sink into, about its lower end."""
    lowest = np.full(int(head.piece.max()) + 1, np.inf)
    np.minimum.at(lowest, head.piece, head.framed[:, 2])
    others = ~head.own & ~np.isin(head.piece, np.unique(head.piece[head.own]))
    others &= lowest[head.piece] < head.low - STANDS_UNDER * size
    rest = cuts(head.framed, head.faces_of(others), head.side, head.width)
    return rest[(rest[:, 2] > head.low - MARGIN * size) & (rest[:, 2] < head.low + HIGHEST_CHIN * size)]
