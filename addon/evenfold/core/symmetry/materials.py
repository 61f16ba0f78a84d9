"""Materials of faces and their partners."""

from collections.abc import Iterator

import numpy as np

from ..figure import IntArray, Surface
from ..findings import Finding
from ..layers import SurfaceLayers
from ..sides import counterpart
from .matched import Limits, Matched

CODES = ("material-unmatched",)


def check(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """Faces whose partner has another material; a left one and its right one answer each other."""
    del limits
    here, there = matched.here.layers, matched.there.layers
    rows = np.flatnonzero(matched.faces_once)
    if here is None or there is None or not len(rows):
        return
    partners = matched.face_partner[rows]
    mine, others = _slots(here, matched.here)[rows], _slots(there, matched.there)[partners]
    count = int(others.max()) + 1
    kinds, member = np.unique(mine * count + others, return_inverse=True)
    unlike: dict[tuple[str, str], list[int]] = {}
    for number, kind in enumerate(kinds):
        left, right = _name(here, int(kind) // count), _name(there, int(kind) % count)
        if left != right and counterpart(left) != right:
            unlike.setdefault((left or "none", right or "none"), []).append(number)
    for subjects, numbers in unlike.items():
        chosen = np.isin(member.reshape(-1), numbers)
        sizes = np.full(int(chosen.sum()), np.nan)
        yield matched.finding(
            "material-unmatched", "face", rows[chosen], partners[chosen], sizes, "value", subjects=subjects
        )


def _slots(layers: SurfaceLayers, surface: Surface) -> IntArray:
    """(f,) the slot of each face, the last one where the number is beyond them, as the host draws."""
    if not len(layers.face_material):
        return np.zeros(len(surface.face_starts) - 1, np.int64)
    return np.clip(layers.face_material, 0, max(len(layers.materials) - 1, 0))


def _name(layers: SurfaceLayers, slot: int) -> str:
    return layers.materials[slot] if slot < len(layers.materials) else ""
