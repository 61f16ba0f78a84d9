"""Vertices back onto their partner's mirror image, or onto the plane; every key is carried along."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray, Surface
from ..pairing import WELD_SHARE
from ..symmetry.elements import place_numbers
from .case import Case, RepairError
from .changes import Moved, Plan
from .guarded import kept_sound, without_far


def mend(case: Case) -> Plan:
    """The moves for ``drifted``, ``near-miss`` and ``off-centre``.

    Of each pair the vertex on the losing side goes exactly to the mirror image of the other; with
    "average" both meet in the middle. Vertices that share one place in a mesh split at its seams
    stay together. A pair counts as chosen when either of its vertices is. What lies far off is
    left alone unless it was asked for. Raises RepairError where the mesh would come to harm.
    """
    finding, here, there = case.finding, case.here, case.there
    asked, far = (finding, 0) if case.wish.far else without_far(case.checked, here, there, finding)
    told: tuple[str, ...] = (far_off(case.entry.name, finding.code, far),) if far else ()
    finding = asked
    known = finding.partners >= 0
    mine, its = finding.elements[known], finding.partners[known]
    chosen = case.wanted(here.name, mine) | case.wanted(there.name, its)
    mine, its = mine[chosen], its[chosen]
    own = (mine == its) & (here is there)
    moves = [_onto_plane(case, mine[own])] if own.any() else []
    moves += _pairs(case, mine[~own], its[~own])
    changes = tuple(one for move in moves if len((one := _together(case, move)).vertices))
    left = int(np.count_nonzero(~known))
    if left:
        told += (f"{left:,} vertices have no known partner and were left alone.",)
    plan = kept_sound(case.checked, Plan(changes, told, len(mine)))
    moved = tuple(one for one in plan.changes if isinstance(one, Moved))
    return replace(plan, largest=_largest(case, moved))


def far_off(name: str, code: str, count: int, subjects: Sequence[str] = ()) -> str:
    """The sentence on vertices that were left alone because they lie far off, in which keys if any."""
    what = {
        "off-centre": "off the centre line", "key-off-centre": "off the centre line",
        "near-miss": "off by very little", "key-spill": "moved on the wrong half",
    }
    if subjects:
        name = ", ".join([name, *subjects[:5]]) + (" …" if len(subjects) > 5 else "")
    return (
        f"{name}: {count:,} of those {what.get(code, 'away from their mirror image')} lie so far off "
        "that it may be meant, and were left alone: tick Large Differences Too to move them."
    )


def close_gap(case: Case) -> Plan:
    """A half's open edge onto the plane its Mirror modifier mirrors about.

    Raises RepairError where that is another plane altogether: there the modifier is wrong.
    """
    found = case.checked.compared.get(case.entry.name)
    if found is None or found.mirrored is None or found.mirrored.stray is not None:
        raise RepairError(case.finding.advice or "Choose what the modifier mirrors about first.")
    rows = case.finding.elements
    rows = rows[case.wanted(case.here.name, rows)]
    move = _together(case, _onto_plane(case, rows))
    changes = (move,) if len(move.vertices) else ()
    return Plan(changes, (), len(rows), _largest(case, changes))


def _onto_plane(case: Case, vertices: IntArray) -> Moved:
    here = case.here
    return Moved(here.name, vertices, case.map(here, here).onto_plane(here.positions[vertices]))


def _pairs(case: Case, mine: IntArray, its: IntArray) -> list[Moved]:
    if not len(mine):
        return []
    here, there, way = case.here, case.there, case.wish.way
    over, back = case.map(here, there), case.map(there, here)
    one, other = here.positions[mine], there.positions[its]
    first = case.left(here)[mine] >= case.left(there)[its]
    if way == "average":
        middle_here = _middle(one, back.places(other))
        middle_there = _middle(other, over.places(one))
        places_here = np.where(first[:, None], middle_here, back.places(middle_there))
        places_there = np.where(first[:, None], over.places(middle_here), middle_there)
        return [Moved(here.name, mine, places_here), Moved(there.name, its, places_there)]
    stays = first if way == "left" else ~first
    return [
        Moved(here.name, mine[~stays], back.places(other[~stays])),
        Moved(there.name, its[stays], over.places(one[stays])),
    ]


def _middle(one: NDArray[np.floating], other: FloatArray) -> FloatArray:
    """(k, 3) half-way, rounded as files store it."""
    half = 0.5 * (np.asarray(one, np.float64) + other)
    return half.astype(np.float32).astype(np.float64)


def _together(case: Case, move: Moved) -> Moved:
    """Each vertex once, with those that share its place in a mesh split at its seams; no idle move.

    What is excused stays.
    """
    surface = case.checked.surfaces[move.owner]
    vertices, first = np.unique(move.vertices, return_index=True)
    places = move.places[first]
    number = _shared_places(surface)
    if number is not None and len(vertices):
        target = np.full(len(number), -1)
        target[number[vertices]] = np.arange(len(vertices))
        vertices = np.flatnonzero(target[number] >= 0)
        places = places[target[number[vertices]]]
    idle = case.excused[move.owner][vertices]
    idle |= (surface.positions[vertices].astype(np.float32) == places.astype(np.float32)).all(axis=1)
    return Moved(move.owner, vertices[~idle], places[~idle])


def _shared_places(surface: Surface) -> IntArray | None:
    """(n,) a number for each place, where the mesh counts as split at its seams; else None."""
    number = place_numbers(surface)
    uses = np.bincount(number, minlength=len(number))
    shared = len(number) and float((uses[number] > 1).mean()) >= WELD_SHARE
    return number if shared else None


def _largest(case: Case, changes: tuple[Moved, ...]) -> float:
    """The longest way any vertex goes, in metres."""
    longest = 0.0
    for one in changes:
        surface = case.checked.surfaces[one.owner]
        by = (one.places - surface.positions[one.vertices]) @ surface.to_world[:3, :3].T
        longest = max(longest, float(np.linalg.norm(by, axis=1).max(initial=0.0)))
    return longest * case.metres
