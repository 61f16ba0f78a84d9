"""Where the elements of findings are in the world, read off once at the check: plain arrays."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from .allowances import AllowanceUse
from .figure import Armature, Bone, Figure, FloatArray, IntArray, Surface
from .findings import FigureResult, Finding, MirrorPlane
from .layers import BoolArray
from .pairing.islands import components
from .plane import reflect
from .symmetry.elements import corner_faces, following

ASTRAY_CODES = frozenset({"drifted", "off-centre", "near-miss", "bone-drifted", "bone-off-centre"})
"""Codes that say an element stands elsewhere than where its partner says it should be."""


def _no_numbers() -> IntArray:
    return np.zeros(0, np.int64)


def _no_lines() -> FloatArray:
    return np.zeros((0, 2, 3))


@dataclass(frozen=True)
class Laid:
    """One finding's elements in world space, scene units, as they were at the check.

    ``vertex`` (v,) are the vertices of all elements, ``of_vertex`` (v,) the row of each one's
    element. ``points`` (n, 3) are vertices and corners, ``of_point`` (n,) likewise; ``lines``
    (m, 2, 3) edges, outlines of faces, or bones, ``of_line`` (m,). ``wanted`` (w, 2, 3) lead from where a thing is to where its partner says it should be,
    ``of_wanted`` (w,). ``step`` (k,) numbers the elements in the order they are stepped through,
    worst first; elements of one step are shown together. ``piece`` (k,) tells joined elements.
    """

    step: IntArray
    piece: IntArray
    vertex: IntArray = field(default_factory=_no_numbers)
    of_vertex: IntArray = field(default_factory=_no_numbers)
    points: FloatArray = field(default_factory=lambda: np.zeros((0, 3)))
    of_point: IntArray = field(default_factory=_no_numbers)
    lines: FloatArray = field(default_factory=_no_lines)
    of_line: IntArray = field(default_factory=_no_numbers)
    wanted: FloatArray = field(default_factory=_no_lines)
    of_wanted: IntArray = field(default_factory=_no_numbers)

    @property
    def steps(self) -> int:
        return int(self.step.max()) + 1 if len(self.step) else 0

    def rows(self, step: int) -> IntArray:
        """The elements of one step."""
        return np.flatnonzero(self.step == step)

    def touching(self, vertices: IntArray) -> IntArray:
        """The elements all of whose vertices are among these (k,)."""
        away = ~np.isin(self.vertex, vertices)
        missing = np.bincount(self.of_vertex[away], minlength=len(self.step)) > 0
        known = np.bincount(self.of_vertex, minlength=len(self.step)) > 0
        return np.flatnonzero(known & ~missing)

    def vertices(self, rows: IntArray) -> IntArray:
        """(k,) the vertices of these elements, each once."""
        return np.unique(self.vertex[np.isin(self.of_vertex, rows)])

    def around(self, step: int) -> tuple[FloatArray, float] | None:
        """The middle (3,) of a step and how far it reaches from there; None without a place."""
        rows = np.zeros(len(self.step), bool)
        rows[self.rows(step)] = True
        parts = (
            self.points[rows[self.of_point]],
            self.lines[rows[self.of_line]].reshape(-1, 3),
            self.wanted[rows[self.of_wanted]].reshape(-1, 3),
        )
        every = np.concatenate(parts)
        every = every[np.isfinite(every).all(axis=1)]
        if not len(every):
            return None
        low, high = every.min(axis=0), every.max(axis=0)
        return (low + high) / 2.0, float(np.linalg.norm(high - low)) / 2.0


@dataclass(frozen=True)
class LaidFigure:
    """``objects`` has, object by object and finding by finding, what the result has.

    ``excused`` (n, 3) are vertices that allowances cover, by object name; ``excused_keys`` (n, 3)
    those that excused shape keys move, at rest; ``excused_bones`` (b, 2, 3) excused bones from head to
    tail. ``span`` is the figure's largest extent in scene units.
    """

    objects: tuple[tuple[Laid, ...], ...]
    excused: Mapping[str, FloatArray]
    span: float
    excused_keys: Mapping[str, FloatArray] = field(default_factory=dict)
    excused_bones: Mapping[str, FloatArray] = field(default_factory=dict)


def lay_out(figure: Figure, result: FigureResult) -> LaidFigure:
    """Places of all elements the result lists, from the figure it was made from."""
    surfaces = {surface.name: surface for surface in figure.surfaces}
    objects = tuple(
        tuple(_laid(figure, surfaces, entry.name, finding, result.plane) for finding in entry.findings)
        for entry in result.objects
    )
    every = [surface.world for surface in figure.surfaces if len(surface.positions)]
    corners = np.array([end for one in every for end in (one.min(axis=0), one.max(axis=0))])
    span = float(np.ptp(corners, axis=0).max()) if len(corners) else 1.0
    least = result.tolerance / figure.metres_per_unit
    return LaidFigure(
        objects, _excused(surfaces, result.allowances), span if span > 0.0 else 1.0,
        _excused_keys(surfaces, result.allowances, least), _excused_bones(figure.armature, result.allowances),
    )


def _excused(
    surfaces: Mapping[str, Surface], uses: tuple[AllowanceUse, ...]
) -> dict[str, FloatArray]:
    found: dict[str, list[IntArray]] = {}
    for use in uses:
        one = use.allowance
        if use.count and one.owner in surfaces and len(one.vertices):
            found.setdefault(one.owner, []).append(np.asarray(one.vertices, np.int64))
    places = {}
    for name, parts in found.items():
        numbers = np.unique(np.concatenate(parts))
        world = surfaces[name].world
        places[name] = _finite(world[numbers[(numbers >= 0) & (numbers < len(world))]])
    return places


def _excused_keys(
    surfaces: Mapping[str, Surface], uses: tuple[AllowanceUse, ...], least: float
) -> dict[str, FloatArray]:
    """By object, the vertices that excused keys move by more than ``least``, scene units."""
    found: dict[str, set[str]] = {}
    for use in uses:
        one = use.allowance
        if use.count and one.kind == "key" and one.owner in surfaces:
            found.setdefault(one.owner, set()).update(one.names or {one.subject})
    places = {}
    for name, keys in found.items():
        moved = _moved(surfaces[name], keys, least)
        if moved.any():
            places[name] = _finite(surfaces[name].world[moved])
    return places


def _moved(surface: Surface, names: set[str], least: float) -> BoolArray:
    """(n,) which vertices these keys move by more than ``least``, scene units."""
    moved = np.zeros(len(surface.positions), bool)
    keys = None if surface.layers is None else surface.layers.keys
    if keys is None:
        return moved
    for one in keys.keys:
        start = keys.named(one.relative_to)
        if one.name in names and start is not None and len(one.points) == len(start.points) == len(moved):
            way = (one.points - start.points).astype(np.float64) @ surface.to_world[:3, :3].T
            moved |= np.linalg.norm(way, axis=1) > least
    return moved


def _excused_bones(armature: Armature | None, uses: tuple[AllowanceUse, ...]) -> dict[str, FloatArray]:
    """By armature, the ends of the bones that are excused."""
    if armature is None:
        return {}
    names = {
        name for use in uses if use.count and use.allowance.kind in ("bones", "bone")
        for name in use.allowance.names if name in armature.by_name
    }
    if not names:
        return {}
    return {armature.name: np.array([_ends(bone) for bone in armature.bones if bone.name in names])}


def _finite(points: FloatArray) -> FloatArray:
    return points[np.isfinite(points).all(axis=1)]


def _laid(
    figure: Figure, surfaces: Mapping[str, Surface], name: str, finding: Finding, plane: MirrorPlane
) -> Laid:
    if finding.kind == "bone" and figure.armature is not None:
        return _laid_bones(figure.armature, finding, plane)
    surface = surfaces.get(name)
    if surface is None or not finding.count:
        rows = np.arange(finding.count)
        return Laid(rows, rows)
    vertex, of_vertex = _vertices(surface, finding)
    piece = _pieces(surface, finding.count, vertex, of_vertex)
    together = piece if finding.code == "unpaired" else _one_place(finding, vertex)
    step = order_of_steps(finding.sizes, together)
    world = surface.world
    good = np.isfinite(world[vertex]).all(axis=1)
    lines, of_line = _outlines(surface, finding)
    wanted, of_wanted = _wanted(surface, surfaces.get(finding.partner_object or name), finding, plane)
    if finding.kind in ("edge", "face"):
        good &= False
    return Laid(
        step, piece, vertex, of_vertex, world[vertex[good]], of_vertex[good],
        lines, of_line, wanted, of_wanted,
    )


def _vertices(surface: Surface, finding: Finding) -> tuple[IntArray, IntArray]:
    """(n,) vertices of all elements and (n,) the row of each one's element."""
    elements = np.asarray(finding.elements, np.int64)
    rows = np.arange(finding.count)
    if finding.kind == "vertex":
        return elements, rows
    if finding.kind == "corner":
        return surface.corners[elements], rows
    if finding.kind == "edge":
        return surface.edges.reshape(-1, 2)[elements].ravel(), np.repeat(rows, 2)
    if finding.kind == "face":
        corners, owner = _corners_of(surface, elements)
        return surface.corners[corners], owner
    vertices = np.asarray(finding.vertices, np.int64)
    return vertices, np.zeros(len(vertices), np.int64)


