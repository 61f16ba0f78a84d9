"""Which element is whose partner: what every further layer is compared on."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray, Surface
from ..findings import MirrorPlane
from ..settings import Settings


@dataclass(frozen=True)
class Limits:
    """``tolerance`` in scene units, ``metres`` a scene unit; the plane in world space."""

    tolerance: float
    metres: float
    plane: MirrorPlane
    settings: Settings


@dataclass(frozen=True)
class Matched:
    """One object with itself, or a left object with the right one that is its mirror image.

    ``points`` (n, 3) are ``here``'s vertices in the plane's frame, column 0 positive on the
    left; ``partner`` (n,) numbers in ``there``, -1 where none is known, and on an object
    matched with itself the vertex's own number on the centre. Ambiguous and doubled vertices
    have no partner here. ``off`` (n,) bool marks vertices whose partner is known but drifted.
    """

    here: Surface
    there: Surface
    points: FloatArray
    partner: IntArray
    off: NDArray[np.bool_]

    @property
    def itself(self) -> bool:
        """True when both halves are in one object."""
        return self.here is self.there
