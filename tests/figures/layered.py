"""An invented figure that carries every layer, its halves alike to the last bit.

A body of about 1,700 vertices with two eyes and two mitts. ``Layered`` knows each vertex's
partner; plant a defect with ``changed`` and ask for it back.
"""

from dataclasses import dataclass, fields, is_dataclass, replace
from functools import cache, cached_property
from itertools import pairwise

import numpy as np
from evenfold.core.figure import Armature, Bone, Figure, Surface, Weights
from evenfold.core.layers import Mask, ShapeKey, ShapeKeys, SurfaceLayers, UVMap

from figures.records import figure_of

RINGS, AROUND = 36, 48
MIRROR = np.array([-1.0, 1.0, 1.0])
MATERIALS = ("Skin", "Coat", "Eye.L", "Eye.R")


@dataclass(frozen=True)
class Layered:
    """``partner`` (n,) of each vertex; ``face_piece`` (f,) body 0, left eye 1, right eye 2, left mitt 3, right mitt 4."""

    surface: Surface
    partner: np.ndarray
    face_piece: np.ndarray

    @property
    def layers(self) -> SurfaceLayers:
        return self.surface.layers

    @cached_property
    def faces(self) -> list[list[int]]:
        """The vertices of each face."""
        s = self.surface.face_starts
        return [self.surface.corners[a:b].tolist() for a, b in pairwise(s)]

    @cached_property
    def corner_face(self) -> np.ndarray:
        return np.repeat(np.arange(len(self.face_piece)), np.diff(self.surface.face_starts))

    def vertices_of(self, piece: int) -> np.ndarray:
        """The vertices of a piece, ascending."""
        return np.unique(self.surface.corners[self.face_piece[self.corner_face] == piece])

    def changed(self, **layers) -> "Layered":
        """With other layers, e.g. ``changed(seams=...)``."""
        return replace(self, surface=replace(self.surface, layers=replace(self.layers, **layers)))

    def figure(self, armature: Armature | None = None) -> Figure:
        return figure_of(self.surface, armature=armature)


@cache
def layered(seed: int = 0, layout: str = "mirrored", shuffle: bool = True, hexagons: bool = True) -> Layered:
    """The figure; ``layout`` of the eyes' and mitts' UVs: mirrored, stacked, turned or free.

    ``shuffle`` gives vertices and faces a random order; ``hexagons`` joins two quads of each piece.
    Made once for each call's arguments, so nothing of it can be written to.
    """
    rng = np.random.default_rng(seed)
    points, partner, faces, face_uvs, piece = _pieces(rng, layout, hexagons)
    if shuffle:
        order = rng.permutation(len(points))
        place = np.argsort(order)
        points, partner = points[order], place[partner[order]]
        faces = [[int(place[one]) for one in face] for face in faces]
        turn = rng.permutation(len(faces))
        faces, face_uvs = [faces[i] for i in turn], [face_uvs[i] for i in turn]
        piece = piece[turn]
    starts = np.concatenate([[0], np.cumsum([len(face) for face in faces])]).astype(np.int64)
    corners = np.concatenate(faces).astype(np.int64)
    edges = np.unique([sorted((f[i - 1], f[i])) for f in faces for i in range(len(f))], axis=0)
    points = points.astype(np.float32)
    layers = SurfaceLayers(
        _weights(points, partner), _seams(points, edges), _materials(points, faces, piece), MATERIALS,
        frozenset(), frozenset(_GROUPS), (UVMap("UVMap", np.concatenate(face_uvs).astype(np.float32)),),
        _keys(points, partner), _masks(points, corners, partner), _normals(points, partner)[corners],
        *_split(faces, starts),
    )
    surface = Surface("Body", points, edges, corners, starts, np.eye(4), layers=layers)
    made = Layered(surface, partner, piece)
    lock(made)
    return made


def lock(one) -> None:
    """Make every array in a record unwritable, however deep."""
    if isinstance(one, np.ndarray):
        one.flags.writeable = False
    elif isinstance(one, tuple):
        for each in one:
            lock(each)
    elif is_dataclass(one):
        for field in fields(one):
            lock(getattr(one, field.name))


