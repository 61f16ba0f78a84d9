"""Painted masks against the values of their partners."""

from collections.abc import Iterator

import numpy as np

from ..findings import Finding
from ..layers import BoolArray, Mask
from . import uv
from .elements import corner_faces
from .matched import Limits, Matched

CODES = ("mask-drifted",)


def check(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """Vertices or corners painted otherwise than their partner in any channel, mask by mask."""
    here, there = matched.here.layers, matched.there.layers
    if here is None or there is None:
        return
    others = {_key(mask): mask for mask in there.masks}
    for mask in here.masks:
        other = others.get(_key(mask))
        if other is not None and mask.values.shape[1:] == other.values.shape[1:]:
            yield from _compare(matched, mask, other, limits)


def _key(mask: Mask) -> tuple[str, str, str, str]:
    return mask.name, mask.domain, mask.source, mask.uv_map


def _compare(matched: Matched, mask: Mask, other: Mask, limits: Limits) -> Iterator[Finding]:
    """Values that are not numbers (an image nothing there uses) claim nothing, nor does an image on
    faces whose UVs lie off their partner's: it is their UVs that are to be mended."""
    corner = mask.domain == "corner"
    once = matched.corners_once if corner else matched.vertices_once
    if mask.source == "image":
        once = once & ~_moved(matched, mask, limits)
    rows = np.flatnonzero(once)
    if not len(rows) or not mask.values.shape[1]:
        return
    partners = (matched.corner_partner if corner else matched.partner)[rows]
    apart = np.abs(mask.values[rows].astype(np.float64) - other.values[partners]).max(axis=1)
    off = apart > limits.settings.mask_limit
    if off.any():
        yield matched.finding(
            "mask-drifted", mask.domain, rows[off], partners[off], apart[off], "value", mask.name
        )


def _moved(matched: Matched, mask: Mask, limits: Limits) -> BoolArray:
    """(c,) the corners of faces of which a corner lies off the layout of the mask's UV map."""
    limit = limits.settings.uv_limit
    moved = np.zeros(len(matched.here.face_starts) - 1, bool)
    face = corner_faces(matched.here)
    for one, other in uv.maps_of(matched):
        if one.name == mask.uv_map:
            rows, layout = uv.laid_out(matched, one, other, limit)
            moved[face[rows[layout.off > limit]]] = True
    return moved[face]
