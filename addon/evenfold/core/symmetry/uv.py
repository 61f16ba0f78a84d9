"""UV maps and seams: mirrored across a line of the map, stacked, or free."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ..figure import IntArray
from ..findings import Finding
from ..layers import UVMap
from .elements import corner_faces
from .matched import Limits, Matched
from .uv_layout import Layout, layout_of, uv_islands

CODES = ("uv-drifted", "seam-unmatched")


def check(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """Corners off what their island keeps to, map by map, and seams on one side only."""
    for one, other in maps_of(matched):
        rows, layout = laid_out(matched, one, other, limits.settings.uv_limit)
        off = layout.off > limits.settings.uv_limit
        if off.any():
            partners = matched.corner_partner[rows[off]]
            made = matched.finding(
                "uv-drifted", "corner", rows[off], partners, layout.off[off], "uv", one.name
            )
            yield replace(made, advice=_advice(layout))
    yield from _seams(matched)


def notes(matched: Matched, limits: Limits) -> Iterator[str]:
    """A sentence on each map of which something follows no layout, and so is not compared."""
    for one, other in maps_of(matched):
        _, layout = laid_out(matched, one, other, limits.settings.uv_limit)
        if layout.free:
            yield (
                f"UV map {one.name}: islands laid out freely, neither mirrored nor stacked nor alike, "
                f"are not compared ({layout.free:,} of {layout.islands:,})."
            )


def _advice(layout: Layout) -> str:
    if layout.way == "stacked":
        return "This map lays its two halves over each other."
    if layout.way == "none":
        return "Each island of this map is compared by its shape, wherever it was packed."
    return f"This map mirrors across {'u' if layout.way == 'upright' else 'v'} = {layout.line:.4g}."


def maps_of(matched: Matched) -> list[tuple[UVMap, UVMap]]:
    """Maps of the same name; the only maps of two objects whatever their names."""
    here, there = matched.here.layers, matched.there.layers
    if here is None or there is None:
        return []
    if len(here.uv_maps) == len(there.uv_maps) == 1:
        return [(here.uv_maps[0], there.uv_maps[0])]
    named = {one.name: one for one in there.uv_maps}
    return [(one, named[one.name]) for one in here.uv_maps if one.name in named]


def laid_out(
    matched: Matched, one: UVMap, other: UVMap, limit: float
) -> tuple[IntArray, Layout]:
    """The corners compared (k,) and how they lie."""
    key = ("uv", one.name, str(limit))
    if key not in matched.kept:
        matched.kept[key] = _lay_out(matched, one, other, limit)
    rows, layout = matched.kept[key]
    return rows, layout


def _lay_out(
    matched: Matched, one: UVMap, other: UVMap, limit: float
) -> tuple[IntArray, Layout]:
    rows = np.flatnonzero(matched.corners_once)
    mine = one.places[rows].astype(np.float64)
    partners = other.places[matched.corner_partner[rows]].astype(np.float64)
    known = np.isfinite(mine).all(axis=1) & np.isfinite(partners).all(axis=1)
    rows, mine, partners = rows[known], mine[known], partners[known]
    if not len(rows):
        return rows, Layout("none", np.nan, np.zeros(0), 0, 0)
    corners = matched.here.corners
    if matched.by_place and matched.itself:
        corners = matched.name[corners]
    island = uv_islands(corners, corner_faces(matched.here), one.places)[rows]
    island = np.unique(island, return_inverse=True)[1].reshape(-1)
    return rows, layout_of(mine, partners, island, limit)


def _seams(matched: Matched) -> Iterator[Finding]:
    here, there = matched.here.layers, matched.there.layers
    if here is None or there is None:
        return
    if len(here.seams) != len(matched.here.edges) or len(there.seams) != len(matched.there.edges):
        return
    rows = np.flatnonzero(matched.edges_once)
    partners = matched.edge_partner[rows]
    unlike = here.seams[rows] != there.seams[partners]
    if unlike.any():
        sizes = np.full(int(unlike.sum()), np.nan)
        yield matched.finding(
            "seam-unmatched", "edge", rows[unlike], partners[unlike], sizes, "uv"
        )
