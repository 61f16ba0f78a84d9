"""The order in which partners are looked for: place, surroundings, connectivity, distance."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..figure import IntArray
from ..nearest import Finder
from .edges import mean_edge
from .grid import centre_alone, crowding, deviations, flipped, length, mirrored, rows, settle
from .grow import borne_out, grow_over_edges, grow_over_faces, surroundings
from .half_edges import Faces, HalfEdges
from .islands import seed_islands
from .leftover import class_of_free, match_by_distance, moved_side
from .records import Mesh, Pairing, State, Way
from .shifted import put_right, without_far_centre

_FIRST = ((2.0, 1),)
_FINE = ((8.0, 8), (0.5, 1))
COARSE = 8.0
"""The wider matching's reach as a multiple of the tolerance. Our choice."""
_COARSE_CELLS = ((4.0, 8), (2.0, 8))
MOSTLY_MOVED = 0.3
"""From this share of unmatched vertices on, wider matching is tried before growing. Our choice."""
WORTH = 0.05
"""Where most are free, a grid that settles a smaller share is left to growing. Our choice."""
LIKELY_SHARE = 0.75
"""Share of mirrored edges below which a far, grown pair is not believed. Our choice."""
_TIE_CELLS = ((0.5, 1), (2.0, 8), (8.0, 8), (32.0, 8))


def pair_points(mesh: Mesh, tolerance: float, finder: Finder) -> Pairing:
    """Put every vertex into exactly one class.

    ``tolerance`` is a length in the points' unit, above zero. Vertices that are not finite end
    unpaired. Raises ValueError when shapes do not fit.
    """
    if mesh.points.ndim != 2 or mesh.points.shape[1] != 3:
        raise ValueError(f"points must be (n, 3), not {mesh.points.shape}")
    if not tolerance > 0.0:
        raise ValueError(f"tolerance must be above zero, not {tolerance}")
    if np.isfinite(mesh.points).all():
        return _pair_finite(mesh, tolerance, finder)
    finite = np.isfinite(mesh.points).all(axis=1)
    return _spread(
        _pair_finite(_only(mesh, finite), tolerance, finder), np.flatnonzero(finite), len(finite)
    )


def _pair_finite(mesh: Mesh, tolerance: float, finder: Finder) -> Pairing:
    partner = np.full(len(mesh.points), -1)
    way = np.zeros(len(mesh.points), np.uint8)
    alone = centre_alone(mesh.points, tolerance)
    partner[alone] = alone
    way[alone] = Way.PLACE
    settle(mesh.points, mesh.points, partner, tolerance, _FIRST)
    if np.count_nonzero(partner < 0) > MOSTLY_MOVED * len(partner):
        _settle_coarsely(mesh, partner, tolerance)
    mostly = bool(np.count_nonzero(partner < 0) > MOSTLY_MOVED * len(partner))
    settle(mesh.points, mesh.points, partner, tolerance, _FINE, WORTH if mostly else 0.0)
    way[partner >= 0] = Way.PLACE
    tied = np.zeros(0, np.int64)
    if (partner < 0).any():
        tied = _settle_rest(mesh, tolerance, finder, partner, way, again=mostly)
    return _classify(mesh, partner, way, tied, tolerance, finder)


def _settle_coarsely(mesh: Mesh, partner: IntArray, tolerance: float) -> None:
    """Match (in ``partner``) beyond the tolerance where the edges bear it out."""
    trial = partner.copy()
    settle(mesh.points, mesh.points, trial, COARSE * tolerance, _COARSE_CELLS, WORTH)
    share = borne_out(mesh, trial, trial != partner)
    trial[~(share == 1.0)] = -1
    kept = np.flatnonzero((trial >= 0) & (partner < 0))
    kept = kept[trial[trial[kept]] == kept]
    partner[kept] = trial[kept]


