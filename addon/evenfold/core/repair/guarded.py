"""What keeps moving vertices from doing harm: far ones stay, and a plan is looked at before it is taken."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray, Surface
from ..findings import Finding
from ..symmetry import Matched, check_surfaces
from ..symmetry.elements import corner_faces, following, place_numbers
from .applied import applied
from .case import Checked, RepairError
from .changes import Change, Moved, Plan

FAR = 100.0
"""Further than so many tolerances what has no edges is not moved unasked. Our choice."""

FAR_EDGED = 20.0
"""The same for what has edges, where it is also more than EDGE_SHARE of their mean length."""

EDGE_SHARE = 0.5
"""Our choice: from half an edge on another vertex may be the one that was meant."""

TRIES = 4


def without_far(checked: Checked, here: Surface, there: Surface, finding: Finding) -> tuple[Finding, int]:
    """The finding without vertices so far off that it may be meant, and how many those are."""
    scale = checked.limits.metres
    known = finding.partners >= 0
    edges = _mean_edge(here)[finding.elements] * scale
    other = _mean_edge(there)[np.maximum(finding.partners, 0)] * scale
    edges = np.where(known, np.minimum(edges, other), edges)
    least = np.where(np.isfinite(edges), FAR_EDGED, FAR) * checked.limits.tolerance * scale
    limit = np.maximum(least, np.where(np.isfinite(edges), EDGE_SHARE * edges, 0.0))
    stay = ~(finding.sizes > limit)
    if stay.all():
        return finding, 0
    near = replace(
        finding, elements=finding.elements[stay], partners=finding.partners[stay],
        sizes=finding.sizes[stay], vertices=finding.vertices[:0],
    )
    return near, int((~stay).sum())


def _mean_edge(surface: Surface) -> FloatArray:
    """(n,) mean length of each vertex's edges in scene units; infinite where it has none."""
    edges = surface.edges.reshape(-1, 2)
    ends, count = surface.world, len(surface.positions)
    sizes = np.repeat(np.linalg.norm(ends[edges[:, 0]] - ends[edges[:, 1]], axis=1), 2)
    uses = np.bincount(edges.ravel(), minlength=count)
    total = np.bincount(edges.ravel(), sizes, minlength=count)
    return np.where(uses > 0, total / np.maximum(uses, 1), np.inf)


def kept_sound(checked: Checked, plan: Plan) -> Plan:
    """The plan without moves after which edges or faces would lose their counterpart, or turn over.

    The result is paired anew for this. Raises RepairError where leaving some out does not help.
    """
    moves = [one for one in plan.changes if isinstance(one, Moved)]
    if not moves:
        return plan
    left = 0
    for _ in range(TRIES):
        harm = _harmed(checked, plan)
        if not any(rows.size for rows in harm.values()):
            break
        plan, dropped = _reduced(checked, plan, harm)
        left += dropped
        if not dropped:
            break
    else:
        harm = _harmed(checked, plan)
    if any(rows.size for rows in harm.values()):
        raise RepairError(
            "Edges and faces here would lose their counterparts or turn over: mend this by hand."
        )
    if not left:
        return plan
    told = (
        f"{left:,} vertices were left alone: they would still stand off, or edges and faces would have "
        "lost their counterparts. Mend these by hand."
    )
    return replace(plan, left_alone=(*plan.left_alone, told))


def _harmed(checked: Checked, plan: Plan) -> dict[str, IntArray]:
    """By object, the vertices of what the plan would harm, and those moved that still stand off."""
    owners = {one.owner for one in plan.changes if isinstance(one, Moved)}
    before = {name: checked.compared[name].matched for name in checked.compared}
    pool = {
        one.name for found in before.values() if found is not None
        for one in (found.here, found.there)
        if owners & {found.here.name, found.there.name}
    } | owners
    later = applied(checked.figure, plan.changes)
    surfaces = tuple(one for one in later.surfaces if one.name in pool)
    limits = checked.limits
    found = check_surfaces(surfaces, limits.plane, limits.tolerance, limits.metres, checked.finder)
    harm: dict[str, IntArray] = {}
    for one in found:
        old, new = before.get(one.result.name), one.matched
        if one.half or old is None or new is None or old.there.name != new.there.name:
            continue
        astray = new.off & _moved(plan, new.here)
        harm[new.here.name] = np.union1d(_lost(old, new), np.flatnonzero(astray))
        if not new.itself:
            rows = np.flatnonzero(new.off)
            rows = new.partner[rows]
            harm[new.there.name] = rows[_moved(plan, new.there)[rows]]
    return harm


def _moved(plan: Plan, surface: Surface) -> NDArray[np.bool_]:
    flags = np.zeros(len(surface.positions), bool)
    for one in plan.changes:
        if isinstance(one, Moved) and one.owner == surface.name:
            flags[one.vertices] = True
    return flags


def _lost(old: Matched, new: Matched) -> IntArray:
    """Vertices of edges and faces that had a counterpart and have none now, or turned over alone."""
    here = new.here
    edges = (old.edge_partner >= 0) & (new.edge_partner < 0)
    faces = (old.face_partner >= 0) & (new.face_partner < 0)
    faces |= (new.face_partner < 0) & _turned_over(old.here, here)
    corners = here.corners[faces[corner_faces(here)]]
    return np.unique(np.concatenate([here.edges.reshape(-1, 2)[edges].ravel(), corners]))


def _turned_over(old: Surface, new: Surface) -> NDArray[np.bool_]:
    """(f,) faces that look the other way than before."""
    owner, after = corner_faces(new), following(new)
    areas = []
    for points in (old.world, new.world):
        cross = np.cross(points[new.corners], points[new.corners[after]])
        count = len(new.face_starts) - 1
        areas.append(np.stack([np.bincount(owner, cross[:, k], count) for k in range(3)], axis=1))
    return np.asarray((areas[0] * areas[1]).sum(axis=1) < 0.0)


def _reduced(checked: Checked, plan: Plan, harm: dict[str, IntArray]) -> tuple[Plan, int]:
    """The plan without moves of what was harmed, at every vertex that shares its place."""
    changes: list[Change] = []
    dropped = 0
    for one in plan.changes:
        rows = harm.get(one.owner)
        if not isinstance(one, Moved) or rows is None:
            changes.append(one)
            continue
        number = place_numbers(checked.surfaces[one.owner])
        stay = ~np.isin(number[one.vertices], number[rows])
        dropped += int((~stay).sum())
        if stay.any():
            changes.append(Moved(one.owner, one.vertices[stay], one.places[stay]))
    return replace(plan, changes=tuple(changes), elements=max(0, plan.elements - dropped)), dropped