def rig() -> Armature:
    """Bones for the groups, mirrored."""
    places = {"Spine": (0.0, 0.4), "Head": (0.0, 1.0), "Arm.L": (0.5, 0.8), "Arm.R": (-0.5, 0.8)}
    bones = []
    for name, (x, z) in places.items():
        tail = np.array([1.5 * x, 0.0, z + 0.2])
        along = tail - [x, 0.0, z]
        along /= np.linalg.norm(along)
        side = np.cross(along, [0.0, 1.0, 0.0])
        axes = np.array([side, along, [0.0, 1.0, 0.0]])
        bones.append(Bone(name, None if name == "Spine" else "Spine", np.array([x, 0.0, z]), tail, axes))
    return Armature("Rig", tuple(bones), np.eye(4))


def _loft(rings, around, seed, hexagons):
    """A lumpy closed shape: points, partner, faces with UVs in steps (column, row), left half first."""
    rng = np.random.default_rng(seed)
    half = around // 2
    rise, turn = np.pi * np.arange(1, rings) / rings, np.pi * np.arange(half + 1) / half
    radius = np.ones((rings - 1, half + 1))
    for wave in range(1, 4):
        height, phase, lean = rng.normal(), *rng.uniform(0.0, 6.0, 2)
        radius += 0.05 / wave * height * np.cos(wave * rise + phase)[:, None] * np.cos(wave * turn + lean)
    across = np.sin(turn)
    across[[0, half]] = 0.0
    flat = radius * np.sin(rise)[:, None]
    left = np.stack([flat * across, -flat * np.cos(turn), radius * np.cos(rise)[:, None]], axis=2)
    number = np.arange((rings - 1) * (half + 1)).reshape(rings - 1, -1)
    right = number.copy()
    right[:, 1:half] = number.size + np.arange((rings - 1) * (half - 1)).reshape(rings - 1, -1)
    points = np.concatenate([left.reshape(-1, 3), left[:, 1:half].reshape(-1, 3) * MIRROR, [[0, 0, 1.0], [0, 0, -1.0]]])
    partner = np.arange(len(points))
    partner[number], partner[right] = right, number
    return points, partner, _left_faces(number, len(points), hexagons)


