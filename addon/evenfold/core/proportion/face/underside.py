"""The underside of a face seen from the side: where it is lowest, and where the face turns into it."""

from dataclasses import dataclass

import numpy as np

from ...figure import FloatArray

STEP = 0.006
"""The underside is looked at in steps of this share of the head."""
LEVEL = np.tan(np.radians(7.5))
"""An underside that falls towards the neck no more steeply than this still starts at the chin."""
SHORTEST, LONGEST = 3, 2000
"""The underside of a head has more than the first and less than the second of such steps."""
FEWEST = 8
"""So few points are no outline of a face."""
HIGHEST = 0.35
"""No underside's lowest place lies further than this over the notch, in heads. Our choice."""
REACH = 5
"""Steps over which that fall is taken."""
ROUND = 0.12
"""An underside that sags under the straight way to its front end by this share of the rise is round."""
MARGIN = 0.018
"""So close to the neck, in heads, nothing is told from the neck itself."""
NEAR = 0.02
"""A level underside meets the neck so close over the notch below it, in heads; a ball's facet does not."""
RISES = 0.003
"""An underside that rises behind its lowest place by this share of the head shows a chin."""


@dataclass(frozen=True)
class Underside:
    """``height`` of the chin and how far ``forward`` it is; ``lowest`` the lowest place behind it;
    ``bend`` where the face over the chin stands upright."""

    height: float
    forward: float
    lowest: float
    bend: float


def find_underside(points: FloatArray, floor: float, top: float, back: float, size: float) -> Underside | None:
    """The chin on the outline (n, 3) ahead of ``back`` between two heights, in a head of ``size``.

    None where the underside falls to the neck all the way, so that no lowest place is to be seen.
    """
    inside = points[(points[:, 2] >= floor) & (points[:, 2] <= top) & (points[:, 1] > back + MARGIN * size)]
    step = STEP * size
    deep = float(inside[:, 1].max()) - back if len(inside) > FEWEST else 0.0
    if not SHORTEST * step < deep < LONGEST * step:
        return None
    count = int(np.ceil(deep / step))
    low = np.full(count, np.inf)
    np.minimum.at(low, np.minimum(((inside[:, 1] - back) / step).astype(int), count - 1), inside[:, 2])
    seen = np.flatnonzero(np.isfinite(low))
    first, line = int(seen[0]), np.interp(np.arange(seen[0], count), seen, low[seen])
    start = int(np.argmin(line))
    chin = _front_end(line, start, step)
    is_border = start == 0 or line[:start].max() < line[start] + RISES * size
    if is_border and (chin - start < REACH or line[start] > floor + NEAR * size):
        return None
    if start + 1 >= len(line) or line[start] > floor + HIGHEST * size:
        return None
    return Underside(float(line[chin]), float(back + (first + chin + 0.5) * step), float(line[start]), _upright(line, chin, step))


def _front_end(line: FloatArray, start: int, step: float) -> int:
    """The step at which the underside ends in front, going forward from its lowest place."""
    at = start
    while at + REACH < len(line) and line[at + REACH] - line[at] <= LEVEL * REACH * step:
        at += 1
    if at == start:
        return start
    rest = line[at : at + REACH + 1] - line[at]
    at += int(np.flatnonzero(rest <= LEVEL * step * np.arange(len(rest)) + 1e-12)[-1])
    rise = line[at] - line[start]
    sag = (line[at] + line[start]) / 2 - line[(start + at) // 2]
    return start if sag > ROUND * rise else at


def _upright(line: FloatArray, chin: int, step: float) -> float:
    """The height over the chin at which the outline rises as steeply as it goes forward."""
    rise = np.diff(line[chin:])
    steep = np.flatnonzero(rise > step)
    return float(line[chin + steep[0]]) if len(steep) else float(line[-1])
