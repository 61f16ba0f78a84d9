"""The painted surface of a figure as spots with their colours."""

from dataclasses import dataclass

import numpy as np

from ...colour import apart, lab
from ...figure import FloatArray, IntArray
from ..points.sample import dense_near
from .body import Body, BoolArray

ALIKE = 16.0
"""Colours closer than this are one paint with its shading. Our choice."""
FEWEST = 12
"""Fewer spots than this tell no colour. Our choice."""


@dataclass(frozen=True)
class Painted:
    """``spots`` (m, 3) all over faces whose colour is known, and their colours ``lab`` (m, 3) in CIE L*a*b*."""

    spots: FloatArray
    lab: FloatArray


def painted_of(body: Body, points: FloatArray, rows: BoolArray, step: float) -> Painted | None:
    """The faces all of whose corners are in ``rows`` (n,), at the places ``points`` (n, 3), about ``step`` apart.

    None where none of them has a colour.
    """
    if not len(body.colour):
        return None
    mine = np.flatnonzero(rows[body.triangles].all(axis=1) & np.isfinite(body.colour).all(axis=1))
    if not len(mine):
        return None
    spots, near = dense_near(points[body.triangles[mine]].reshape(-1, 3), np.arange(3 * len(mine)).reshape(-1, 3), step)
    colours, kind = np.unique(body.colour[mine], axis=0, return_inverse=True)
    return Painted(spots, lab(colours)[kind.ravel()[near // 3]])


def main_colour(lab: FloatArray, mostly: float) -> FloatArray | None:
    """The colour (3,) that more than the share ``mostly`` of ``lab`` (n, 3) is; None where there is no such."""
    if len(lab) < FEWEST:
        return None
    close = lab[apart(lab, np.median(lab, axis=0)) < ALIKE]
    return np.asarray(np.median(close, axis=0)) if len(close) > mostly * len(lab) else None


def seen_along(cells: IntArray, near: FloatArray) -> IntArray:
    """Rows of what is seen: of the spots in each of ``cells`` (m,), below 0 for outside, the one with the most ``near`` (m,)."""
    inside = np.flatnonzero(cells >= 0)
    order = inside[np.lexsort((near[inside], cells[inside]))]
    is_last = np.append(cells[order][1:] != cells[order][:-1], True) if len(order) else np.zeros(0, bool)
    return order[is_last]
