"""The top of a dome under whatever narrow stands on it: spikes, ears, horns, buns.

The height map of a head is looked at from above. T(r) is the height of the highest place where a
level disk of radius r fits under the surface. On a bare dome T falls smoothly with r, about as
T0 - a r^2 - b r^4; what is narrower than r no longer counts. So the law is fitted to the wide
disks and followed back to r = 0. Where enough of the dome shows between what stands on it, a smooth
cap laid under the height map tells its top more closely.
"""

import math
from dataclasses import dataclass

import numpy as np

from ...extents import extent_of, low_of
from ...figure import FloatArray

GRID = 44
"""Cells of the height map to each side."""
RADII = (0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14)
"""Radii of the disks, in cells; those under ALWAYS are looked at however narrow the dome."""
ALWAYS = 4
STRETCHED = 150
"""Rounds after which what is stretched over a hole lies still."""
FITS = 0.012
"""How far, in sizes of the head, a bare dome may differ from the law."""
FALLS_AT, STEEPEST = 0.7, 0.17
"""At the first share of its half width a dome has fallen no more than the second; a ball of half the size falls 0.14."""
ROUND, ROUND_SLACK = 0.42, 0.05
"""Half height of a round head, in sizes, where the law finds no hold, and how far its top may be off then. Our choice."""
BARE_SLACK = 0.3 * FITS
"""How far the top of a bare dome may be off, in sizes. Our choice."""
OF_FALL = 0.5
"""The top by the law may be off by FITS and this share of how far it lies over the widest disks. Our choice."""
WIDEST = 0.72
"""Disks up to this share of the dome's half width are looked at."""
LEVEL, BROAD = 15, 90
"""The dome's half width is taken over a level with the first percentage of its heights under it, where it is as broad as the
second percentage of its rows. Our choice."""
NO_LINE, WINDOWS = 0.2, 12
"""An outline shorter than the first, in sizes, is none; a longer one is looked at in so many widths. Our choice."""

CAP = 0.8
"""The cap is laid under the map up to this share of the dome's half width. Our choice."""
FEWEST = 20
"""Fewer cells tell no cap."""
GIVES, ROUNDS = 0.006, 30
"""What rises over the cap by this share of the head's size counts a quarter, by more still less; rounds until it lies still."""
SHOWS, ALL_ROUND = 0.5, 0.35
"""The cap is trusted where it holds within FITS for so much of the map and for so much of every quarter of it. Our choice."""
CLOSE = 0.008
"""How far its top may be off, in sizes: up to 0.005 on 25 invented heads."""
TOP_WITHIN = np.linspace(-0.5, 0.5, 41)
"""Where its top is looked for from back to front, in half widths."""


@dataclass(frozen=True)
class Dome:
    """``top`` the dome's own top, ``bare`` True when nothing stands on it; ``slack`` how sure."""

    top: float
    highest: float
    bare: bool
    slack: float
    centre: FloatArray


def height_map(samples: FloatArray, low: FloatArray, cell: float) -> FloatArray:
    """(GRID, GRID) highest sample above each cell; holes are closed, -inf where there is nothing."""
    index = np.clip(((samples[:, :2] - low) / cell).astype(int), 0, GRID - 1)
    heights = np.full((GRID, GRID), -np.inf)
    np.maximum.at(heights, (index[:, 0], index[:, 1]), samples[:, 2])
    return _closed(heights)


def _closed(heights: FloatArray) -> FloatArray:
    """Cells with known ones on all four sides are stretched over like a skin."""
    known = np.isfinite(heights)
    sides = [known]
    for axis in (0, 1):
        sides += [np.logical_or.accumulate(known, axis), np.flip(np.logical_or.accumulate(np.flip(known, axis), axis), axis)]
    hole = np.logical_and.reduce(sides[1:]) & ~known
    if not hole.any():
        return heights
    skin = np.where(known, heights, heights[known].mean())
    row, column = np.nonzero(hole)
    for _ in range(STRETCHED):
        skin[row, column] = (skin[row - 1, column] + skin[row + 1, column] + skin[row, column - 1] + skin[row, column + 1]) / 4
    return np.where(known | hole, skin, -np.inf)


def _eroded(heights: FloatArray, radii: list[int]) -> list[FloatArray]:
    """For each radius the lowest height within that many cells; row by row, since disks are rows of few lengths."""
    most = max(radii)
    padded = np.pad(heights, most, constant_values=-np.inf)
    rows = [padded[:, most : most + GRID]]
    for aside in range(1, most + 1):
        both = np.minimum(padded[:, most - aside : most - aside + GRID], padded[:, most + aside : most + aside + GRID])
        rows.append(np.minimum(rows[-1], both))
    return [_of_disk(rows, radius, most) for radius in radii]


def _of_disk(rows: list[FloatArray], radius: int, padding: int) -> FloatArray:
    """The lowest height of a disk; ``rows`` hold the lowest within so many cells of a row, padded at both ends."""
    lowered = rows[0][padding : padding + GRID]
    for i in range(-radius, radius + 1):
        length = math.isqrt(int(radius * radius + 0.5 * radius) - i * i)
        lowered = np.minimum(lowered, rows[length][padding + i : padding + i + GRID])
    return lowered


