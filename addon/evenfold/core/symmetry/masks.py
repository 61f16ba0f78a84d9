"""Painted masks against the values of their partners."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..figure import FloatArray, IntArray, Surface
from ..findings import Finding
from ..layers import BoolArray, Float32Array, Mask, Picture
from . import mask_areas, uv
from .elements import corner_faces
from .mask_areas import Side, Surroundings
from .matched import Limits, Matched

CODES = ("mask-drifted",)


@dataclass(frozen=True)
class _Off:
    """The corners painted otherwise (k,) and by how much (k,); ``spread`` as in ``Areas``."""

    corners: IntArray
    apart: FloatArray
    spread: float = 1.0


def check(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """Vertices or corners painted otherwise than their partner in any channel, mask by mask.

    Of a face whose image differs only between its corners, all corners.
    """
    for mask, other in _masks_of(matched):
        if mask.domain == "corner":
            found = _off_corners(matched, mask, other, limits)
            rows, apart, partners = found.corners, found.apart, matched.corner_partner
        else:
            rows = np.flatnonzero(matched.vertices_once)
            partners = matched.partner
            apart = _apart(mask, other, rows, partners[rows])
            off = apart > limits.settings.mask_limit
            rows, apart = rows[off], apart[off]
        if len(rows):
            yield matched.finding("mask-drifted", mask.domain, rows, partners[rows], apart, "value", mask.name)


def notes(matched: Matched, limits: Limits) -> Iterator[str]:
    """A sentence on each image that has more pixels than are looked at."""
    for mask, other in _masks_of(matched):
        if mask.picture is not None:
            spread = _off_corners(matched, mask, other, limits).spread
            if spread > 1.0:
                yield (
                    f"The mask image {mask.name} has too many pixels to look at each: painted areas smaller than "
                    f"{int(np.ceil(spread))} pixels across may be missed."
                )


def _masks_of(matched: Matched) -> list[tuple[Mask, Mask]]:
    """Masks of the same name, kind and channels on both sides."""
    here, there = matched.here.layers, matched.there.layers
    if here is None or there is None:
        return []
    others = {_key(mask): mask for mask in there.masks}
    pairs = [(mask, others[_key(mask)]) for mask in here.masks if _key(mask) in others]
    return [(one, other) for one, other in pairs if one.values.shape[1:] == other.values.shape[1:] != (0,)]


def _key(mask: Mask) -> tuple[str, str, str, str]:
    return mask.name, mask.domain, mask.source, mask.uv_map


def _apart(mask: Mask, other: Mask, rows: IntArray, partners: IntArray) -> FloatArray:
    """(k,) largest differences of any channel; values that are not numbers (an image nothing there uses) claim
    nothing."""
    apart = np.abs(mask.values[rows].astype(np.float64) - other.values[partners])
    return np.asarray(apart.max(axis=1, initial=0.0))


def _off_corners(matched: Matched, mask: Mask, other: Mask, limits: Limits) -> _Off:
    key = ("mask", *_key(mask))
    if key not in matched.kept:
        matched.kept[key] = _compare(matched, mask, other, limits)
    found: _Off = matched.kept[key]
    return found


def _compare(matched: Matched, mask: Mask, other: Mask, limits: Limits) -> _Off:
    """What differs in the corners, and of an image also between them.

    An image says nothing on faces whose UVs lie off their partner's: it is their UVs that are to be mended.
    """
    limit = limits.settings.mask_limit
    image = _Image.of(matched, mask, other)
    once = matched.corners_once
    away = np.zeros(len(once)) if mask.source != "image" else _away(matched, mask, limits)
    moved = away > limits.settings.uv_limit
    rows = np.flatnonzero(once & ~moved)
    apart = _apart(mask, other, rows, matched.corner_partner[rows])
    off = apart > limit
    rows, apart = rows[off], apart[off]
    if image is None:
        return _Off(rows, apart)
    further = np.ceil(np.maximum(away * max(image.one.pixels.shape[:2]) - 0.1, 0.0)).astype(np.int64)
    kept = image.beyond(mask, other, rows, matched.corner_partner[rows], further[rows]) > limit
    rows, apart = rows[kept], apart[kept]
    owner = corner_faces(matched.here)
    asked = matched.faces_once.copy()
    asked[owner[moved]] = False
    asked[owner[rows]] = False
    sizes, spread = _between(matched, mask, other, image, asked, further, limit)
    more = np.flatnonzero((sizes > 0.0)[owner] & once)
    return _Off(np.concatenate([rows, more]), np.concatenate([apart, sizes[owner[more]]]), spread)


@dataclass(frozen=True)
class _Image:
    """The picture of both sides, what to expect around its places, and the UVs (c, 2) of both."""

    one: Picture
    other: Picture
    around: tuple[Surroundings, Surroundings]
    places: Float32Array
    others: Float32Array

    @staticmethod
    def of(matched: Matched, mask: Mask, other: Mask) -> "_Image | None":
        """None where there is no picture, or one that is kept in another way than its partner."""
        here, there = matched.here.layers, matched.there.layers
        if here is None or there is None or mask.picture is None or other.picture is None:
            return None
        maps = [next((one.places for one in side.uv_maps if one.name == mask.uv_map), None) for side in (here, there)]
        if maps[0] is None or maps[1] is None or not mask.picture.like(other.picture):
            return None
        around = Surroundings(mask.picture)
        others = around if other.picture is mask.picture else Surroundings(other.picture)
        return _Image(mask.picture, other.picture, (around, others), maps[0], maps[1])

    def beyond(
        self, mask: Mask, other: Mask, rows: IntArray, partners: IntArray, further: IntArray
    ) -> FloatArray:
        """(k,) how far the values at corners lie off what their partners' places let expect, or those off theirs."""
        reach = np.minimum(1 + further, mask_areas.FURTHEST)
        channels = list(self.one.channels)
        found = []
        for mine, at, picture, places, around in (
            (mask.values[rows], partners, self.other, self.others, self.around[1]),
            (other.values[partners], rows, self.one, self.places, self.around[0]),
        ):
            size = picture.pixels.shape[1::-1]
            found.append(around.beyond(mine[:, channels].astype(np.float64), places[at].astype(np.float64) * size, reach))
        return np.maximum(*found)


