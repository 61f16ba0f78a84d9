"""Mirror pairs: who is whose partner across a plane, and how well do they match."""

from .pair import pair_points
from .records import Mesh, Pairing, State, Way

__all__ = ["Mesh", "Pairing", "State", "Way", "pair_points"]
