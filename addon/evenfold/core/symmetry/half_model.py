"""Half a model under a live Mirror modifier: which vertices become one, and what keeps it open.

Measured in 4.2, 4.5 and 5.2: a vertex and its copy become one where they lie less than the merge
limit apart, in the object's own units, and meet half way, weights included.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..figure import FloatArray, IntArray, MirrorModifier, Surface
from ..findings import Finding, MirrorPlane
from .centre_line import SLANT, BoolArray, centre_line, open_edges

CODES = ("mirror-gap", "mirror-beside", "mirror-merge", "mirror-wall")

ACROSS = 0.1
"""With at most this share of its vertices on the other side a mesh counts as a half. Our choice."""

NEARLY = 0.9
"""Planes count as meant to be one from this cosine of the angle between them. Our choice."""

BESIDE = 0.1
"""How far off the figure's plane a half's own may lie to be meant as the same, as a share of the
half's width. Our choice."""

FEWEST = 3
"""So many vertices of an open edge on a plane make it the half's centre line. Our choice."""


FLUSH = 0.02
"""A face lies in the plane where its vertices' copies are at most this share of the merge limit
apart. Our choice."""


@dataclass(frozen=True)
class Half:
    """A half with the modifier that completes it; ``given`` is the figure's plane.

    ``stray`` is the plane its open edge lies on where no modifier mirrors about that.
    """

    surface: Surface
    modifier: MirrorModifier
    given: MirrorPlane
    tolerance: float
    stray: "tuple[FloatArray, FloatArray] | None" = None

    @cached_property
    def away(self) -> FloatArray:
        """(n,) distances from the modifier's plane in scene units, where its normal points first."""
        return distances(self.surface, self.modifier.plane_point, self.modifier.plane_normal)

    @cached_property
    def apart(self) -> FloatArray:
        """(n,) how far apart the two copies of each vertex lie, in the object's own units."""
        into = np.linalg.pinv(self.surface.to_world[:3, :3])
        step = -2.0 * self.away[:, None] * self.modifier.plane_normal @ into.T
        return np.asarray(np.linalg.norm(step.astype(np.float32), axis=1), np.float64)

    @cached_property
    def joined(self) -> BoolArray:
        """(n,) whose two copies become one; those on the plane where nothing is merged."""
        limit = self.modifier.merge_limit
        if limit is None:
            return np.abs(self.away) <= self.tolerance
        return self.apart < np.float32(limit)

    @cached_property
    def border(self) -> IntArray:
        """(k, 2) the open edges."""
        return open_edges(self.surface)

    @cached_property
    def meant(self) -> BoolArray:
        """(n,) the vertices of the open edge that belong on the plane."""
        if self.stray is not None:
            away = distances(self.surface, *self.stray)
            return centre_line(self.surface.world, away, self.border, np.abs(away) <= self.tolerance)
        return centre_line(self.surface.world, self.away, self.border, self.joined)

    @property
    def centre(self) -> BoolArray:
        """(n,) the vertices of the finished model's centre."""
        return self.joined & (self.meant | (np.abs(self.away) <= self.tolerance))


def distances(surface: Surface, point: FloatArray, normal: FloatArray) -> FloatArray:
    """(n,) signed distances of the vertices from a plane in world space."""
    return np.asarray((surface.world - point) @ normal, np.float64)


def one_sided(away: FloatArray, tolerance: float) -> bool:
    """True where hardly anything lies on one of the sides."""
    known = away[np.isfinite(away)]
    fewer = min(int((known > tolerance).sum()), int((known < -tolerance).sum()))
    return fewer <= ACROSS * max(1, len(known))


def fits(one: MirrorModifier, plane: MirrorPlane, tolerance: float) -> bool:
    """True where the modifier mirrors about just this plane."""
    return (
        abs(abs(float(one.plane_normal @ plane.normal)) - 1.0) < 1e-6
        and abs(float((one.plane_point - plane.point) @ plane.normal)) <= tolerance
    )


