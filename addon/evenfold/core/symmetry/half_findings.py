"""What keeps half a model from becoming one whole under its Mirror modifier, by its vertices."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ..figure import FloatArray, IntArray
from ..findings import Finding
from .centre_line import SLANT, BoolArray
from .half_model import NEARLY, Half, fits

CODES = ("mirror-gap", "mirror-beside", "mirror-merge", "mirror-wall")

FLUSH = 0.02
"""A face lies in the plane where its vertices' copies are at most this share of the merge limit
apart. Our choice."""


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
    bound = (half.modifier.merge_limit or 0.0) / 2.0 * half.surface.scale * metres * 1000.0
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
