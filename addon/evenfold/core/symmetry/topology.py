"""Edges and faces: what is joined on one side is joined on the other."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ..figure import FloatArray, IntArray
from ..findings import Finding
from ..layers import SurfaceLayers
from .elements import corner_faces, following, mixed, summed
from .matched import Limits, Matched
from .resplit import Resplit, resplit
from .turned import Turned, turned_diagonals

CODES = ("edge-unmatched", "face-unmatched", "diagonal-unmatched")


def check(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """Edges and faces without a mirrored one, and bent faces split along the other diagonal.

    Two triangles whose images share the other diagonal are a quad split otherwise.
    """
    edges, faces = _lone_edges(matched), _lone_faces(matched)
    if matched.here.split:
        cut = _cut_otherwise(matched, edges, faces)
        edges, faces = edges[~cut.edges[edges]], faces[~cut.faces[faces]]
    turned = turned_diagonals(matched, edges, faces)
    edges, faces = edges[~turned.edges[edges]], faces[~turned.faces[faces]]
    for code, kind, rows in (("edge-unmatched", "edge", edges), ("face-unmatched", "face", faces)):
        if len(rows):
            unknown = np.full(len(rows), -1)
            yield matched.finding(code, kind, rows, unknown, np.full(len(rows), np.nan), "metres")
    if not matched.itself:
        yield from _lacking(matched)
    yield from _turned(matched, turned, limits)
    split, heights = _split_otherwise(matched, limits)
    if len(split):
        partners = matched.face_partner[split]
        yield matched.finding(
            "diagonal-unmatched", "face", split, partners, heights * limits.metres, "metres"
        )


def notes(matched: Matched, limits: Limits) -> Iterator[str]:  # noqa: ARG001 - as every layer's
    """What a format without larger faces cut up otherwise on the two sides."""
    if not matched.here.split:
        return
    count = _cut_otherwise(matched, _lone_edges(matched), _lone_faces(matched)).count
    if count:
        what = "1 polygon was" if count == 1 else f"{count:,} polygons were"
        yield (
            f"This format has only triangles, and {what} cut up otherwise than on the other side: "
            "split them into triangles before the export if the surface has to bend alike."
        )


def _cut_otherwise(matched: Matched, edges: IntArray, faces: IntArray) -> Resplit:
    if ("resplit",) not in matched.kept:
        matched.kept[("resplit",)] = resplit(matched, edges, faces)
    found: Resplit = matched.kept[("resplit",)]
    return found


def _turned(matched: Matched, turned: Turned, limits: Limits) -> Iterator[Finding]:
    """Both triangles of each bent quad on the left that is split otherwise than its image."""
    left = matched.face_x[turned.first] + matched.face_x[turned.second]
    asked = turned.gaps > limits.tolerance
    if matched.itself:
        asked &= left > 0.0
    if not asked.any():
        return
    faces = np.concatenate([turned.first[asked], turned.second[asked]])
    sizes = np.tile(turned.gaps[asked], 2) * limits.metres
    yield matched.finding(
        "diagonal-unmatched", "face", faces, np.full(len(faces), -1), sizes, "metres"
    )


def _lone_edges(matched: Matched) -> IntArray:
    edges = matched.here.edges.reshape(-1, 2)
    ends = matched.image[edges]
    known = _sure(matched)[edges].all(axis=1) & (ends[:, 0] != ends[:, 1])
    return np.flatnonzero(known & (matched.edge_partner < 0))


def _lone_faces(matched: Matched) -> IntArray:
    known = np.diff(matched.here.face_starts) > 0
    known[corner_faces(matched.here)[~_sure(matched)[matched.here.corners]]] = False
    return np.flatnonzero(known & (matched.face_partner < 0))


def _sure(matched: Matched) -> NDArray[np.bool_]:
    """(n,) which vertices have a partner, and neither they nor it are told as doubled.

    Where a vertex was ripped, its faces hang on either of the two at its place.
    """
    known = matched.image >= 0
    doubled = matched.doubled
    if doubled is None or not matched.itself:
        return known
    return known & ~doubled & ~doubled[np.maximum(matched.partner, 0)]


def _lacking(matched: Matched) -> Iterator[Finding]:
    """What only the other object has, told at the vertices here that it would join."""
    back = Matched(
        matched.there, matched.here, np.zeros_like(matched.there.positions, np.float64),
        _inverse(matched), np.zeros(len(matched.there.positions), bool),
    )
    there = matched.there
    edges, faces = _lone_edges(back), _lone_faces(back)
    ends = np.unique(there.edges.reshape(-1, 2)[edges])
    chosen = np.isin(corner_faces(there), faces)
    for code, others, count in (
        ("edge-unmatched", ends, len(edges)),
        ("face-unmatched", np.unique(there.corners[chosen]), len(faces)),
    ):
        if count:
            what = "edges" if code == "edge-unmatched" else "faces"
            made = matched.finding(
                code, "vertex", back.partner[others], others, np.full(len(others), np.nan),
                "metres", there.name,
            )
            yield replace(made, advice=f"{there.name} has {what} ({count:,}) between these vertices' partners; here they are missing.")


def _inverse(matched: Matched) -> IntArray:
    inverse = np.full(len(matched.there.positions), -1)
    known = np.flatnonzero(matched.partner >= 0)[::-1]
    inverse[matched.partner[known]] = known
    return inverse


def _split_otherwise(matched: Matched, limits: Limits) -> tuple[IntArray, FloatArray]:
    """Quads that are split otherwise than their partner, if not flat.

    Of larger faces the host itself splits mirror images unlike. A quad that is its own partner
    is flat. Also returns how far each rises out of its plane, in scene units.
    """
    here, there = matched.here.layers, matched.there.layers
    none = np.zeros(0, np.int64)
    if here is None or there is None or not len(here.triangles) or not len(there.triangles):
        return none, np.zeros(0)
    partner = matched.face_partner
    asked = matched.faces_once & (np.diff(matched.here.face_starts) == 4)
    if matched.itself:
        asked &= partner != np.arange(len(partner))
    if not asked.any():
        return none, np.zeros(0)
    mine = _split_names(here, matched.corner_partner, len(partner))
    others = _split_names(there, np.arange(len(matched.there.corners)), len(matched.there.face_starts) - 1)
    unlike = np.flatnonzero(asked & (mine != others[partner]))
    heights = _rise(matched, unlike)
    bent = heights > limits.tolerance
    return unlike[bent], heights[bent]


def _split_names(layers: SurfaceLayers, corner: IntArray, count: int) -> NDArray[np.uint64]:
    """(f,) a number for each face's set of triangles, their corners called as ``corner`` says."""
    sets = mixed(corner[layers.triangles]).sum(axis=1, dtype=np.uint64)
    order = np.argsort(layers.triangle_face, kind="stable")
    return summed(mixed(sets.view(np.int64))[order], layers.triangle_face[order], count)


def _rise(matched: Matched, faces: IntArray) -> FloatArray:
    """(k,) how thick each face is across its mean plane (Newell's normal), in scene units."""
    starts = matched.here.face_starts
    lengths = np.diff(starts)[faces]
    owner = np.repeat(np.arange(len(faces)), lengths)
    corners = starts[faces][owner] + np.arange(len(owner)) - np.repeat(np.cumsum(lengths) - lengths, lengths)
    points = matched.points[matched.here.corners[corners]]
    after = matched.points[matched.here.corners[following(matched.here)[corners]]]
    normal = _by_owner(np.cross(points, after), owner, len(faces))
    size = np.linalg.norm(normal, axis=1, keepdims=True)
    normal = normal / np.where(size > 0.0, size, 1.0)
    height = np.einsum("ij,ij->i", points, normal[owner])
    top, bottom = np.full(len(faces), -np.inf), np.full(len(faces), np.inf)
    np.maximum.at(top, owner, height)
    np.minimum.at(bottom, owner, height)
    return top - bottom


def _by_owner(values: FloatArray, owner: IntArray, count: int) -> FloatArray:
    return np.stack([np.bincount(owner, column, minlength=count) for column in values.T], axis=1)
