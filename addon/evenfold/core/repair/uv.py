"""UV coordinates back to where their island's layout wants them, and seams made to match."""

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray, Surface
from ..layers import UVMap
from ..symmetry.matched import Matched
from ..symmetry.uv import laid_out, maps_of
from .case import Case, RepairError
from .changes import Plan, SeamsSet, UVMoved


def mend(case: Case) -> Plan:
    """The corners for ``uv-drifted``: mirrored, stacked, or as their island was packed.

    Where left and right faces meet in one UV point on the middle, it goes onto the line itself.
    Corners without a partner follow the UV point they share, so that nothing tears.
    """
    finding, matched = case.finding, case.matched
    one, other = _maps(case)
    rows, layout = laid_out(matched, one, other, case.limits.settings.uv_limit)
    listed = finding.elements[np.isin(finding.elements, rows)]
    listed = listed[_wanted(case, listed, matched.corner_partner[listed])]
    place = np.searchsorted(rows, listed)
    its = matched.corner_partner[listed]
    away, back = layout.away[place], layout.back[place]
    share = _share(case, listed, its, one, other)
    mine_to = one.places[listed] + back * share[:, None]
    its_to = other.places[its] - away * (1.0 - share[:, None])
    here = (case.here, one, listed, mine_to, matched.corner_partner < 0)
    there = (case.there, other, its, its_to, _unmatched_there(matched))
    if matched.itself:
        joined = (case.here, one, np.append(listed, its), np.concatenate([mine_to, its_to]), here[4] & there[4])
        changes = [_moved(case, *joined)]
    else:
        changes = [_moved(case, *here), _moved(case, *there)]
    changes = [change for change in changes if len(change.corners)]
    largest = float(np.hypot(away[:, 0], away[:, 1]).max(initial=0.0)) if changes else 0.0
    return Plan(tuple(changes), (), len(listed), largest, "uv")


def seams(case: Case) -> Plan:
    """The marks for ``seam-unmatched``: the left edge's, the right edge's, or both get the seam."""
    here, there, way = case.here, case.there, case.wish.way
    mine, its = case.finding.elements, case.finding.partners
    kept = _wanted_edges(case, mine, its)
    mine, its = mine[kept], its[kept]
    marked = _seams_of(here)[mine]
    if way == "average":
        wish = np.ones(len(mine), bool)
    else:
        stays = (way == "left") == (case.checked.sign > 0)
        wish = marked if stays else _seams_of(there)[its]
    changes = []
    for surface, edges in ((here, mine), (there, its)):
        for seam in (True, False):
            other = edges[(wish == seam) & (_seams_of(surface)[edges] != seam)]
            if len(other):
                changes.append(SeamsSet(surface.name, np.unique(other), seam))
    return Plan(tuple(changes), (), len(mine), 0.0, "uv")


def _maps(case: Case) -> tuple[UVMap, UVMap]:
    found = [pair for pair in maps_of(case.matched) if pair[0].name == case.finding.subject]
    if not found:
        raise RepairError(f"{case.entry.name} has no UV map {case.finding.subject} any more: check again.")
    return found[0]


def _wanted(case: Case, corners: IntArray, its: IntArray) -> NDArray[np.bool_]:
    here, there, excused = case.here, case.there, case.excused
    mine, other = here.corners[corners], there.corners[its]
    kept = ~(excused[here.name][mine] | excused[there.name][other])
    return kept & (case.wanted(here.name, mine) | case.wanted(there.name, other))


def _wanted_edges(case: Case, edges: IntArray, its: IntArray) -> NDArray[np.bool_]:
    here, there, excused = case.here, case.there, case.excused
    mine, other = here.edges[edges], there.edges[its]
    kept = ~(excused[here.name][mine].all(axis=1) | excused[there.name][other].all(axis=1))
    chosen = np.stack([case.wanted(here.name, mine[:, end]) for end in (0, 1)]).all(axis=0)
    chosen |= np.stack([case.wanted(there.name, other[:, end]) for end in (0, 1)]).all(axis=0)
    return kept & chosen


def _seams_of(surface: Surface) -> NDArray[np.bool_]:
    if surface.layers is None or len(surface.layers.seams) != len(surface.edges):
        raise RepairError(f"{surface.name} was changed since the check: check again.")
    return surface.layers.seams


def _share(
    case: Case, corners: IntArray, its: IntArray, one: UVMap, other: UVMap
) -> FloatArray:
    """(k,) how much of the way the corner here goes, its partner going the rest."""
    if case.wish.way == "average":
        return np.full(len(corners), 0.5)
    stays = (case.wish.way == "left") == (case.checked.sign > 0)
    if not case.matched.itself:
        return np.full(len(corners), 0.0 if stays else 1.0)
    vertex = case.matched.name[case.here.corners]
    joined = (vertex[corners] == vertex[its]) & (one.places[corners] == other.places[its]).all(axis=1)
    return np.where(joined, 0.5, 0.0 if stays else 1.0)


def _unmatched_there(matched: Matched) -> NDArray[np.bool_]:
    """(c,) the other object's corners that are nobody's partner."""
    free = np.ones(len(matched.there.corners), bool)
    free[matched.corner_partner[matched.corner_partner >= 0]] = False
    return free


def _moved(
    case: Case, surface: Surface, uv_map: UVMap, corners: IntArray, places: FloatArray,
    loose: NDArray[np.bool_],
) -> UVMoved:
    """Each corner once, with the ``loose`` ones (c,) that share its UV point; no idle move."""
    corners, first = np.unique(corners, return_index=True)
    places = places[first].astype(np.float32)
    points = _points(surface, uv_map)
    target = np.full(len(points), -1)
    target[points[corners]] = np.arange(len(corners))
    more = np.flatnonzero(loose & (target[points] >= 0))
    more = np.setdiff1d(more, corners)
    more = more[~case.excused[surface.name][surface.corners[more]]]
    corners = np.concatenate([corners, more])
    places = np.concatenate([places, places[target[points[more]]]])
    other = (places != uv_map.places[corners]).any(axis=1)
    return UVMoved(surface.name, uv_map.name, corners[other], places[other].astype(np.float64))


def _points(surface: Surface, uv_map: UVMap) -> IntArray:
    """(c,) a number for each UV point: one vertex at one place of the map."""
    spots = np.ascontiguousarray(uv_map.places, np.float32) + np.float32(0.0)
    table = np.stack([surface.corners, np.ascontiguousarray(spots).view(np.int64)[:, 0]], axis=1)
    return np.unique(table, axis=0, return_inverse=True)[1].reshape(-1)
