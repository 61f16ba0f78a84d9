"""Keeping what is known about a figure current while it is edited, without pairing it anew.

A pairing is kept together with the places it was made from. Later places are held against it: only
what moved, and its partners, is looked at. The rules are those of the full check; only of a pair
that has come apart the side that moved is known here, where the full check has to guess it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from .allowances import Allowance, excuse, resolved
from .check import mirror_plane, tolerance_of
from .figure import Figure, FloatArray, IntArray, Surface
from .findings import NOTE_CODES, FigureResult, MirrorPlane, ObjectResult, Proportion
from .nearest import Finder
from .pairing import Pairing, State
from .pairing.grid import flipped, length, rows
from .plane import frame
from .settings import Settings
from .symmetry.half_model import half_of
from .symmetry.paired import LaidSurface, Paired, groups_of, lay_surfaces, pair_entries
from .symmetry.surface import half_result, results_of

SAME_WAY = 1e-6
"""Two that moved as far as each other, within this share of the tolerance, tell no side. Our choice."""

Positions = NDArray[np.floating]


@dataclass(frozen=True)
class Kept:
    """A figure as it was paired: ``tolerance`` in scene units, ``laid`` in the order of its surfaces.

    ``sets`` are what was paired together. ``allowances`` have the vertices they cover filled in.
    """

    figure: Figure
    plane: MirrorPlane
    tolerance: float
    laid: tuple[LaidSurface, ...]
    sets: tuple[Paired, ...]
    allowances: tuple[Allowance, ...] = ()


@dataclass(frozen=True)
class Held:
    """A kept pairing held against later places.

    ``moved`` (k,) are vertices that are not where they were when they were paired. ``anew`` is
    True where one of them had no partner, so that only pairing anew can tell of it.
    """

    paired: Paired
    moved: IntArray
    anew: bool


@dataclass(frozen=True)
class Standing:
    """How a figure stands now: the surface layer of every object, what is excused left out.

    ``counts`` has the elements of each kind of finding, notes left out; ``worst`` is in metres, None
    where nothing differs. ``anew`` names the objects that only pairing anew can tell more of.
    ``figure`` has the places ``result`` was made from.
    """

    result: FigureResult
    figure: Figure
    counts: Mapping[str, int]
    worst: float | None
    anew: frozenset[str] = field(default_factory=frozenset)

    @property
    def total(self) -> int:
        return sum(self.counts.values())


def keep(
    figure: Figure, settings: Settings, proportion: Proportion, finder: Finder
) -> Kept:
    """Choose the plane, as the full check does, and pair every surface."""
    tolerance = tolerance_of(figure, proportion, settings)
    plane = mirror_plane(figure, settings, tolerance, finder)
    laid = lay_surfaces(figure.surfaces, plane, tolerance)
    sets = tuple(pair_entries(entries, tolerance, finder) for entries in groups_of(laid))
    said = tuple(resolved(one, figure) for one in figure.allowances)
    return Kept(figure, plane, tolerance, laid, sets, said)


def pair_again(
    kept: Kept, changed: Mapping[int, Surface], allowances: tuple[Allowance, ...], finder: Finder
) -> Kept:
    """Pair the surfaces of these rows anew about the same plane; all others keep their pairing."""
    surfaces = tuple(changed.get(row, one) for row, one in enumerate(kept.figure.surfaces))
    laid = tuple(
        lay_surfaces((surfaces[row],), kept.plane, kept.tolerance)[0] if row in changed else entry
        for row, entry in enumerate(kept.laid)
    )
    known = {tuple(map(id, paired.entries)): paired for paired in kept.sets}
    sets = tuple(
        known.get(tuple(map(id, entries))) or pair_entries(entries, kept.tolerance, finder)
        for entries in groups_of(laid)
    )
    figure = replace(kept.figure, surfaces=surfaces, allowances=allowances)
    said = tuple(resolved(one, figure) for one in allowances)
    return replace(kept, figure=figure, laid=laid, sets=sets, allowances=said)


def hold(paired: Paired, plane: MirrorPlane, tolerance: float, positions: Sequence[Positions]) -> Held:
    """Hold a pairing against the places its surfaces' vertices have now.

    ``positions`` are (n, 3) local ones, surface by surface, as many as were paired. Raises
    ValueError where they are not.
    """
    found = paired.found
    parts = [_moved(entry, places) for entry, places in zip(paired.entries, positions, strict=True)]
    moved = np.concatenate([at + start for at, start in zip(parts, paired.starts, strict=False)])
    if not len(moved):
        return Held(paired, moved, anew=False)
    entries = tuple(
        _laid_now(entry, places, at, plane) if len(at) else entry
        for entry, places, at in zip(paired.entries, positions, parts, strict=True)
    )
    before, now = _points(paired.entries), _points(entries)
    lost = bool((found.partner.take(moved) < 0).any())
    anew = lost or not np.isfinite(rows(now, moved).sum())
    told = _told(found, before, now, moved, tolerance)
    return Held(Paired(entries, told, paired.notes), moved, anew=anew)


def _moved(entry: LaidSurface, places: Positions) -> IntArray:
    """(k,) the vertices that are not where they were; a place that is no number does not move."""
    old = entry.surface.positions
    if places.shape != old.shape:
        raise ValueError(f"{entry.surface.name} has {len(places)} vertices, paired were {len(old)}")
    unlike = places != old
    at = np.flatnonzero(unlike[:, 0] | unlike[:, 1] | unlike[:, 2])
    if not len(at) or not np.isnan(old.sum()):
        return at
    gone = np.isnan(places[at]) & np.isnan(old[at])
    return at[(unlike[at] & ~gone).any(axis=1)]


def _laid_now(entry: LaidSurface, places: Positions, at: IntArray, plane: MirrorPlane) -> LaidSurface:
    surface = replace(entry.surface, positions=places)
    if 2 * len(at) > len(places):
        return LaidSurface(surface, _into(plane, surface, places))
    points = entry.points.copy()
    points[at] = _into(plane, surface, np.take(places, at, axis=0))
    return LaidSurface(surface, points)


def _into(plane: MirrorPlane, surface: Surface, places: Positions) -> FloatArray:
    """(k, 3) local places in the plane's frame, in one step.

    Column by column: a product of so narrow matrices is handed to several threads, which is slow
    beside a busy host.
    """
    turn, matrix = frame(plane.normal), surface.to_world
    across, step = turn @ matrix[:3, :3], turn @ (matrix[:3, 3] - plane.point)
    columns = [places[:, axis].astype(np.float64) for axis in range(3)]
    laid = np.empty(places.shape, np.float64)
    for axis in range(3):
        laid[:, axis] = step[axis]
        for share, column in zip(across[axis], columns, strict=True):
            if share != 0.0:
                laid[:, axis] += share * column
    return laid


def _points(entries: tuple[LaidSurface, ...]) -> FloatArray:
    return entries[0].points if len(entries) == 1 else np.concatenate([one.points for one in entries])


def _told(
    found: Pairing, before: FloatArray, now: FloatArray, moved: IntArray, tolerance: float
) -> Pairing:
    """The pairing with deviations, states and suspects as they are now."""
    deviation, state, suspect = found.deviation.copy(), found.state.copy(), found.suspect.copy()
    touched = _touched(found.partner, moved)
    shift = _shift(before, now, touched)
    for start in range(0, len(touched), BLOCK):
        at = touched[start : start + BLOCK]
        other = found.partner.take(at)
        apart = flipped(rows(now, other))
        apart -= rows(now, at)
        size = length(apart)
        own = at == other
        size[own] *= 0.5
        within = size <= tolerance
        deviation[at] = size
        state[at] = _AFTER.take(2 * own + within)
        suspect[at] = False
        off = at[~(within | own)]
        if len(off):
            suspect[off] = _suspected(found, now[:, 0], shift, off, tolerance)
    return Pairing(found.partner, deviation, state, found.way, suspect)


BLOCK = 4096
"""Vertices looked at together: their arrays stay small enough to be used again from memory at hand."""

_AFTER = np.array([State.DRIFTED, State.PAIRED, State.OFF_CENTRE, State.CENTRE], np.uint8)
"""By whether a vertex is its own partner and whether it is within the tolerance."""


def _touched(partner: IntArray, moved: IntArray) -> IntArray:
    """The vertices with a partner that moved themselves, or whose partner did."""
    if len(moved) == len(partner):
        return np.flatnonzero(partner >= 0)
    touched = np.zeros(len(partner), bool)
    touched[moved] = True
    touched |= touched.take(partner)
    return np.flatnonzero(touched & (partner >= 0))


def _shift(before: FloatArray, now: FloatArray, touched: IntArray) -> FloatArray:
    """(n,) how far each of the touched has moved; zero for all others."""
    shift = np.zeros(len(now))
    for start in range(0, len(touched), BLOCK):
        at = touched[start : start + BLOCK]
        step = rows(now, at)
        step -= rows(before, at)
        shift[at] = length(step)
    return shift


def _suspected(
    found: Pairing, side: FloatArray, shift: FloatArray, off: IntArray, tolerance: float
) -> NDArray[np.bool_]:
    """(k,) which of the drifted is the one that moved; who was off before stays suspected.

    ``side`` (n,) is the signed distance from the plane, ``shift`` (n,) how far each has moved.
    """
    other = found.partner.take(off)
    right = side[off] - side[other]
    lead = shift.take(off) - shift.take(other)
    further = (right < 0.0) | ((right == 0.0) & (off > other))
    first = np.where(np.abs(lead) > SAME_WAY * tolerance, lead > 0.0, further)
    known = found.state.take(off) == State.DRIFTED
    return np.where(known, found.suspect.take(off), first)


def stand(kept: Kept, positions: Sequence[Positions]) -> Standing:
    """How the figure stands with these places, surface by surface in the figure's order.

    Half a model has no pairs: what the full check says of it is worked out again.
    """
    row_of = {id(entry): row for row, entry in enumerate(kept.laid)}
    metres = kept.figure.metres_per_unit
    results: dict[int, ObjectResult] = {}
    surfaces = list(kept.figure.surfaces)
    anew: set[str] = set()
    for paired in kept.sets:
        at = [row_of[id(entry)] for entry in paired.entries]
        held = hold(paired, kept.plane, kept.tolerance, [positions[row] for row in at])
        told = results_of(held.paired, metres)
        for row, entry, result in zip(at, held.paired.entries, told, strict=True):
            surfaces[row], results[row] = entry.surface, result
        if held.anew:
            anew |= {entry.surface.name for entry in held.paired.entries}
    for row, entry in enumerate(kept.laid):
        if entry.half is not None:
            surfaces[row] = replace(entry.surface, positions=positions[row])
            half = half_of(surfaces[row], kept.plane, kept.tolerance)
            if half is None:
                anew.add(entry.surface.name)
            laid = LaidSurface(surfaces[row], entry.points, half or entry.half)
            results[row] = half_result(laid, half or entry.half, metres)
    figure = replace(kept.figure, surfaces=tuple(surfaces))
    objects = tuple(results[row] for row in range(len(kept.laid)))
    return _standing(kept, figure, objects, frozenset(anew))


def _standing(
    kept: Kept, figure: Figure, objects: tuple[ObjectResult, ...], anew: frozenset[str]
) -> Standing:
    told, uses = excuse(figure, objects, kept.allowances)
    result = FigureResult(
        figure.name, Proportion(), kept.plane, kept.tolerance * figure.metres_per_unit, told, (),
        (), uses,
    )
    counts: dict[str, int] = {}
    worst: float | None = None
    for finding in (one for entry in told for one in entry.findings if one.code not in NOTE_CODES):
        counts[finding.code] = counts.get(finding.code, 0) + finding.count
        if finding.worst is not None:
            worst = finding.worst if worst is None else max(worst, finding.worst)
    return Standing(result, figure, counts, worst, anew)