def half_of(surface: Surface, plane: MirrorPlane, tolerance: float) -> Half | None:
    """The half that a live Mirror modifier completes, or None for a mesh that is checked whole."""
    if not surface.mirrors or not len(surface.positions):
        return None
    away = distances(surface, plane.point, plane.normal)
    for one in surface.mirrors:
        if fits(one, plane, tolerance) and one_sided(away, tolerance):
            return Half(surface, one, plane, tolerance)
    for one in surface.mirrors:
        half = Half(surface, one, plane, tolerance)
        if _meant_for(half, away):
            return half
    return astray(surface, plane, tolerance)


def _meant_for(half: Half, away: FloatArray) -> bool:
    """True where the modifier's plane lies slightly beside the figure's, and the half's edge on it."""
    if abs(float(half.modifier.plane_normal @ half.given.normal)) < NEARLY:
        return False
    if not one_sided(half.away, half.tolerance):
        return False
    beside = np.abs(np.abs(away) - np.abs(half.away))
    if float(np.nanmedian(beside)) > BESIDE * float(np.nanmax(np.abs(half.away), initial=0.0)):
        return False
    return _edge_on(half, half.away) >= FEWEST


def astray(surface: Surface, plane: MirrorPlane | None, tolerance: float) -> Half | None:
    """The half whose open edge lies on the figure's or its own plane, while it is mirrored elsewhere.

    Without ``plane`` only its own, X = 0 of the object, is looked at.
    """
    if not surface.mirrors or not len(surface.positions):
        return None
    own = np.cross(surface.to_world[:3, 1], surface.to_world[:3, 2])
    length = float(np.linalg.norm(own))
    planes = [(surface.to_world[:3, 3].astype(float), own / length)] if length > 0.0 else []
    planes = planes if plane is None else [(plane.point, plane.normal), *planes]
    halves = [Half(surface, one, _plane(one), tolerance) for one in surface.mirrors]
    most = max(FEWEST - 1, *(_edge_on(half, half.away) for half in halves))
    for stray in planes:
        away = distances(surface, *stray)
        if one_sided(away, tolerance) and _edge_on(halves[0], away) > most:
            return replace(halves[0], given=plane or halves[0].given, stray=stray)
    return None


def _plane(one: MirrorModifier) -> MirrorPlane:
    return MirrorPlane(one.plane_point, one.plane_normal, "given")


def _edge_on(half: Half, away: FloatArray) -> int:
    """How many vertices of the open edge lie on the plane that ``away`` (n,) is measured from."""
    border = np.unique(half.border)
    return int((np.abs(away[border]) <= half.tolerance).sum())


def half_findings(half: Half, metres: float) -> Iterator[Finding]:
    """What will not be one whole once the modifier has mirrored it."""
    if half.stray is not None:
        rows = np.flatnonzero(half.meant)
        yield _finding(half, "mirror-gap", rows, np.abs(half.away[rows]) * metres, _elsewhere(half))
        return
    yield from _beside(half, metres)
    if half.modifier.merge_limit is None:
        return
    gap = np.flatnonzero(half.meant & ~half.joined & ~_cut_away(half))
    if len(gap):
        yield _finding(half, "mirror-gap", gap, np.abs(half.away[gap]) * metres, _gap_words(half, metres))
    wall = _walls(half)
    if len(wall):
        yield _wall_finding(half, wall)
    eaten = np.flatnonzero(_eaten(half, wall))
    if len(eaten):
        words = (
            f"{half.modifier.name} pulls these onto the plane and joins them with their copies: "
            "lower its merge limit, or move them clear of the middle."
        )
        yield _finding(half, "mirror-merge", eaten, np.abs(half.away[eaten]) * metres, words)


def _beside(half: Half, metres: float) -> Iterator[Finding]:
    """The open edge, where it ends up, lies off the figure's plane."""
    merges = half.modifier.merge_limit is not None
    rows = np.flatnonzero(half.meant & (half.joined | (not merges)))
    world = half.surface.world[rows]
    if merges:
        world = world - half.away[rows, None] * half.modifier.plane_normal
    off = np.abs((world - half.given.point) @ half.given.normal)
    wrong = off > half.tolerance
    if not wrong.any():
        return
    if fits(half.modifier, half.given, half.tolerance):
        yield _finding(half, "off-centre", rows[wrong], off[wrong] * metres, "")
        return
    words = (
        f"{half.modifier.name} mirrors about {_about(half)}, which is not the figure's middle: "
        "choose another mirror object, or move that one."
    )
    yield _finding(half, "mirror-beside", rows[wrong], off[wrong] * metres, words)


