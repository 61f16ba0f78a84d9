"""The surface layer: vertices and their partners, on each object and between one-sided objects."""

from dataclasses import dataclass, replace

import numpy as np

from ..figure import FloatArray, IntArray, Surface
from ..findings import Finding, MirrorPlane, ObjectResult
from ..nearest import Finder
from ..pairing import Pairing, State
from ..pairing.islands import components
from ..settings import HOST_MIRROR_TOLERANCE
from .half_findings import half_findings
from .half_model import Half
from .matched import BoolArray, Matched
from .paired import LaidSurface, Paired, lay_surfaces, pair_surfaces

_CODES = (
    (State.DRIFTED, "drifted"),
    (State.OFF_CENTRE, "off-centre"),
    (State.UNPAIRED, "unpaired"),
    (State.DOUBLED, "doubled"),
    (State.AMBIGUOUS, "ambiguous"),
)


@dataclass(frozen=True)
class Compared:
    """An object's surface result, and whom its vertices are matched with, where that is known.

    A right object is matched from its left one, so it has no ``matched`` of its own.
    ``mirrored`` is set for half a model under a live Mirror modifier: only its centre has
    partners.
    """

    result: ObjectResult
    matched: Matched | None = None
    mirrored: Half | None = None

    @property
    def half(self) -> bool:
        """True for half a model that a live Mirror modifier completes."""
        return self.mirrored is not None


def check_surfaces(
    surfaces: tuple[Surface, ...],
    plane: MirrorPlane,
    tolerance: float,
    metres: float,
    finder: Finder,
) -> tuple[Compared, ...]:
    """Check every surface about the plane. ``tolerance`` in scene units, ``metres`` per unit."""
    laid = lay_surfaces(surfaces, plane, tolerance)
    found = {id(e.surface): _compare_half(e, e.half, metres) for e in laid if e.half is not None}
    for paired in pair_surfaces(laid, tolerance, finder):
        matched = (_itself(paired),) if len(paired.entries) == 1 else _across(paired)
        results = results_of(paired, metres)
        for entry, result, own in zip(paired.entries, results, matched, strict=True):
            found[id(entry.surface)] = Compared(result, own)
    return tuple(found[id(surface)] for surface in surfaces)


def results_of(paired: Paired, metres: float) -> tuple[ObjectResult, ...]:
    """What the pairing says of each of its surfaces; ``metres`` a scene unit."""
    return tuple(
        replace(one, notes=one.notes + paired.notes)
        for one in (_result(paired, row, metres) for row in range(len(paired.entries)))
    )


def half_result(entry: LaidSurface, half: Half, metres: float) -> ObjectResult:
    """What a half under a Mirror modifier still shows."""
    note = (
        "Half a model under a Mirror modifier: checked are its middle edge, and what its groups "
        "and shape keys do there."
    )
    return ObjectResult(
        entry.surface.name, "mesh", len(entry.points), 0, int(half.centre.sum()), 0,
        tuple(half_findings(half, metres)), (note,),
    )


def _compare_half(entry: LaidSurface, half: Half, metres: float) -> Compared:
    """A half under a Mirror modifier; its centre is matched with itself."""
    numbers = np.arange(len(entry.points))
    partner = np.where(half.centre, numbers, -1)
    matched = Matched(entry.surface, entry.surface, entry.points, partner, np.zeros(len(numbers), bool))
    return Compared(half_result(entry, half, metres), matched, half)


def _itself(paired: Paired) -> Matched:
    (entry,), found = paired.entries, paired.found
    return Matched(
        entry.surface, entry.surface, entry.points, found.partner, found.state == State.DRIFTED,
        found.state == State.DOUBLED,
    )


def _across(paired: Paired) -> tuple[Matched | None, ...]:
    """Each left object matched with the right one that holds most of its partners; else None."""
    owner, local = paired.owner, paired.local
    return tuple(_across_from(paired, row, owner, local) for row in range(len(paired.entries)))


