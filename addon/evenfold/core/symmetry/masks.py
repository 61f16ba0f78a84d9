"""Painted masks against the values of their partners."""

from collections.abc import Iterator

import numpy as np

from ..findings import Finding
from ..layers import Mask
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
            yield from _compare(matched, mask, other, limits.settings.mask_limit)


def _key(mask: Mask) -> tuple[str, str, str, str]:
    return mask.name, mask.domain, mask.source, mask.uv_map


def _compare(matched: Matched, mask: Mask, other: Mask, limit: float) -> Iterator[Finding]:
    """Values that are not numbers (an image nothing there uses) claim nothing."""
    corner = mask.domain == "corner"
    rows = np.flatnonzero(matched.corners_once if corner else matched.vertices_once)
    if not len(rows) or not mask.values.shape[1]:
        return
    partners = (matched.corner_partner if corner else matched.partner)[rows]
    apart = np.abs(mask.values[rows].astype(np.float64) - other.values[partners]).max(axis=1)
    off = apart > limit
    if off.any():
        yield matched.finding(
            "mask-drifted", mask.domain, rows[off], partners[off], apart[off], "value", mask.name
        )