def _away(matched: Matched, mask: Mask, limits: Limits) -> FloatArray:
    """(c,) how far the farthest corner of each corner's face lies off the layout of the mask's UV map, 0 where
    there is none."""
    away = np.zeros(len(matched.here.face_starts) - 1)
    face = corner_faces(matched.here)
    for one, other in uv.maps_of(matched):
        if one.name == mask.uv_map:
            rows, layout = uv.laid_out(matched, one, other, limits.settings.uv_limit)
            np.maximum.at(away, face[rows], np.nan_to_num(layout.off))
    return away[face]


def _between(
    matched: Matched, mask: Mask, other: Mask, image: _Image, asked: BoolArray, further: IntArray, limit: float
) -> tuple[FloatArray, float]:
    """(f,) by how much the image differs inside the faces asked for (f,), 0 where it does not or is not known
    on both sides; and the spread of ``Areas``."""
    here, partner, owner = matched.here, matched.corner_partner, corner_faces(matched.here)
    known = np.isfinite(mask.values[:, 0]) & np.isfinite(image.places).all(axis=1)
    known &= (partner >= 0) & (np.isfinite(other.values[:, 0]) & np.isfinite(image.others).all(axis=1))[partner]
    faces = asked.copy()
    faces[owner[~known]] = False
    sizes = np.zeros(len(faces))
    pieces = _pieces(here, faces, image, partner)
    if not len(pieces):
        return sizes, 1.0
    first = pieces[:, 0]
    areas = mask_areas.compare(
        Side(image.one, image.places[pieces].astype(np.float64)),
        Side(image.other, image.others[partner[pieces]].astype(np.float64)),
        image.around, further[first], limit,
    )
    np.maximum.at(sizes, owner[first], areas.apart)
    return sizes, areas.spread


def _pieces(here: Surface, faces: BoolArray, image: _Image, partner: IntArray) -> IntArray:
    """(p, 4) corners of the faces' pieces: faces of four that are bent in on neither side, else the host's
    triangles with their last corner twice."""
    lengths = np.diff(here.face_starts)
    quads = np.flatnonzero(faces & (lengths == 4))
    corners = here.face_starts[quads][:, None] + np.arange(4)
    outward = mask_areas.outward(image.places[corners]) & mask_areas.outward(image.others[partner[corners]])
    cut = faces.copy()
    cut[quads[outward]] = False
    layers = here.layers
    if layers is None or not len(layers.triangles):
        return corners[outward]
    triangles = layers.triangles[cut[layers.triangle_face]]
    return np.concatenate([corners[outward], triangles[:, [0, 1, 2, 2]]])