def _law(radius: FloatArray, height: FloatArray) -> FloatArray:
    """Coefficients (T0, a, b) of height = T0 - a r^2 - b r^4 with a, b not below zero."""
    best = np.array([height.mean(), 0.0, 0.0])
    least = np.inf
    for powers in ((2, 4), (2,), (4,)):
        matrix = np.stack([np.ones_like(radius), *(-(radius**power) for power in powers)], axis=1)
        found = np.linalg.lstsq(matrix, height, rcond=None)[0]
        if (found[1:] < 0).any():
            continue
        error = float(np.abs(matrix @ found - height).max())
        if error < least:
            least, best = error, np.zeros(3)
            best[0] = found[0]
            for power, value in zip(powers, found[1:], strict=True):
                best[power // 2] = value
    return best


def find_dome(samples: FloatArray, size: float) -> Dome:
    """The dome of samples (n, 3) of a head's surface; ``size`` its height or width."""
    low = low_of(samples[:, :2])
    cell = float(extent_of(samples[:, :2]).max()) / GRID * 1.0001 or 1.0
    heights = height_map(samples, low, cell)
    highest = float(samples[:, 2].max())
    half = _half_width(heights, float(np.percentile(heights[np.isfinite(heights)], LEVEL))) * cell
    radii = [radius for radius in RADII if (radius + 0.5) * cell <= WIDEST * half or radius < ALWAYS]
    eroded = _eroded(heights, radii)
    tops = np.array([float(one.max()) for one in eroded])
    seen = np.isfinite(tops)
    radius, tops = (np.array(radii)[seen] + 0.5) * cell, tops[seen]
    radius[0] = 0.0
    unit = radius / max(half, cell)
    start, law = _start(unit, tops, size)
    place = np.unravel_index(int(np.argmax(eroded[start + 1 if start >= 0 else -1])), heights.shape)
    centre = low + (np.array(place) + 0.5) * cell
    if start == 0:
        return Dome(highest, highest, True, BARE_SLACK * size, centre)
    cap = _cap_under(heights, half / cell, size)
    if cap is not None:
        return Dome(min(cap, highest), highest, False, CLOSE * size, centre)
    if start < 0:
        rise = 1 - np.sqrt(np.maximum(1 - unit**2, 0.0))
        top = float(np.median((tops + ROUND * size * rise)[-3:]))
        return Dome(min(top, highest), highest, False, ROUND_SLACK * size, centre)
    top = float(np.clip(law[0], tops[start], highest))
    slack = OF_FALL * (top - tops[start]) + FITS * size
    return Dome(top, highest, False, float(slack), centre)


def _cap_under(heights: FloatArray, half: float, size: float) -> float | None:
    """The top of a smooth cap laid under the height map of a dome ``half`` so wide, in cells; None where too little of it shows."""
    row, column = np.nonzero(np.isfinite(heights))
    side, deep = (row - (row.min() + row.max()) / 2) / half, (column - np.median(column)) / half
    near = np.hypot(side, deep) < CAP
    side, deep, height = side[near], deep[near], heights[row, column][near]
    if len(height) < FEWEST:
        return None
    terms = np.stack([np.ones(len(side)), side**2, deep**2, deep, (side**2 + deep**2) ** 2], axis=1)
    weight, law = np.ones(len(height)), np.zeros(5)
    for _ in range(ROUNDS):
        law = np.linalg.lstsq(terms * weight[:, None], height * weight, rcond=None)[0]
        over = np.maximum((height - terms @ law) / (GIVES * size), 0.0)
        weight = 1 / (1 + over**2)
    holds = np.abs(height - terms @ law) < FITS * size
    quarters = [holds[(one * side > 0) & (other * deep > 0)] for one in (1, -1) for other in (1, -1)]
    if holds.mean() < SHOWS or any(not len(quarter) or quarter.mean() < ALL_ROUND for quarter in quarters):
        return None
    return float((law[0] + law[2] * TOP_WITHIN**2 + law[3] * TOP_WITHIN + law[4] * TOP_WITHIN**4).max())


def _half_width(heights: FloatArray, level: float) -> float:
    """Half the lesser width, in cells, of what reaches above ``level``."""
    above = heights >= level
    rows, columns = above.sum(axis=1), above.sum(axis=0)
    return max(min(float(np.percentile(rows[rows > 0], BROAD)), float(np.percentile(columns[columns > 0], BROAD))) / 2, 2.0)


def _start(unit: FloatArray, tops: FloatArray, size: float) -> tuple[int, FloatArray]:
    """The first radius from which the law holds, and the law there; -1 where it never does."""
    law = _law(unit, tops)
    for start in range(max(len(tops) - 3, 1)):
        law = _law(unit[start:], tops[start:])
        says = law[0] - law[1] * unit[start:] ** 2 - law[2] * unit[start:] ** 4
        falls = law[1] * FALLS_AT**2 + law[2] * FALLS_AT**4
        if np.abs(says - tops[start:]).max() <= FITS * size and falls <= STEEPEST * size:
            return start, law
    return -1, law


def bare_line(line: FloatArray, size: float) -> float | None:
    """The top of an outline (n, 2) of places and heights, where it is a dome with nothing on it."""
    low, high = float(line[:, 0].min()), float(line[:, 0].max())
    if high - low < NO_LINE * size:
        return None
    bins = 2 * GRID
    heights = np.full(bins, -np.inf)
    np.maximum.at(heights, np.minimum(((line[:, 0] - low) / (high - low) * bins).astype(int), bins - 1), line[:, 1])
    seen = np.flatnonzero(np.isfinite(heights))
    heights = np.interp(np.arange(bins), seen, heights[seen])
    windows = [int(radius) for radius in np.linspace(0, WIDEST * bins / 2, WINDOWS)]
    tops = [float(np.lib.stride_tricks.sliding_window_view(heights, 2 * radius + 1).min(axis=1).max()) for radius in windows]
    start, _ = _start(np.array(windows) / (bins / 2), np.array(tops), size)
    return float(line[:, 1].max()) if start == 0 else None
