"""Face-tracking shapes that also move something far from the face, such as a foot."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..face_shapes import shape_of
from ..figure import FloatArray, IntArray, Surface
from ..findings import Place, Readiness
from ..pairing.islands import components
from ..symmetry.paired_rows import shown

MOST = 0.9
"""The face is where this share of all that the shapes move lies, around its middle. Our choice."""

FAR = 4.0
"""What moves further than so many times the face's radius from its middle is far from it. Our choice: tufts,
scarves and beards hang on the face, and what hangs together with something near is never far."""

CLEAR = 0.005
"""A share of the face's radius; smaller movements are left out here. Our choice."""

FEW = 0.5
"""What more than this share of the shapes move was moved in the neutral shape. Our choice."""


@dataclass(frozen=True)
class _Moves:
    """One shape on one object: the vertices ``rows`` (m,) it moves and how far (m,), in scene units."""

    surface: Surface
    name: str
    rows: IntArray
    size: FloatArray


def far_readiness(surfaces: Sequence[Surface]) -> list[Readiness]:
    """One record for each set of far vertices, with all the shapes that move them."""
    moves = [one for surface in surfaces for one in _moves(surface)]
    face = _face(moves)
    if face is None:
        return []
    middle, radius = face
    world = {surface.name: surface.world for surface in surfaces}
    shapes = {one.name for one in moves}
    found: dict[tuple[str, bytes], list[_Moves]] = {}
    for one in moves:
        rows = _far_rows(one, world[one.surface.name], middle, radius)
        if len(rows):
            found.setdefault((one.surface.name, rows.tobytes()), []).append(one)
    told = []
    for (name, stored), those in found.items():
        if len(those) <= FEW * len(shapes):
            told.append(_told(name, np.frombuffer(stored, np.int64), [one.name for one in those]))
    return told


def _told(owner: str, rows: IntArray, names: list[str]) -> Readiness:
    listed = ", ".join(str(row) for row in rows[:5]) + (" …" if len(rows) > 5 else "")
    return Readiness(
        "ready-key-far", "warning",
        f"Vertices far from the face move too in {shown(names)} of {owner} ({len(rows):,}: {listed}): "
        "clear them there.", " / ".join(names),
        (Place(owner, "key", tuple(names), rows),),
    )


def _moves(surface: Surface) -> Iterator[_Moves]:
    keys = surface.layers.keys if surface.layers is not None else None
    if keys is None:
        return
    points = {key.name: key.points for key in keys.keys}
    neutral = points.get(keys.reference, surface.positions)
    turn = surface.to_world[:3, :3].T
    for key in keys.keys:
        if key.name == keys.reference or shape_of(key.name) is None:
            continue
        base = points.get(key.relative_to, neutral) if keys.relative else neutral
        delta = np.subtract(key.points, base, dtype=np.float32)
        rows = np.flatnonzero(delta.any(axis=1) & np.isfinite(delta).all(axis=1) & np.isfinite(neutral).all(axis=1))
        if len(rows):
            yield _Moves(surface, key.name, rows, np.linalg.norm(delta[rows] @ turn, axis=1))


def _face(moves: Sequence[_Moves]) -> tuple[FloatArray, float] | None:
    """The middle (3,) of what the shapes move and how far around it most of that lies; None without any."""
    if not moves:
        return None
    points = np.concatenate([one.surface.world[one.rows] for one in moves])
    weight = np.concatenate([one.size for one in moves])
    middle = np.array([_share(points[:, axis], weight, 0.5) for axis in range(3)])
    radius = _share(np.linalg.norm(points - middle, axis=1), weight, MOST)
    return (middle, radius) if radius > 0.0 else None


def _share(values: FloatArray, weight: FloatArray, share: float) -> float:
    """The value up to which this share of the weight lies."""
    order = np.argsort(values)
    total = np.cumsum(weight[order])
    return float(values[order][np.searchsorted(total, share * total[-1])])


def _far_rows(one: _Moves, world: FloatArray, middle: FloatArray, radius: float) -> IntArray:
    """The vertices clearly moved that hang together, over moved ones, with nothing near the face."""
    away = np.linalg.norm(world[one.rows] - middle, axis=1) > FAR * radius
    if not away.any():
        return np.zeros(0, np.int64)
    inside = np.zeros(len(world), bool)
    inside[one.rows] = True
    edges = one.surface.edges.reshape(-1, 2)
    label = components(len(world), edges[inside[edges].all(axis=1)])[one.rows]
    near = np.isin(label, label[~away])
    return one.rows[away & ~near & (one.size > CLEAR * radius)].astype(np.int64)
