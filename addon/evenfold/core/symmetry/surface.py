"""The surface layer: vertices and their partners, on each object and between one-sided objects."""

from dataclasses import dataclass, replace

import numpy as np

from ..figure import FloatArray, IntArray, Surface
from ..findings import Finding, MirrorPlane, ObjectResult
from ..nearest import Finder
from ..pairing import WELD_SHARE, Mesh, Pairing, State, pair_places, pair_points, shared_share
from ..pairing.islands import components
from ..plane import into_frame
from ..settings import HOST_MIRROR_TOLERANCE
from .half_findings import half_findings
from .half_model import Half, half_of
from .matched import BoolArray, Matched

ONE_SIDED = 0.999
"""From this share of vertices on one side an object counts as one-sided. Our choice."""

_CODES = (
    (State.DRIFTED, "drifted"),
    (State.OFF_CENTRE, "off-centre"),
    (State.UNPAIRED, "unpaired"),
    (State.DOUBLED, "doubled"),
    (State.AMBIGUOUS, "ambiguous"),
)


@dataclass(frozen=True)
class _Laid:
    """A surface laid into the plane's frame, in scene units."""

    surface: Surface
    points: FloatArray
    half: Half | None

    @property
    def one_sided(self) -> int:
        """+1 or -1 when all of it lies on that side and nothing touches the plane, else 0."""
        x = self.points[np.isfinite(self.points).all(axis=1), 0]
        if not len(x) or (np.abs(x) == 0).any():
            return 0
        left = float((x > 0).mean())
        return 1 if left >= ONE_SIDED else -1 if left <= 1.0 - ONE_SIDED else 0


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
    laid = []
    for surface in surfaces:
        points = into_frame(surface.world, plane.point, plane.normal)
        laid.append(_Laid(surface, points, half_of(surface, plane, tolerance)))
    loners = [entry for entry in laid if entry.half is None and entry.one_sided]
    pooled = {}
    if {1, -1} <= {entry.one_sided for entry in loners}:
        pooled = _check_pool(loners, tolerance, metres, finder)
    return tuple(
        pooled[entry.surface.name]
        if entry.surface.name in pooled
        else _check_half(entry, entry.half, metres)
        if entry.half is not None
        else _check_whole(entry, tolerance, metres, finder)
        for entry in laid
    )


def _mesh(entry: _Laid) -> Mesh:
    surface = entry.surface
    return Mesh(entry.points, surface.edges, surface.corners, surface.face_starts)


def _check_whole(entry: _Laid, tolerance: float, metres: float, finder: Finder) -> Compared:
    found, notes = _pair(_mesh(entry), tolerance, finder)
    numbers = np.arange(len(entry.points))
    result = _result(entry, found, numbers, numbers, metres)
    matched = Matched(
        entry.surface, entry.surface, entry.points, found.partner, found.state == State.DRIFTED
    )
    return Compared(replace(result, notes=result.notes + notes), matched)


def _pair(mesh: Mesh, tolerance: float, finder: Finder) -> tuple[Pairing, tuple[str, ...]]:
    share = shared_share(mesh)
    if share < WELD_SHARE:
        return pair_points(mesh, tolerance, finder), ()
    note = (
        f"{share:.0%} of the vertices have copies at the same place, as exported files store seams "
        "and hard edges: copies were compared as one vertex."
    )
    return pair_places(mesh, tolerance, finder), (note,)


def _check_half(entry: _Laid, half: Half, metres: float) -> Compared:
    """What a half under a Mirror modifier still shows; its centre is matched with itself."""
    numbers = np.arange(len(entry.points))
    note = (
        "Half a model under a Mirror modifier: checked are its middle edge, and what its groups "
        "and shape keys do there."
    )
    result = ObjectResult(
        entry.surface.name, "mesh", len(numbers), 0, int(half.centre.sum()), 0,
        tuple(half_findings(half, metres)), (note,),
    )
    partner = np.where(half.centre, numbers, -1)
    matched = Matched(entry.surface, entry.surface, entry.points, partner, np.zeros(len(numbers), bool))
    return Compared(result, matched, half)


