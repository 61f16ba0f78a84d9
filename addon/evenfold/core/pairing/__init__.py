"""Mirror pairs: who is whose partner across a plane, and how well do they match."""

from .pair import pair_points
from .records import Mesh, Pairing, State, Way
from .weld import WELD_SHARE, pair_places, shared_share

__all__ = [
    "WELD_SHARE",
    "Mesh",
    "Pairing",
    "State",
    "Way",
    "pair_places",
    "pair_points",
    "shared_share",
]
