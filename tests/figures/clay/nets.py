"""A closed mesh around a distance field: one vertex a cell, one quad a crossed grid edge."""

from dataclasses import dataclass

import numpy as np

from .fields import FAR, field_at, melted, slopes_at

CORNERS = np.array([(i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1)])
EDGES = [
    (a, b) for a in range(8) for b in range(a + 1, 8) if np.abs(CORNERS[a] - CORNERS[b]).sum() == 1
]


@dataclass(frozen=True)
class Skin:
    """``points`` (n, 3) and ``quads`` (f, 4), wound counter-clockwise seen from outside."""

    points: np.ndarray
    quads: np.ndarray

    @property
    def triangles(self):
        return self.quads[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3)

    @property
    def edges(self):
        sides = np.stack([self.quads, np.roll(self.quads, -1, axis=1)], axis=2).reshape(-1, 2)
        return np.unique(np.sort(sides, axis=1), axis=0)


def _grid(bodies, cell, shift):
    boxes = [body.box() for body in bodies]
    low = np.min([box[0] for box in boxes], axis=0) - 4 * cell - cell * shift
    high = np.max([box[1] for box in boxes], axis=0) + 5 * cell
    shape = np.ceil((high - low) / cell).astype(int) + 1
    axes = [(low[a] + cell * np.arange(shape[a])).astype(np.float32) for a in range(3)]
    values = np.full(shape, FAR, np.float32)
    for body, (start, end) in zip(bodies, boxes, strict=True):
        margin = body.melt + 3 * cell
        first = np.maximum(np.floor((start - margin - low) / cell).astype(int), 0)
        last = np.minimum(np.ceil((end + margin - low) / cell).astype(int) + 1, shape)
        own = tuple(slice(a, b) for a, b in zip(first, last, strict=True))
        x, y, z = np.meshgrid(*(axes[a][own[a]] for a in range(3)), indexing="ij", sparse=True)
        values[own] = melted(values[own], body.distance(x, y, z), np.float32(body.melt))
    return low, values


def _cells(values):
    inside = values < 0
    size = np.array(values.shape) - 1
    count = np.zeros(size, np.int8)
    for i, j, k in CORNERS:
        count += inside[i : i + size[0], j : j + size[1], k : k + size[2]]
    return inside, (count > 0) & (count < 8)


def skin_of(bodies, cell, shift=(0.0, 0.0, 0.0)):
    """The Skin of melted ``bodies`` on a grid of ``cell`` width, its points put onto the field."""
    low, values = _grid(bodies, cell, np.asarray(shift, float))
    inside, active = _cells(values)
    number = np.full(active.shape, -1, np.int64)
    number[active] = np.arange(active.sum())
    cells = np.argwhere(active)
    at_corner = np.stack([values[tuple((cells + corner).T)] for corner in CORNERS], axis=1).astype(float)
    total, crossings = np.zeros((len(cells), 3)), np.zeros(len(cells))
    for a, b in EDGES:
        crossed = (at_corner[:, a] < 0) != (at_corner[:, b] < 0)
        gap = np.where(crossed, at_corner[:, a] - at_corner[:, b], 1.0)
        share = np.clip(at_corner[:, a] / gap, 0, 1)[:, None]
        total += crossed[:, None] * (CORNERS[a] + share * (CORNERS[b] - CORNERS[a]))
        crossings += crossed
    points = low + cell * (cells + total / crossings[:, None])
    return Skin(_onto(bodies, points, cell), _quads(inside, number))


def _onto(bodies, points, cell):
    slopes = slopes_at(bodies, points)
    step = field_at(bodies, points)[:, None] * slopes / np.maximum((slopes**2).sum(axis=1), 0.05)[:, None]
    length = np.linalg.norm(step, axis=1, keepdims=True)
    return points - step * np.minimum(1, 0.5 * cell / np.maximum(length, 1e-12))


def _quads(inside, number):
    found = []
    for axis in range(3):
        first = [slice(1, -1)] * 3
        second = list(first)
        first[axis], second[axis] = slice(0, -1), slice(1, None)
        one, other = inside[tuple(first)], inside[tuple(second)]
        b, c = (axis + 1) % 3, (axis + 2) % 3
        for leaving in (True, False):
            at = np.argwhere((one != other) & (one == leaving))
            at[:, b] += 1
            at[:, c] += 1
            around = []
            for back_b, back_c in ((1, 1), (0, 1), (0, 0), (1, 0)):
                cell = at.copy()
                cell[:, b] -= back_b
                cell[:, c] -= back_c
                around.append(number[tuple(cell.T)])
            quads = np.stack(around, axis=1)
            found.append(quads if leaving else quads[:, ::-1])
    return np.concatenate(found)


def cell_for(bodies, vertices, first):
    """The cell width that gives about ``vertices`` points, from one coarse try at ``first``."""
    found = int(_cells(_grid(bodies, first, np.zeros(3))[1])[1].sum())
    return first * float(np.sqrt(max(found, 1) / vertices))


def distance_to(skin_points, triangles, point, near):
    """Distance of one point to the triangles that come within about ``near`` of it."""
    corners = skin_points[triangles]
    close = corners[np.linalg.norm(corners - point, axis=2).min(axis=1) < near]
    if not len(close):
        return float("inf")
    u, v = np.meshgrid(np.linspace(0, 1, 9), np.linspace(0, 1, 9))
    kept = (u + v) <= 1.0001
    share = np.stack([1 - u[kept] - v[kept], u[kept], v[kept]], axis=1)
    return float(np.linalg.norm(np.einsum("sk,tkd->tsd", share, close) - point, axis=2).min())