def _left_faces(number, count, hexagons):
    """Faces of the left half with the UV steps of their corners; two quads are one hexagon."""
    rows, columns = number.shape
    made = []
    for row in range(rows - 1):
        column = 0
        while column < columns - 1:
            wide = 2 if hexagons and (row, column) == (rows // 2, columns // 3) else 1
            below = [(row + 1, column + step) for step in range(wide + 1)]
            above = [(row, column + step) for step in range(wide, -1, -1)]
            steps = [above[-1], *below, *above[:-1]]
            made.append(([int(number[at]) for at in steps], [(c, r) for r, c in steps]))
            column += wide
    for column in range(columns - 1):
        top, low = (column + 0.5, -1), (column + 0.5, rows)
        made.append(([count - 2, int(number[0, column]), int(number[0, column + 1])], [top, (column, 0), (column + 1, 0)]))
        made.append(
            ([count - 1, int(number[-1, column + 1]), int(number[-1, column])], [low, (column + 1, rows - 1), (column, rows - 1)])
        )
    return made


def _reverse(items):
    """A face seen in the mirror: the same first corner, the other way round."""
    return [items[0], *items[:0:-1]]


def _pieces(rng, layout, hexagons):
    """Body across the plane; eyes and mitts each as a left shape and its mirror image."""
    points, partner, left = _loft(RINGS, AROUND, int(rng.integers(1 << 30)), hexagons)
    points = points * [0.5, 0.4, 0.75] + [0, 0, 0.75]
    faces, uvs = [], []
    for face, steps in left:
        place = np.array(steps) / 64.0 + [0.5, 0.25]
        faces += [face, _reverse([int(partner[one]) for one in face])]
        uvs += [place, np.array(_reverse((place * [-1, 1] + [1, 0]).tolist()))]
    piece = [0] * len(faces)
    corners = {"eye": ([0.2, -0.42, 1.1], 0.08, (8, 10), 1), "mitt": ([0.7, 0.0, 0.8], 0.12, (8, 12), 3)}
    for name, (centre, size, shape, number) in corners.items():
        ball, across, half = _loft(*shape, int(rng.integers(1 << 30)), hexagons)
        own = ball * size + centre
        start = len(points)
        points = np.concatenate([points, own, own * MIRROR])
        partner = np.concatenate([partner, start + len(own) + np.arange(len(own)), start + np.arange(len(own))])
        whole = half + [(_reverse([int(across[one]) for one in f]), _reverse([(-u, v) for u, v in s])) for f, s in half]
        for face, steps in whole:
            at = np.array(steps) / 256.0 + ([0.875, 0.125] if name == "eye" else [0.875, 0.0625])
            faces += [[one + start for one in face], _reverse([one + start + len(own) for one in face])]
            uvs += [at, np.array(_reverse(_placed(at, layout, rng).tolist()))]
            piece += [number, number + 1]
    return points, partner, faces, uvs, np.array(piece)


def _placed(at, layout, rng):
    """Where the right copy of a left piece's UVs lies."""
    if layout == "stacked":
        return at
    if layout == "turned":
        return at[:, ::-1] * [1, -1] + [0.0, 1.0]
    if layout == "free":
        return rng.uniform(size=at.shape)
    return at * [-1, 1] + [1, 0]


def _seams(points, edges):
    """Down the middle of the back."""
    return (points[edges, 0] == 0.0).all(axis=1) & (points[edges, 1] > 0.0).all(axis=1)


def _materials(points, faces, piece):
    height = np.array([points[face, 2].mean() for face in faces])
    return np.select([piece == 1, piece == 2, height < 0.6], [2, 3, 1], 0)


_GROUPS = ("Spine", "Head", "Arm.L", "Arm.R")


def _weights(points, partner):
    """Spine and Head blend by height, the arms by how far out a vertex lies."""
    x, z = points[:, 0].astype(np.float64), points[:, 2].astype(np.float64)
    head = np.clip((z - 0.9) / 0.3, 0.0, 1.0)
    left = np.clip((x - 0.2) / 0.5, 0.0, 0.8)
    right = left[partner]
    table = np.stack([(1 - head) * (1 - left - right), head * (1 - left - right), left, right], axis=1)
    table = table.astype(np.float32)
    vertex, group = np.nonzero(table)
    return Weights(_GROUPS, vertex, group, table[vertex, group].astype(np.float64))


def _keys(points, partner):
    """Jaw (centre), Smile and Blink (left and right); the right ones are exact mirror images."""

    def bump(place, size, by):
        apart = np.linalg.norm(points - np.array(place), axis=1)
        return np.clip(1 - apart / size, 0, 1)[:, None] ** 2 * np.array(by)

    smile = bump((0.25, -0.35, 0.9), 0.2, (0.03, -0.01, 0.04))
    blink = bump((0.2, -0.4, 1.1), 0.15, (0.0, -0.01, -0.05))
    jaw = bump((0.0, -0.35, 0.8), 0.3, (0.0, -0.02, -0.06))
    jaw = (jaw + jaw[partner] * MIRROR) / 2
    moves = {"Jaw": jaw, "Smile.L": smile, "Smile.R": smile[partner] * MIRROR, "Blink.L": blink, "Blink.R": blink[partner] * MIRROR}
    keys = [ShapeKey("Basis", points, "Basis")]
    for name, move in moves.items():
        keys.append(ShapeKey(name, (points + move).astype(np.float32), "Basis"))
    return ShapeKeys("Basis", tuple(keys))


def _masks(points, corners, partner):
    """The outline's width on vertices, a shade in colour on corners."""
    x, z = np.abs(points[:, 0]), points[:, 2]
    outline = np.clip(0.2 + 0.5 * z + 0.3 * x, 0, 1).astype(np.float32)
    shade = np.stack([z / 2, x, 1 - z / 2, np.ones_like(z)], axis=1).astype(np.float32)
    return Mask("Outline", "vertex", outline[:, None]), Mask("Shade", "corner", shade[corners])


def _normals(points, partner):
    out = points - np.where(np.abs(points[:, :1]) > 0.55, np.sign(points[:, :1]) * [0.7, 0, 0] + [0, 0, 0.8], [0, 0, 0.75])
    out = out / np.linalg.norm(out, axis=1, keepdims=True)
    return np.where(points[:, :1] < 0, out[partner] * MIRROR, out).astype(np.float32)


def _split(faces, starts):
    """Each face's fan from its first corner: corner numbers (t, 3) and faces (t,)."""
    found = [
        ((start, start + step, start + step + 1), number)
        for number, (face, start) in enumerate(zip(faces, starts[:-1], strict=True))
        for step in range(1, len(face) - 1)
    ]
    return np.array([one for one, _ in found], np.int64), np.array([one for _, one in found], np.int64)
