"""Pairs that growing shifted by a place: along rings and belts whose halves are built differently."""

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray
from ..nearest import Finder, NearestFinder
from .edges import edges_touching, longest_edge, shortest_edge
from .grid import deviations, mirrored
from .grow import borne_out
from .islands import components
from .records import Mesh, Way

MUCH_NEARER = 1.0 / 3.0
"""A candidate must lie within this share of the present partner's distance. Our choice."""

PLACE_OFF = 0.5
"""Pairs closer than this share of their shortest edge are not asked: no place lies between. Ours."""

BORNE_OUT = 0.5
"""The share of the edges answered before that must be answered after. Our choice."""

ROUNDS = 16


def put_right(
    mesh: Mesh, partner: IntArray, way: NDArray[np.uint8], tolerance: float, finder: Finder
) -> bool:
    """Give shifted pairs (in ``partner`` and ``way``) their much nearer, mutual candidates.

    Done for a whole connected group or not at all: only where nobody loses a partner over it and
    the edges bear it out. So what was truly moved, alone or as a patch, keeps its partners.
    False where nothing was changed.
    """
    changed = False
    for _ in range(ROUNDS):
        far = _far(mesh, partner, way, tolerance)
        one, other = _nearer(mesh, partner, far, finder) if len(far) else (far, far)
        if not len(one) or not _accepted(mesh, partner, way, one, other):
            break
        changed = True
    return changed


def without_far_centre(mesh: Mesh, partner: IntArray, way: NDArray[np.uint8], tolerance: float) -> None:
    """Take back grown centre vertices further from the plane than their longest edge.

    Whoever is that far off has no neighbour on the plane, so nothing says it belongs there.
    """
    number = np.arange(len(partner))
    own = np.flatnonzero((partner == number) & (way >= Way.CONNECTIVITY))
    own = own[np.abs(mesh.points[own, 0]) > tolerance]
    if not len(own):
        return
    longest = longest_edge(mesh, own)
    lost = own[(np.abs(mesh.points[own, 0]) > longest) & (longest > 0.0)]
    partner[lost] = -1
    way[lost] = Way.NONE


def _far(mesh: Mesh, partner: IntArray, way: NDArray[np.uint8], tolerance: float) -> IntArray:
    """Grown vertices so far from their partner's image that another place may lie between."""
    grown = np.flatnonzero((way >= Way.CONNECTIVITY) & (partner >= 0))
    apart = deviations(mesh.points, grown, partner[grown])
    grown, apart = grown[apart > tolerance], apart[apart > tolerance]
    if not len(grown):
        return grown
    shortest = shortest_edge(mesh, grown)
    return grown[(apart > PLACE_OFF * shortest) | np.isinf(shortest)]


def _nearer(
    mesh: Mesh, partner: IntArray, far: IntArray, finder: Finder
) -> tuple[IntArray, IntArray]:
    """Mutually nearest among the far and the free, much nearer than what the far ones have."""
    asked = partner < 0
    asked[far] = True
    some = np.flatnonzero(asked)
    points = np.take(mesh.points, some, axis=0)
    enough = np.full(len(some), np.inf)
    known = np.flatnonzero(partner[some] >= 0)
    enough[known] = MUCH_NEARER * deviations(mesh.points, some[known], partner[some[known]])
    search = finder(points)
    one = np.flatnonzero(points[:, 0] > -enough)  # of two near enough, one stands so
    near, other = _nearest(search, points[one])
    ends = np.minimum(enough[one], enough[other])
    good = (near < ends) & np.isfinite(ends)
    one, other = one[good], other[good]
    mutual = _nearest(search, points[other])[1] == one
    one, other = some[one[mutual]], some[other[mutual]]
    return np.concatenate([one, other]), np.concatenate([other, one])


def _nearest(search: NearestFinder, points: FloatArray) -> tuple[FloatArray, IntArray]:
    """How far from the image of each of (q, 3) points the nearest is, and its number."""
    distance, at = search.query(mirrored(points), 1)
    return distance[:, 0], at[:, 0]


def _accepted(
    mesh: Mesh, partner: IntArray, way: NDArray[np.uint8], one: IntArray, other: IntArray
) -> bool:
    """Take the new pairs group by group where that does no harm; False where none was taken."""
    trial = partner.copy()
    old = partner[one]
    touched = np.unique(np.concatenate([one, other, old[old >= 0]]))
    trial[touched] = -1
    trial[one] = other
    inside = np.zeros(len(partner), bool)
    inside[touched] = True
    edges = mesh.edges[inside[mesh.edges].all(axis=1)]
    links = [edges, np.stack([one, other], axis=1)]
    known = old >= 0
    links.append(np.stack([one[known], old[known]], axis=1))
    group = components(len(partner), np.concatenate(links))[touched]
    count = len(partner)
    gain = np.bincount(group, (trial[touched] >= 0).astype(float) - (partner[touched] >= 0), count)
    before, after = _answered(mesh, partner, inside), _answered(mesh, trial, inside)
    held = np.bincount(group, after[touched] - BORNE_OUT * before[touched], count)
    answered = np.bincount(group, after[touched], count)
    good = touched[((gain >= 0) & (held >= 0) & (answered > 0))[group]]
    partner[good] = trial[good]
    way[good] = np.where(trial[good] >= 0, Way.DISTANCE, Way.NONE)
    return len(good) > 0


def _answered(mesh: Mesh, partner: IntArray, asked: NDArray[np.bool_]) -> FloatArray:
    """(n,) how many of an asked vertex's edges have mirrored edges."""
    share = np.nan_to_num(borne_out(mesh, partner, asked, every=True))
    edges = edges_touching(mesh.edges, asked)
    return share * np.bincount(edges.ravel(), minlength=len(partner))