def _settle_rest(
    mesh: Mesh,
    tolerance: float,
    finder: Finder,
    partner: IntArray,
    way: NDArray[np.uint8],
    *,
    again: bool,
) -> IntArray:
    """Settle what place alone could not (in ``partner`` and ``way``); returns the tied.

    With ``again`` places are compared once more after growing, since that was not done to the end.
    """
    faces = Faces.touching(mesh, partner < 0)
    news = _settle_by_surroundings(mesh, faces, partner, tolerance)
    way[news] = Way.SURROUNDINGS
    table = HalfEdges.of(faces, len(mesh.points))
    _grow(mesh, table, partner, way)
    if again:
        way[settle(mesh.points, mesh.points, partner, tolerance, _FINE)] = Way.PLACE
    centred = np.flatnonzero((partner < 0) & (np.abs(mesh.points[:, 0]) <= tolerance))
    partner[centred] = centred
    way[centred] = Way.PLACE
    if len(centred):
        _grow(mesh, table, partner, way)
    for _ in range(2):
        seeded = seed_islands(mesh.points, mesh.edges, partner, finder)
        way[seeded] = Way.ISLAND
        if not len(seeded):
            break
        _grow(mesh, table, partner, way)
    near, tied = match_by_distance(mesh, partner, tolerance, finder)
    way[near] = Way.DISTANCE
    if len(near):
        _grow(mesh, table, partner, way)
    del table, faces
    free = np.count_nonzero(partner < 0)
    _drop_unlikely(mesh, tolerance, partner, way)
    if put_right(mesh, partner, way, tolerance, finder) or np.count_nonzero(partner < 0) > free:
        near, _ = match_by_distance(mesh, partner, tolerance, finder)
        way[near] = Way.DISTANCE
    without_far_centre(mesh, partner, way, tolerance)
    return tied[partner[tied] < 0]


def _drop_unlikely(mesh: Mesh, tolerance: float, partner: IntArray, way: NDArray[np.uint8]) -> None:
    """Take back grown pairs that lie far apart and whose edges do not answer each other.

    Where the two halves are built differently, growing runs astray; a vertex that was only
    moved keeps its edges.
    """
    grown = np.flatnonzero((way == Way.CONNECTIVITY) & (partner >= 0))
    apart = deviations(mesh.points, grown, partner[grown])
    far = grown[apart > tolerance]
    if not len(far):
        return
    asked = np.zeros(len(partner), bool)
    asked[far] = True
    share = borne_out(mesh, partner, asked)[far]
    _take_back(far[share < LIKELY_SHARE], partner, way)
    _drop_frayed(mesh, grown, partner, way)


def _drop_frayed(mesh: Mesh, grown: IntArray, partner: IntArray, way: NDArray[np.uint8]) -> None:
    """Take back grown pairs further apart than their edges are long at the fringe of the known.

    Growing that ran astray ends among vertices without partners; what is taken back makes a new
    fringe, so this is repeated until all that is left stands within its surroundings.
    """
    for _ in range(len(grown)):
        grown = grown[partner[grown] >= 0]
        apart = deviations(mesh.points, grown, partner[grown])
        grown = grown[apart > mean_edge(mesh, grown)]
        if not len(grown):
            return
        asked = np.zeros(len(partner), bool)
        asked[grown] = True
        share = borne_out(mesh, partner, asked, every=True)[grown]
        frayed = grown[share < LIKELY_SHARE]
        if not len(frayed):
            return
        _take_back(frayed, partner, way)


def _take_back(vertices: IntArray, partner: IntArray, way: NDArray[np.uint8]) -> None:
    both = np.concatenate([vertices, partner[vertices]])
    partner[both] = -1
    way[both] = Way.NONE


