"""A measuring carried along while its figure is edited: landmarks move with the vertices around them.

An estimate between two measurings. It knows how far what was crown, chin and sole has moved, not
whether something else has become the crown; only measuring again tells that.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .figure import Figure, FloatArray, IntArray, Surface, transform_points
from .findings import Landmark, Proportion

COUNTED = ("crown", "chin", "sole")
NEAREST = 12
"""So many vertices around a landmark carry it. Our choice."""


@dataclass(frozen=True)
class Carrier:
    """The vertices (k,) of a surface that carry a landmark, and their places (k, 3) in the world at the start.

    ``share`` (k,) is how much each counts, together 1; no vertices where the artist pinned the landmark.
    """

    row: int
    vertices: IntArray
    share: FloatArray
    start: FloatArray

    def step(self, surfaces: Sequence[Surface]) -> FloatArray:
        """(3,) how far the landmark has moved, in scene units."""
        if not len(self.vertices):
            return np.zeros(3)
        surface = surfaces[self.row]
        places = np.take(surface.positions, self.vertices, axis=0)
        return np.asarray(self.share @ (transform_points(surface.to_world, places) - self.start))


@dataclass(frozen=True)
class Carried:
    """A measuring with a count, and what each of its landmarks hangs on. ``up`` (3,) unit."""

    found: Proportion
    carriers: dict[str, Carrier]
    up: FloatArray
    metres_per_unit: float


def carry(figure: Figure, found: Proportion) -> Carried | None:
    """What the landmarks hang on; None where there is no count, or nothing to carry it.

    ``figure`` has the places that ``found`` was measured from.
    """
    if found.heads_tall is None or found.up is None or not set(COUNTED) <= set(found.landmarks):
        return None
    places = tuple(surface.world for surface in figure.surfaces)
    if not sum(len(one) for one in places):
        return None
    carriers = {name: _carrier(landmark, places) for name, landmark in found.landmarks.items()}
    return Carried(found, carriers, np.asarray(found.up, float), figure.metres_per_unit)


def _carrier(landmark: Landmark, places: Sequence[FloatArray]) -> Carrier:
    """The vertices nearest to the landmark, on the surface that comes nearest to it."""
    if landmark.how == "pinned" or not np.isfinite(landmark.point).all():
        return Carrier(0, np.zeros(0, np.int64), np.zeros(0), np.zeros((0, 3)))
    squares = [np.square(one - landmark.point).sum(axis=1) for one in places]
    least = [float(np.nanmin(one)) if len(one) and np.isfinite(one).any() else np.inf for one in squares]
    row = int(np.argmin(least))
    apart = np.where(np.isfinite(squares[row]), squares[row], np.inf)
    count = min(NEAREST, len(apart))
    near = np.argpartition(apart, count - 1)[:count]
    weight = 1.0 / (apart[near] + 1e-6 * float(apart[near].max()) + 1e-30)
    return Carrier(row, near, weight / weight.sum(), places[row][near])


def carried_along(carried: Carried, surfaces: Sequence[Surface]) -> Proportion | None:
    """The measuring with its landmarks where the vertices have taken them; None where that has no sense.

    ``surfaces`` are those of the figure ``carried`` was made from, with their places now. Widths and
    what stands above the crown are left out: they do not hang on single places.
    """
    steps = {name: one.step(surfaces) for name, one in carried.carriers.items()}
    rises = {name: float(step @ carried.up) * carried.metres_per_unit for name, step in steps.items()}
    landmarks = {
        name: _moved(landmark, steps[name], rises[name] - rises["sole"])
        for name, landmark in carried.found.landmarks.items()
    }
    tall = landmarks["crown"].height - landmarks["sole"].height
    head = landmarks["crown"].height - landmarks["chin"].height
    if not (np.isfinite(tall) and head > 0.0 and tall > head):
        return None
    found, heads = carried.found, tall / head
    share = heads / found.heads_tall if found.heads_tall else 1.0
    return replace(
        found, heads_tall=heads, low=_scaled(found.low, share), high=_scaled(found.high, share),
        head_height=head, height=tall, full_height=None, heads_with_hair=None, landmarks=landmarks, spans={},
    )


def _moved(landmark: Landmark, step: FloatArray, rise: float) -> Landmark:
    return replace(
        landmark, height=landmark.height + rise, point=landmark.point + step,
        low=landmark.low + rise, high=landmark.high + rise, readings=(),
    )


def _scaled(value: float | None, share: float) -> float | None:
    return None if value is None else value * share
