"""Pieces of mesh as plain arrays, in design space."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Faces = tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class Piece:
    """One closed or open shell.

    ``label`` says what it is and, for limbs, whose ("arm.L"); ``points`` (n, 3); ``bones`` are
    the open avatar standard's names, or names of chains, of what may carry it; ``material`` is a
    key of ``naming.MATERIALS``.
    """

    label: str
    points: Points
    faces: Faces
    material: str = "skin"
    bones: tuple[str, ...] = ("head",)

    def moved(self, offset: tuple[float, float, float] | Points) -> "Piece":
        return replace(self, points=self.points + np.asarray(offset, float))

    def only(self, keep: NDArray[np.bool_]) -> "Piece":
        """The faces for which ``keep`` (faces,) is True, with the vertices they use."""
        faces = [face for face, kept in zip(self.faces, keep, strict=True) if kept]
        used = np.unique([corner for face in faces for corner in face]) if faces else np.zeros(0, int)
        number = np.full(len(self.points), -1)
        number[used] = np.arange(len(used))
        return replace(
            self,
            points=self.points[used],
            faces=tuple(tuple(int(number[corner]) for corner in face) for face in faces),
        )

    @property
    def middles(self) -> Points:
        """(faces, 3) the mean corner of each face."""
        return np.array([self.points[list(face)].mean(axis=0) for face in self.faces]).reshape(-1, 3)


def outward(piece: Piece) -> Piece:
    """The closed piece with its faces turned so that they look outwards."""
    volume = 0.0
    for face in piece.faces:
        for k in range(1, len(face) - 1):
            a, b, c = piece.points[face[0]], piece.points[face[k]], piece.points[face[k + 1]]
            volume += float(a @ np.cross(b, c))
    return piece if volume >= 0 else replace(piece, faces=tuple(face[::-1] for face in piece.faces))


def vector(x: float, y: float, z: float) -> Points:
    return np.array([x, y, z], float)


def joined(pieces: "list[Piece]") -> tuple[Points, Faces]:
    """Points and faces of several pieces in one list, as joining objects gives."""
    points, faces, base = [np.zeros((0, 3))], [], 0
    for piece in pieces:
        points.append(piece.points)
        faces += [tuple(corner + base for corner in face) for face in piece.faces]
        base += len(piece.points)
    return np.concatenate(points), tuple(faces)


def uv_ball(across: int, down: int) -> tuple[Points, Faces]:
    """Unit directions and faces of a ball with poles on z."""
    polar = np.pi * np.arange(1, down) / down
    round_ = 2 * np.pi * np.arange(across) / across
    rings = [
        np.column_stack([np.sin(p) * np.sin(round_), -np.sin(p) * np.cos(round_), np.full(across, np.cos(p))])
        for p in polar
    ]
    points = np.concatenate([[[0, 0, 1]], *rings, [[0, 0, -1]]])
    last = len(points) - 1
    faces: list[tuple[int, ...]] = []
    for k in range(across):
        n = (k + 1) % across
        faces.append((0, 1 + k, 1 + n))
        for ring in range(down - 2):
            a, b = 1 + ring * across, 1 + (ring + 1) * across
            faces.append((a + k, b + k, b + n, a + n))
        faces.append((last, last - across + n, last - across + k))
    return points, tuple(faces)


def quad_ball(cuts: int) -> tuple[Points, Faces]:
    """Unit directions and quads of a cube cut ``cuts`` times along each edge and blown up."""
    grid = np.linspace(-1, 1, cuts + 1)
    number: dict[tuple[float, ...], int] = {}
    points: list[tuple[float, ...]] = []
    faces = []

    def at(place: tuple[float, ...]) -> int:
        key = tuple(round(c, 6) + 0.0 for c in place)
        if key not in number:
            number[key] = len(points)
            points.append(place)
        return number[key]

    for axis in range(3):
        for side in (-1.0, 1.0):
            for i in range(cuts):
                for j in range(cuts):
                    corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)]
                    face = []
                    for u, v in corners:
                        place = [0.0, 0.0, 0.0]
                        place[axis] = side
                        place[(axis + 1) % 3], place[(axis + 2) % 3] = grid[u], grid[v]
                        face.append(at(tuple(place)))
                    faces.append(tuple(face if side > 0 else face[::-1]))
    spread = np.tan(np.array(points) * np.pi / 4)
    return spread / np.linalg.norm(spread, axis=1, keepdims=True), tuple(faces)


def ellipsoid(
    label: str, middle: Points | tuple[float, ...], radii: tuple[float, float, float], detail: int = 12,
    power: float = 2.0, **more: object,
) -> Piece:
    """A ball, or with ``power`` above 2 a rounded box, of half sizes ``radii``."""
    points, faces = uv_ball(max(6, detail), max(4, detail * 2 // 3))
    points = rounded(points, power) * radii + np.asarray(middle, float)
    return outward(Piece(label, points, faces, **more))  # type: ignore[arg-type]


def rounded(directions: Points, power: float) -> Points:
    """Unit directions pushed out to the shape |x|^p + |y|^p + |z|^p = 1."""
    size = (np.abs(directions) ** power).sum(axis=1) ** (1 / power)
    return directions / size[:, None]


def tube(
    label: str, path: Points | list, radii: "list[float] | list[tuple[float, float]]", around: int = 10,
    cap: float = 0.6, **more: object,
) -> Piece:
    """A rounded tube along ``path`` (k, 3); each radius a number or (sideways, other way)."""
    line = np.asarray(path, float)
    wide = np.array([r if isinstance(r, tuple) else (r, r) for r in radii], float)
    first, last = line[0] - line[1], line[-1] - line[-2]
    first, last = first / np.linalg.norm(first), last / np.linalg.norm(last)
    if cap > 0:
        line = np.concatenate([
            [line[0] + first * wide[0].min() * cap], line, [line[-1] + last * wide[-1].min() * cap]
        ])
        wide = np.concatenate([wide[:1] * 0.6, wide, wide[-1:] * 0.6])
    steps = np.gradient(line, axis=0)
    steps /= np.linalg.norm(steps, axis=1, keepdims=True)
    side = np.cross(steps, [0.0, 1.0, 0.0])
    flat = np.linalg.norm(side, axis=1) < 0.3
    side[flat] = np.cross(steps[flat], [0.0, 0.0, 1.0])
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    other = np.cross(side, steps)
    turn = 2 * np.pi * np.arange(around) / around
    rings = [
        p + np.outer(np.cos(turn), s * w[0]) + np.outer(np.sin(turn), o * w[1])
        for p, s, o, w in zip(line, side, other, wide, strict=True)
    ]
    points = np.concatenate(rings)
    faces: list[tuple[int, ...]] = []
    for ring in range(len(line) - 1):
        a, b = ring * around, (ring + 1) * around
        for k in range(around):
            n = (k + 1) % around
            faces.append((a + k, a + n, b + n, b + k))
    faces.append(tuple(range(around))[::-1])
    faces.append(tuple(range(len(points) - around, len(points))))
    return outward(Piece(label, points, tuple(faces), **more))  # type: ignore[arg-type]


def cone(label: str, foot: Points, tip: Points, radius: float, around: int = 6, **more: object) -> Piece:
    """A horn or spike from ``foot`` to a sharp ``tip``."""
    middle = foot + (tip - foot) * 0.5
    return tube(label, [foot, middle, tip], [radius, radius * 0.55, radius * 0.02], around, 0.0, **more)


def box(label: str, middle: tuple[float, ...] | Points, half: tuple[float, ...], **more: object) -> Piece:
    signs = [(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]
    faces = ((0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3))
    points = np.array(signs, float) * half + np.asarray(middle, float)
    return outward(Piece(label, points, faces, **more))  # type: ignore[arg-type]


def ring(
    label: str, middle: tuple[float, ...] | Points, radii: tuple[float, float], thick: float, around: int = 20,
    start: float = 0.0, end: float = 2 * np.pi, upright: bool = False, **more: object,
) -> Piece:
    """A torus, or an arc of one, lying flat or (``upright``) standing across the figure.

    Angles count from the back for a lying one, from the left side for an upright one.
    """
    whole = end - start > 2 * np.pi - 0.01
    turn = np.linspace(start, end, around, endpoint=not whole)
    small = 2 * np.pi * np.arange(8) / 8
    points = []
    for t in turn:
        out = np.array([np.cos(t), 0, np.sin(t)]) if upright else np.array([np.sin(t), np.cos(t), 0])
        third = np.array([0, 1.0, 0]) if upright else np.array([0, 0, 1.0])
        place = np.array([radii[0], radii[1], radii[1]]) * out
        points.append(place + thick * (np.outer(np.cos(small), out) + np.outer(np.sin(small), third)))
    faces = []
    for k in range(around if whole else around - 1):
        a, b = 8 * k, 8 * ((k + 1) % around)
        faces += [(a + i, b + i, b + (i + 1) % 8, a + (i + 1) % 8) for i in range(8)]
    return outward(Piece(label, np.concatenate(points) + np.asarray(middle, float), tuple(faces), **more))  # type: ignore[arg-type]


def sheet(label: str, rows: "list[Points]", **more: object) -> Piece:
    """An open grid from rows of equally many points: capes, skirts, strands."""
    across = len(rows[0])
    faces = [
        (a * across + k, a * across + k + 1, (a + 1) * across + k + 1, (a + 1) * across + k)
        for a in range(len(rows) - 1)
        for k in range(across - 1)
    ]
    return Piece(label, np.concatenate(rows), tuple(faces), **more)  # type: ignore[arg-type]
