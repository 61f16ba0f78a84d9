"""Distance fields: smooth bodies, each with a box it lies in, melted together one after another."""

from dataclasses import dataclass

import numpy as np

FAR = np.float32(9.0)


def _turned(y, z, angle):
    """(y, z) seen from a body tilted about x by ``angle``."""
    cosine, sine = np.cos(angle), np.sin(angle)
    return cosine * y + sine * z, -sine * y + cosine * z


@dataclass(frozen=True)
class Egg:
    """An ellipsoid, tilted about x; positive tilt lifts its +y end."""

    at: tuple
    radii: tuple
    bone: str = "head"
    melt: float = 0.05
    tilt: float = 0.0

    def distance(self, x, y, z):
        v, w = _turned(y - self.at[1], z - self.at[2], self.tilt)
        u = x - self.at[0]
        a, b, c = self.radii
        near = np.sqrt((u / a) ** 2 + (v / b) ** 2 + (w / c) ** 2)
        steep = np.sqrt((u / a**2) ** 2 + (v / b**2) ** 2 + (w / c**2) ** 2)
        return near * (near - 1) / np.maximum(steep, 1e-6)

    def box(self):
        reach = np.full(3, max(self.radii)) if self.tilt else np.array(self.radii)
        return np.array(self.at) - reach, np.array(self.at) + reach

    def extreme(self, sign):
        """The highest (+1) or lowest (-1) point, worked out from the radii and the tilt."""
        cosine, sine = np.cos(self.tilt), np.sin(self.tilt)
        b, c = self.radii[1], self.radii[2]
        reach = np.hypot(b * sine, c * cosine)
        along = np.array([0.0, (b**2 - c**2) * sine * cosine / reach, reach])
        return np.array(self.at) + sign * along


@dataclass(frozen=True)
class Limb:
    """A rounded cone from ``start`` to ``end``; ``wide`` stretches it sideways about ``start``."""

    start: tuple
    end: tuple
    thick: tuple
    bone: str
    melt: float = 0.05
    wide: float = 1.0

    def distance(self, x, y, z):
        way = np.subtract(self.end, self.start).astype(np.float32)
        way[0] /= self.wide
        u, v, w = (x - self.start[0]) / self.wide, y - self.start[1], z - self.start[2]
        share = np.clip((u * way[0] + v * way[1] + w * way[2]) / max(float(way @ way), 1e-9), 0, 1)
        apart = np.sqrt((u - share * way[0]) ** 2 + (v - share * way[1]) ** 2 + (w - share * way[2]) ** 2)
        return (apart - self.thick[0] - share * (self.thick[1] - self.thick[0])) * min(self.wide, 1.0)

    def box(self):
        reach = np.array([max(self.thick) * max(self.wide, 1.0), max(self.thick), max(self.thick)])
        ends = np.array([self.start, self.end])
        return ends.min(axis=0) - reach, ends.max(axis=0) + reach


@dataclass(frozen=True)
class Ring:
    """A torus lying level: a collar or a brim; ``flat`` squashes its tube in height."""

    at: tuple
    radius: float
    tube: float
    bone: str
    melt: float = 0.03
    flat: float = 1.0

    def distance(self, x, y, z):
        around = np.sqrt((x - self.at[0]) ** 2 + (y - self.at[1]) ** 2) - self.radius
        return (np.sqrt(around**2 + ((z - self.at[2]) / self.flat) ** 2) - self.tube) * min(self.flat, 1)

    def box(self):
        reach = np.array([self.radius + self.tube] * 2 + [self.tube * self.flat])
        return np.array(self.at) - reach, np.array(self.at) + reach


@dataclass(frozen=True)
class Block:
    """A box with rounded edges."""

    at: tuple
    half: tuple
    bone: str
    melt: float = 0.02
    rounding: float = 0.03

    def distance(self, x, y, z):
        out = [np.abs(one - at) - half + self.rounding for one, at, half in zip((x, y, z), self.at, self.half, strict=True)]
        apart = np.sqrt(sum(np.maximum(one, 0) ** 2 for one in out))
        return apart + np.minimum(np.maximum(np.maximum(out[0], out[1]), out[2]), 0) - self.rounding

    def box(self):
        return np.array(self.at) - self.half, np.array(self.at) + self.half


@dataclass(frozen=True)
class Carved:
    """``body`` without what lies in ``cut``: a shell of hair with a face opening."""

    body: object
    cut: object

    @property
    def bone(self):
        return self.body.bone

    @property
    def melt(self):
        return self.body.melt

    def distance(self, x, y, z):
        return np.maximum(self.body.distance(x, y, z), -self.cut.distance(x, y, z))

    def box(self):
        return self.body.box()


def melted(one, other, width):
    """The smooth union; it differs from the smaller one only where the two differ by < width."""
    near = np.maximum(width - np.abs(one - other), 0)
    return np.minimum(one, other) - near * near / (4 * width)


def field_at(bodies, points):
    """(n,) value of the melted bodies at (n, 3) points; below 0 is inside."""
    x, y, z = np.asarray(points, float).T
    value = np.full(len(points), float(FAR))
    for body in bodies:
        value = melted(value, body.distance(x, y, z), body.melt)
    return value


def slopes_at(bodies, points, step=1e-3):
    """(n, 3) gradient by central differences."""
    sides = [field_at(bodies, points + d) - field_at(bodies, points - d) for d in np.eye(3) * step]
    return np.stack(sides, axis=1) / (2 * step)