def _corners_of(surface: Surface, faces: IntArray) -> tuple[IntArray, IntArray]:
    """All corners of these faces, and the row of each one's face."""
    row = np.full(len(surface.face_starts) - 1, -1)
    row[faces] = np.arange(len(faces))
    owner = row[corner_faces(surface)]
    corners = np.flatnonzero(owner >= 0)
    return corners, owner[corners]


def _pieces(surface: Surface, count: int, vertex: IntArray, owner: IntArray) -> IntArray:
    """(count,) a number for each element's piece: joined by the mesh's edges among what is listed."""
    listed = np.unique(vertex)
    row = np.full(len(surface.positions), -1)
    row[listed] = np.arange(len(listed))
    edges = row[surface.edges.reshape(-1, 2)]
    label = components(len(listed), edges[(edges >= 0).all(axis=1)])
    piece = np.arange(count) + len(listed)
    piece[owner[::-1]] = label[row[vertex[::-1]]]
    return np.unique(piece, return_inverse=True)[1].reshape(-1)


def _one_place(finding: Finding, vertex: IntArray) -> IntArray:
    """Face corners at one vertex are one step; every other element is one of its own."""
    return vertex if finding.kind == "corner" else np.arange(finding.count)


def order_of_steps(sizes: FloatArray, together: IntArray) -> IntArray:
    """(k,) step numbers: groups with the largest size first, then large groups, then stored order."""
    if not len(together):
        return np.zeros(0, np.int64)
    _, first, group, count = np.unique(
        together, return_index=True, return_inverse=True, return_counts=True
    )
    worst = np.full(len(first), -np.inf)
    np.maximum.at(worst, group.reshape(-1), np.where(np.isfinite(sizes), sizes, -np.inf))
    order = np.lexsort((first, -count, -worst))
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    return rank[group.reshape(-1)]