def _check_pool(
    loners: list[_Laid], tolerance: float, metres: float, finder: Finder
) -> dict[str, Compared]:
    """Pair objects that lie wholly on one side with those on the other, as one set of points."""
    counts = [len(entry.points) for entry in loners]
    starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    corners = np.concatenate([e.surface.corners + s for e, s in zip(loners, starts, strict=False)])
    faces = np.concatenate([[0], *[np.diff(e.surface.face_starts) for e in loners]]).cumsum()
    edges = np.concatenate(
        [e.surface.edges.reshape(-1, 2) + s for e, s in zip(loners, starts, strict=False)]
    )
    points = np.concatenate([entry.points for entry in loners])
    found, notes = _pair(Mesh(points, edges, corners, faces.astype(np.int64)), tolerance, finder)
    owner = np.repeat(np.arange(len(loners)), counts)
    names = [entry.surface.name for entry in loners]
    local = np.arange(len(points)) - starts[owner]
    results = [
        _result(
            entry, found, np.arange(starts[row], starts[row + 1]), local, metres, owner, names, row
        )
        for row, entry in enumerate(loners)
    ]
    return {
        one.name: Compared(
            replace(one, notes=one.notes + notes), _across(row, loners, found, owner, local, starts)
        )
        for row, one in enumerate(results)
    }


def _across(
    row: int, loners: list[_Laid], found: Pairing, owner: IntArray, local: IntArray, starts: IntArray
) -> Matched | None:
    """A left object matched with the right one that holds most of its partners; else None."""
    if loners[row].one_sided < 0:
        return None
    mine = np.arange(starts[row], starts[row + 1])
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
    return Matched(
        loners[row].surface,
        loners[target].surface,
        loners[row].points,
        np.where(inside, local[partner], -1),
        off,
    )


def _result(
    entry: _Laid,
    found: Pairing,
    mine: IntArray,
    local: IntArray,
    metres: float,
    owner: IntArray | None = None,
    names: list[str] | None = None,
    row: int = 0,
) -> ObjectResult:
    """``mine`` are this object's numbers in the pairing, ``local`` each number within its object."""
    state, partner = found.state[mine], found.partner[mine]
    deviation = found.deviation[mine] * metres
    wanted_rows = []
    for wanted, code in _CODES:
        rows = np.flatnonzero(state == wanted)
        if wanted is State.DRIFTED:
            rows = rows[found.suspect[mine[rows]]]
        wanted_rows.append((code, rows))
    wanted_rows.append(("near-miss", _near_misses(entry, found, mine)))
    findings = []
    for code, rows in wanted_rows:
        other = partner[rows]
        elsewhere = (
            np.full(len(rows), row) if owner is None else np.where(other >= 0, owner[other], row)
        )
        for target in np.unique(elsewhere):
            part = elsewhere == target
            partners = np.where(other[part] >= 0, local[other[part]], -1)
            name = names[target] if names is not None and target != row else None
            findings.append(
                _finding(entry, code, rows[part], partners, deviation[rows[part]], name)
            )
    pairs = int(np.count_nonzero(state == State.PAIRED))
    pairs = pairs // 2 if owner is None else pairs
    centre = int(np.count_nonzero(state == State.CENTRE))
    return ObjectResult(
        entry.surface.name,
        "mesh",
        len(mine),
        pairs,
        centre,
        0,
        tuple(findings),
        _notes(entry, names),
    )


def _notes(entry: _Laid, names: list[str] | None) -> tuple[str, ...]:
    notes = []
    bad = int(np.count_nonzero(~np.isfinite(entry.points).all(axis=1)))
    if bad:
        notes.append(
            f"{bad} vertices have a place that is not a number; they are counted as unpaired."
        )
    if names is not None:
        notes.append("Lies wholly on one side: compared with the objects on the other side.")
    return tuple(notes)


def _near_misses(entry: _Laid, found: Pairing, mine: IntArray) -> IntArray:
    """Within the tolerance, yet further than the host's mirror tools accept; local numbers."""
    state = found.state[mine]
    scale = np.abs(np.linalg.det(entry.surface.to_world[:3, :3])) ** (1.0 / 3.0)
    own = found.partner[mine] == mine
    apart = np.where(own, 2.0, 1.0) * found.deviation[mine]
    within = (state == State.PAIRED) | (state == State.CENTRE)
    rounding = (
        np.finfo(np.float32).eps
        * float(np.nanmax(np.abs(entry.surface.positions), initial=0.0))
        * 4.0
    )
    limit = max(HOST_MIRROR_TOLERANCE, rounding) * scale
    rows = np.flatnonzero(within & (apart > limit))
    first = own[rows] | (entry.points[rows, 0] < 0.0)
    return rows[first]


def _finding(
    entry: _Laid,
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