def _across_from(paired: Paired, row: int, owner: IntArray, local: IntArray) -> Matched | None:
    entry, found = paired.entries[row], paired.found
    if entry.one_sided < 0:
        return None
    mine = np.arange(paired.starts[row], paired.starts[row + 1])
    partner = found.partner[mine]
    known = partner >= 0
    holders = owner[partner[known]]
    if not len(holders):
        return None
    target = int(np.bincount(holders).argmax())
    if target == row:
        return None
    inside = known & (owner[partner] == target)
    off = inside & (found.state[mine] == State.DRIFTED)
    there = paired.entries[target].surface
    return Matched(entry.surface, there, entry.points, np.where(inside, local[partner], -1), off)


def _result(paired: Paired, row: int, metres: float) -> ObjectResult:
    """What the pairing says of the surface in this row."""
    entry, found, several = paired.entries[row], paired.found, len(paired.entries) > 1
    mine = np.arange(paired.starts[row], paired.starts[row + 1])
    state, partner = found.state[mine], found.partner[mine]
    deviation = found.deviation[mine] * metres
    wanted_rows = []
    for wanted, code in _CODES:
        rows = np.flatnonzero(state == wanted)
        if wanted is State.DRIFTED:
            rows = rows[found.suspect[mine[rows]]]
        wanted_rows.append((code, rows))
    wanted_rows.append(("near-miss", _near_misses(entry, found, mine)))
    owner, local = paired.owner, paired.local
    findings = []
    for code, rows in wanted_rows:
        other = partner[rows]
        elsewhere = np.where(other >= 0, owner[other], row)
        for target in np.unique(elsewhere):
            part = elsewhere == target
            partners = np.where(other[part] >= 0, local[other[part]], -1)
            name = paired.entries[target].surface.name if target != row else None
            findings.append(
                _finding(entry, code, rows[part], partners, deviation[rows[part]], name)
            )
    pairs = int(np.count_nonzero(state == State.PAIRED))
    centre = int(np.count_nonzero(state == State.CENTRE))
    return ObjectResult(
        entry.surface.name,
        "mesh",
        len(mine),
        pairs if several else pairs // 2,
        centre,
        0,
        tuple(findings),
        _notes(entry, several),
    )


def _notes(entry: LaidSurface, several: bool) -> tuple[str, ...]:
    notes = []
    bad = int(np.count_nonzero(~np.isfinite(entry.points).all(axis=1)))
    if bad:
        notes.append(
            f"{bad:,} vertices have a place that is not a number; they are counted as unpaired."
        )
    if several:
        notes.append("Lies wholly on one side: compared with the objects on the other side.")
    return tuple(notes)


def _near_misses(entry: LaidSurface, found: Pairing, mine: IntArray) -> IntArray:
    """Within the tolerance, yet further than the host's mirror tools accept; local numbers."""
    state = found.state[mine]
    own = found.partner[mine] == mine
    apart = np.where(own, 2.0, 1.0) * found.deviation[mine]
    within = (state == State.PAIRED) | (state == State.CENTRE)
    rounding = (
        np.finfo(np.float32).eps
        * float(np.nanmax(np.abs(entry.surface.positions), initial=0.0))
        * 4.0
    )
    limit = max(HOST_MIRROR_TOLERANCE, float(rounding)) * entry.surface.scale
    rows = np.flatnonzero(within & (apart > limit))
    first = own[rows] | (entry.points[rows, 0] < 0.0)
    return rows[first]


def _finding(
    entry: LaidSurface,
    code: str,
    elements: IntArray,
    partners: IntArray,
    sizes: FloatArray,
    other: str | None = None,
) -> Finding:
    order = np.argsort(elements, kind="stable")
    hidden = entry.surface.hidden
    islands = 0
    if code == "unpaired":
        inside = np.zeros(len(entry.points), bool)
        inside[elements] = True
        edges = entry.surface.edges.reshape(-1, 2)
        label = components(len(entry.points), edges[inside[edges].all(axis=1)])
        islands = len(np.unique(label[elements]))
    if code == "doubled":
        sizes = np.full(len(elements), np.nan)  # their number differs, not their place
    return Finding(
        code,
        elements[order],
        partners[order],
        sizes[order],
        None,
        other,
        islands,
        _unseen(hidden, elements, partners if other is None else elements),
    )


def _unseen(hidden: BoolArray | None, elements: IntArray, partners: IntArray) -> int:
    """How many of these vertices, or their partners in the same object, are hidden."""
    if hidden is None:
        return 0
    return int((hidden[elements] | ((partners >= 0) & hidden[partners])).sum())
