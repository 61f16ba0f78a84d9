"""Heads tall while a figure is edited: landmarks carried along by the vertices around them.

An estimate between two measurings. It knows how far what was crown, chin and sole has moved, not
whether something else has become the crown; only measuring again tells that.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .figure import Figure, FloatArray, IntArray, Surface
from .findings import Proportion

COUNTED = ("crown", "chin", "sole")
NEAREST = 12
"""So many vertices around a landmark carry it. Our choice."""


@dataclass(frozen=True)
class Carrier:
    """A landmark's height above the sole in metres, and the vertices (k,) of a surface that carry it.

    ``share`` (k,) is how much each counts, together 1; none where the artist pinned the landmark.
    """

    height: float
    row: int
    vertices: IntArray
    share: FloatArray


@dataclass(frozen=True)
class Carried:
    """What crown, chin and sole hang on, with the places from which they are carried.

    ``start`` (n, 3) world places of every surface; ``up`` (3,) unit.
    """

    carriers: dict[str, Carrier]
    start: tuple[FloatArray, ...]
    up: FloatArray
    metres_per_unit: float


def carry(figure: Figure, found: Proportion) -> Carried | None:
    """What the count hangs on; None where there is no count, or nothing to carry it.

    ``figure`` has the places that ``found`` was measured from.
    """
    if found.heads_tall is None or found.up is None or not set(COUNTED) <= set(found.landmarks):
        return None
    places = tuple(surface.world for surface in figure.surfaces)
    if not sum(len(one) for one in places):
        return None
    carriers = {}
    for name in COUNTED:
        landmark = found.landmarks[name]
        if landmark.how == "pinned":
            none = np.zeros(0, np.int64)
            carriers[name] = Carrier(landmark.height, 0, none, np.zeros(0))
        else:
            carriers[name] = _carrier(landmark.height, landmark.point, places)
    return Carried(carriers, places, np.asarray(found.up, float), figure.metres_per_unit)


def _carrier(height: float, point: FloatArray, places: Sequence[FloatArray]) -> Carrier:
    """The vertices nearest to the landmark, on the surface that comes nearest to it."""
    squares = [np.square(one - point).sum(axis=1) for one in places]
    least = [float(np.nanmin(one)) if len(one) and np.isfinite(one).any() else np.inf for one in squares]
    row = int(np.argmin(least))
    apart = np.where(np.isfinite(squares[row]), squares[row], np.inf)
    count = min(NEAREST, len(apart))
    near = np.argpartition(apart, count - 1)[:count]
    weight = 1.0 / (apart[near] + 1e-6 * float(apart[near].max()) + 1e-30)
    return Carrier(height, row, near, weight / weight.sum())


def heads_now(carried: Carried, surfaces: Sequence[Surface]) -> float | None:
    """Heads tall with the landmarks where the vertices have taken them; None where that has no sense.

    ``surfaces`` are those of the figure ``carried`` was made from, with their places now.
    """
    heights = {}
    for name, one in carried.carriers.items():
        rise = 0.0
        if len(one.vertices):
            step = surfaces[one.row].world[one.vertices] - carried.start[one.row][one.vertices]
            rise = float(one.share @ (step @ carried.up)) * carried.metres_per_unit
        heights[name] = one.height + rise
    head = heights["crown"] - heights["chin"]
    tall = heights["crown"] - heights["sole"]
    return tall / head if np.isfinite(tall) and head > 0.0 and tall > head else None