def _settle_by_surroundings(
    mesh: Mesh, faces: Faces, partner: IntArray, tolerance: float
) -> IntArray:
    """Settle vertices that share a place by what lies around them; returns the newly settled."""
    free = crowding(mesh.points, np.flatnonzero(partner < 0), 4.0 * tolerance)
    if not len(free):
        return free
    wanted = np.zeros(len(partner), bool)
    wanted[free] = True
    keys = surroundings(mesh.points, faces.around(wanted), free)
    known = np.isfinite(keys[:, 0])
    free, keys = free[known], keys[known]
    points, stand = mesh.points[free], np.full(len(free), -1)
    settle(points, keys, stand, 4.0 * tolerance, _TIE_CELLS)
    apart = length(mirrored(points) - points[stand])
    stand[(stand >= 0) & (apart > tolerance)] = -1
    plain = np.flatnonzero(
        (stand < 0) & (np.abs(points[:, 0]) <= tolerance) & (np.abs(keys[:, 0]) <= 2.0 * tolerance)
    )
    alone = plain[centre_alone(keys[plain], 2.0 * tolerance)]
    stand[alone] = alone
    done = np.flatnonzero(stand >= 0)
    partner[free[done]] = free[stand[done]]
    return free[done]


def _grow(mesh: Mesh, table: HalfEdges, partner: IntArray, way: NDArray[np.uint8]) -> None:
    while (partner < 0).any():
        fresh = grow_over_faces(table, partner)
        more = grow_over_edges(mesh, partner)
        way[fresh] = Way.CONNECTIVITY
        way[more] = Way.CONNECTIVITY
        if not len(more):
            return


def _classify(
    mesh: Mesh,
    partner: IntArray,
    way: NDArray[np.uint8],
    tied: IntArray,
    tolerance: float,
    finder: Finder,
) -> Pairing:
    points, number = mesh.points, np.arange(len(partner))
    own, known = partner == number, partner >= 0
    image = flipped(rows(points, partner))
    image -= points
    deviation = length(image)
    deviation[own] = np.abs(points[own, 0])
    deviation[~known] = np.nan
    del image
    state = np.where(
        own,
        np.where(deviation <= tolerance, State.CENTRE, State.OFF_CENTRE),
        np.where(deviation <= tolerance, State.PAIRED, State.DRIFTED),
    ).astype(np.uint8)
    class_of_free(points, np.flatnonzero(~known), tied, tolerance, finder, state)
    suspect = moved_side(mesh, partner, np.flatnonzero(state == State.DRIFTED))
    return Pairing(partner, deviation, state, way, suspect)


def _only(mesh: Mesh, keep: NDArray[np.bool_]) -> Mesh:
    number = np.cumsum(keep) - 1
    edges = mesh.edges.reshape(-1, 2)
    edges = number[edges[keep[edges].all(axis=1)]]
    lengths = np.diff(mesh.face_starts)
    whole = np.ones(len(lengths), bool)
    filled = np.flatnonzero(lengths > 0)
    if len(filled):
        whole[filled] = np.logical_and.reduceat(keep[mesh.corners], mesh.face_starts[filled])
    corners = number[mesh.corners[np.repeat(whole, lengths)]]
    starts = np.concatenate([[0], np.cumsum(lengths[whole])]).astype(np.int64)
    return replace(mesh, points=mesh.points[keep], edges=edges, corners=corners, face_starts=starts)


def _spread(found: Pairing, numbers: IntArray, count: int) -> Pairing:
    partner = np.full(count, -1)
    partner[numbers] = (
        np.where(found.partner >= 0, numbers[np.maximum(found.partner, 0)], -1)
        if len(numbers)
        else -1
    )
    deviation = np.full(count, np.nan)
    deviation[numbers] = found.deviation
    state = np.full(count, State.UNPAIRED, np.uint8)
    state[numbers] = found.state
    way = np.zeros(count, np.uint8)
    way[numbers] = found.way
    suspect = np.zeros(count, bool)
    suspect[numbers] = found.suspect
    return Pairing(partner, deviation, state, way, suspect)