def _about(half: Half) -> str:
    return half.modifier.about or f"the origin of {half.surface.name}"


def _elsewhere(half: Half) -> str:
    what = "a mirror object" if half.modifier.about is None else "another mirror object"
    return (
        f"{half.modifier.name} mirrors about {_about(half)} along "
        f"{'XYZ'[half.modifier.axis]}, away from this open edge: choose {what}, or another axis."
    )


def _gap_words(half: Half, metres: float) -> str:
    scale = float(np.abs(np.linalg.det(half.surface.to_world[:3, :3])) ** (1.0 / 3.0))
    bound = (half.modifier.merge_limit or 0.0) / 2.0 * scale * metres * 1000.0
    clip = "" if half.modifier.clip else ", with Clipping on"
    return (
        f"The middle stays open here: {half.modifier.name} joins only what lies within "
        f"{bound:.3g} mm of the plane. Move these onto it{clip}."
    )


def _cut_away(half: Half) -> BoolArray:
    """(n,) vertices beyond the plane where the modifier cuts there."""
    return half.away * half.modifier.bisect < 0.0


def _walls(half: Half) -> IntArray:
    """The faces that lie in the plane."""
    starts = half.surface.face_starts
    corners = half.surface.corners
    lengths = np.diff(starts)
    face = np.repeat(np.arange(len(lengths)), lengths)
    flush = half.joined & (half.apart <= FLUSH * (half.modifier.merge_limit or 0.0))
    apart = np.bincount(face, ~flush[corners], minlength=len(lengths))
    inside = np.flatnonzero((apart == 0) & (lengths > 2))
    flat = [one for one in inside if _parallel(half, corners[starts[one] : starts[one + 1]])]
    return np.array(flat, np.int64)


def _parallel(half: Half, corners: IntArray) -> bool:
    points = half.surface.world[corners] - half.surface.world[corners[0]]
    area = np.cross(points[1:-1], points[2:]).sum(axis=0)
    size = float(np.linalg.norm(area))
    return size > 0.0 and abs(float(area @ half.modifier.plane_normal)) > NEARLY * size


def _eaten(half: Half, walls: IntArray) -> BoolArray:
    """(n,) vertices pulled onto the plane though they are no part of the centre line."""
    surface = half.surface
    lengths = np.diff(surface.face_starts)
    used = np.zeros(len(surface.positions), bool)
    used[surface.corners] = True
    wall = np.zeros(len(used), bool)
    wall[surface.corners[np.repeat(np.isin(np.arange(len(lengths)), walls), lengths)]] = True
    kept = half.meant.copy()
    ends = half.border[half.joined[half.border].all(axis=1)]
    climb = np.abs(np.diff(np.abs(half.away[ends]), axis=1)[:, 0])
    length = np.linalg.norm(np.diff(surface.world[ends], axis=1)[:, 0], axis=1)
    steep = ends[climb > SLANT * length]
    further = np.abs(half.away[steep]).argmax(axis=1)
    kept[steep[np.arange(len(steep)), further]] = False
    return half.joined & used & ~wall & ~kept


def _wall_finding(half: Half, faces: IntArray) -> Finding:
    surface = half.surface
    lengths = np.diff(surface.face_starts)
    inside = np.repeat(np.isin(np.arange(len(lengths)), faces), lengths)
    vertices = np.unique(surface.corners[inside])
    words = "These faces lie in the plane and stay inside the finished model as a wall: delete them."
    found = _finding(half, "mirror-wall", faces, np.full(len(faces), np.nan), words, vertices)
    return replace(found, kind="face", vertices=vertices)


def _finding(
    half: Half,
    code: str,
    elements: IntArray,
    sizes: FloatArray,
    words: str,
    vertices: IntArray | None = None,
) -> Finding:
    hidden = half.surface.hidden
    at = elements if vertices is None else vertices
    fitting = half.stray is None and fits(half.modifier, half.given, half.tolerance)
    own = fitting and code in ("off-centre", "mirror-gap")
    partners = elements if own else np.full(len(elements), -1)
    return Finding(
        code, elements, partners, sizes, half.modifier.name if code in CODES else None,
        hidden=0 if hidden is None else int(hidden[at].sum()), advice=words,
    )