def _outlines(surface: Surface, finding: Finding) -> tuple[FloatArray, IntArray]:
    """(m, 2, 3) edges, or the edges around faces, and (m,) each one's element."""
    elements, world = np.asarray(finding.elements, np.int64), surface.world
    if finding.kind == "edge":
        lines, owner = world[surface.edges.reshape(-1, 2)[elements]], np.arange(finding.count)
    elif finding.kind == "face":
        corners, owner = _corners_of(surface, elements)
        ends = np.stack([corners, following(surface)[corners]], axis=1)
        lines = world[surface.corners[ends]]
    else:
        return _no_lines(), _no_numbers()
    good = np.isfinite(lines).all(axis=(1, 2))
    return lines[good], owner[good]


def _wanted(
    here: Surface, there: Surface | None, finding: Finding, plane: MirrorPlane
) -> tuple[FloatArray, IntArray]:
    """(w, 2, 3) from vertices to their partner's mirror image, of the centre's to the plane."""
    if finding.code not in ASTRAY_CODES or finding.kind != "vertex" or there is None:
        return _no_lines(), _no_numbers()
    elements = np.asarray(finding.elements, np.int64)
    partners = np.asarray(finding.partners, np.int64)
    rows = np.flatnonzero(partners >= 0)
    start = here.world[elements[rows]]
    end = reflect(there.world[partners[rows]], plane.point, plane.normal)
    own = (elements[rows] == partners[rows]) & (here is there)
    end[own] = (start[own] + end[own]) / 2.0
    lines = np.stack([start, end], axis=1)
    good = np.isfinite(lines).all(axis=(1, 2))
    return lines[good], rows[good]


def _laid_bones(armature: Armature, finding: Finding, plane: MirrorPlane) -> Laid:
    """Bones as lines from head to tail, and beside them where the counterpart says they should be."""
    bones = [armature.by_name.get(name) for name in finding.names]
    others = [
        armature.by_name.get(name) if name else None
        for name in finding.partner_names or (None,) * len(bones)
    ]
    rows = np.array([row for row, bone in enumerate(bones) if bone is not None], np.int64)
    lines = np.array([_ends(bone) for bone in bones if bone is not None]).reshape(-1, 2, 3)
    wanted, of_wanted = [], []
    if finding.code in ASTRAY_CODES:
        for row, (bone, other) in enumerate(zip(bones, others, strict=True)):
            if bone is not None and other is not None:
                image = reflect(_ends(other), plane.point, plane.normal)
                aims = (_ends(bone) + image) / 2.0 if bone is other else image
                moved = [*np.stack([_ends(bone), aims], axis=1), aims]
                wanted += moved
                of_wanted += [row] * len(moved)
    steps = order_of_steps(finding.sizes, np.arange(finding.count))
    return Laid(
        steps, np.arange(finding.count), lines=lines, of_line=rows,
        wanted=np.array(wanted).reshape(-1, 2, 3), of_wanted=np.array(of_wanted, np.int64),
    )


def _ends(bone: Bone) -> FloatArray:
    return np.array([bone.head, bone.tail], np.float64)
