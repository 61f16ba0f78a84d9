"""Lofts, tubes and balls for invented figures: plain points and triangles, outward by winding."""

from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True)
class Piece:
    """One closed or open form; ``along`` (n,) is each point's place on the bone ``chain``.

    ``group`` is head, neck, body or worn; ``kind`` says what a worn piece is, ``mode`` how it is
    kept: object, unnamed object, material, bones, unnamed bones or within the mesh unnamed.
    """

    name: str
    points: np.ndarray
    faces: np.ndarray
    chain: str
    along: np.ndarray
    group: str = "body"
    kind: str = ""
    mode: str = ""
    path: np.ndarray = field(default_factory=lambda: np.zeros((0, 3)))


def at(*values):
    """An offset or a point."""
    return np.array(values, float)


def turns(around):
    """Angles (around,) from the front over the left to the back and round."""
    return np.arange(around) * 2 * np.pi / around


def rounds(around, square=1.0):
    """Sine and cosine of the angles, drawn towards a box for ``square`` below 1."""
    angle = turns(around)
    sine, cosine = np.sin(angle), np.cos(angle)
    return np.sign(sine) * np.abs(sine) ** square, np.sign(cosine) * np.abs(cosine) ** square


def loft(rings, bottom=None, top=None):
    """Rings (r, k, 3) joined in order; ``bottom`` and ``top`` points close the ends."""
    rings = np.asarray(rings, float)
    rows, around = rings.shape[:2]
    base = np.arange(around)
    after = (base + 1) % around
    starts = np.arange(rows - 1)[:, None] * around
    low, low_after = (starts + base).ravel(), (starts + after).ravel()
    high, high_after = low + around, low_after + around
    faces = [np.stack([low, low_after, high_after], 1), np.stack([low, high_after, high], 1)]
    points = [rings.reshape(-1, 3)]
    count = rows * around
    if bottom is not None:
        points.append(np.asarray(bottom, float)[None])
        faces.append(np.stack([after, base, np.full(around, count)], 1))
        count += 1
    if top is not None:
        points.append(np.asarray(top, float)[None])
        last = (rows - 1) * around
        faces.append(np.stack([last + base, last + after, np.full(around, count)], 1))
    return np.concatenate(points), np.concatenate(faces)


def spread(values, around, ends):
    """One value a ring to one a point of a loft, with ``ends`` for the closing points."""
    return np.concatenate([np.repeat(np.asarray(values, float), around), np.asarray(ends, float)])


def tube(path, radii, around=10, flat=1.0, across=(0.0, 1.0, 0.0)):
    """A closed tube about ``path`` (m, 3); ``flat`` thins it along ``across``.

    Returns points, faces and the place (n,) along the path from 0 to 1.
    """
    path = np.asarray(path, float)
    way = np.gradient(path, axis=0)
    way /= np.linalg.norm(way, axis=1, keepdims=True) + 1e-12
    thin = np.asarray(across, float) - (way @ np.asarray(across, float))[:, None] * way
    small = np.linalg.norm(thin, axis=1) < 1e-3
    thin[small] = np.cross(way[small], [0.31, 0.11, 0.94])
    thin /= np.linalg.norm(thin, axis=1, keepdims=True)
    broad = np.cross(thin, way)
    angle = turns(around)
    radii = np.asarray(radii, float)[:, None, None]
    rings = path[:, None] + radii * (
        np.sin(angle)[None, :, None] * broad[:, None] - flat * np.cos(angle)[None, :, None] * thin[:, None]
    )
    points, faces = loft(rings, path[0], path[-1])
    return points, faces, spread(np.linspace(0, 1, len(path)), around, [0, 1])


def ball(centre, radii, around=12):
    """An ellipsoid with poles above and below."""
    level = np.linspace(0, np.pi, max(around // 2, 4) + 1)[1:-1]
    angle = turns(around)
    rings = np.stack(
        [
            np.outer(np.sin(level), np.sin(angle)),
            -np.outer(np.sin(level), np.cos(angle)),
            np.repeat(-np.cos(level)[:, None], around, 1),
        ],
        axis=2,
    )
    points, faces = loft(rings, [0, 0, -1], [0, 0, 1])
    return points * np.asarray(radii, float) + np.asarray(centre, float), faces


def cylinder(levels, around=16, centre=(0.0, 0.0)):
    """Rings of (height, half width, half depth), closed flat at both ends."""
    angle = turns(around)
    rings = [
        np.stack([centre[0] + a * np.sin(angle), centre[1] - b * np.cos(angle), np.full(around, z)], axis=1)
        for z, a, b in levels
    ]
    return loft(rings, [*centre, levels[0][0]], [*centre, levels[-1][0]])


def crescent(heights, inner, outer, reach, middle=np.pi, around=12):
    """A curved slab, cross-section between two ellipses, over ``reach`` radians about ``middle``.

    ``inner`` and ``outer`` (h, 3) are half width, half depth and y of the centre at each height.
    """
    angle = middle + np.linspace(-reach, reach, around)
    rings = []
    for z, (a, b, y), (c, d, w) in zip(heights, inner, outer, strict=True):
        out = np.stack([c * np.sin(angle), w - d * np.cos(angle), np.full(around, z)], axis=1)
        back = np.stack([a * np.sin(angle), y - b * np.cos(angle), np.full(around, z)], axis=1)[::-1]
        rings.append(np.concatenate([out, back]))
    ends = [np.asarray(ring).mean(axis=0) for ring in (rings[0], rings[-1])]
    return loft(rings, *ends)


def joined(pieces):
    """Points and triangles of many (points, faces)."""
    starts = np.cumsum([0, *(len(points) for points, _ in pieces)])
    return (
        np.concatenate([points for points, _ in pieces]),
        np.concatenate([faces + start for (_, faces), start in zip(pieces, starts, strict=False)]),
    )
