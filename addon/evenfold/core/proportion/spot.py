"""One landmark while it is being found, heights in scene units along the up direction."""

from dataclasses import dataclass

from ..figure import FloatArray
from ..findings import Reading


@dataclass(frozen=True)
class Spot:
    """``height`` with its bracket ``low`` to ``high``; ``point`` (3,) in the figure's frame.

    ``readings`` are the pieces of evidence, in scene units along up as ``height`` is.
    """

    height: float
    point: FloatArray
    how: str
    low: float
    high: float
    evidence: str
    readings: tuple[Reading, ...] = ()
