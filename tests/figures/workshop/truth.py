"""Where crown, chin and sole are, taken before anything is joined, and whether it still shows."""

from dataclasses import dataclass

import bpy
import numpy as np
from mathutils import Vector
from mathutils.bvhtree import BVHTree

from .placing import Placing, through
from .shapes import Piece, Points, joined, vector

SHOWN = 0.01
"""How far, in head heights, the finished mesh may lie from a landmark that still counts as shown."""


@dataclass(frozen=True)
class Truth:
    """(3,) places in one space, with the unit direction up."""

    crown: Points
    chin: Points
    sole: Points
    up: Points

    @property
    def head(self) -> float:
        return float((self.crown - self.chin) @ self.up)

    @property
    def heads(self) -> float:
        return float((self.crown - self.sole) @ self.up) / self.head

    def placed(self, placing: Placing) -> "Truth":
        places = through(placing.world, np.array([self.crown, self.chin, self.sole]))
        up = placing.world[:3, :3] @ self.up
        return Truth(places[0], places[1], places[2], up / np.linalg.norm(up))


def find_truth(skull: Piece, feet: list[Piece], cover: Piece | None) -> Truth | str:
    """Extremes of the bare skull and the standing foot; ``cover`` stands for an open scalp.

    A sentence instead where the skull's lowest place is not at the front of the middle.
    """
    points = skull.points
    middle = points[(np.abs(points[:, 0]) < 0.13) & (points[:, 1] < points[:, 1].mean())]
    chin = middle[middle[:, 2].argmin()]
    if chin[2] > points[:, 2].min() + SHOWN:
        return "the skull's lowest place is not its chin"
    top = skull if cover is None else cover
    crown = top.points[top.points[:, 2].argmax()]
    ground, _ = joined(feet)
    sole = ground[ground[:, 2].argmin()]
    return Truth(crown, chin * (0, 1, 1), sole, np.array([0, 0, 1.0]))


def hidden_chin(truth: Truth, skin: list[Piece]) -> bool:
    """True where no look from the front or from below the front reaches the chin past neck and body."""
    points, faces = joined(skin)
    tree = BVHTree.FromPolygons([tuple(p) for p in points], [list(face) for face in faces])
    start = Vector(truth.chin + vector(0, -0.8, -0.6) * np.array(SHOWN))
    for angle in np.radians([0, 15, 30, 45, 60, 75]):
        if tree.ray_cast(start, Vector((0, -np.cos(angle), -np.sin(angle))))[0] is None:
            return False
    return True


def lost(truth: Truth, items: list[bpy.types.Object], wanted: tuple[str, ...] = ("crown", "chin", "sole")) -> str:
    """Which wanted landmark the finished objects, at rest in the world, no longer show; "" for none."""
    trees = [_tree(item) for item in items]
    for name in wanted:
        place = Vector(getattr(truth, name))
        away = min((found[3] for tree in trees if (found := tree.find_nearest(place))[0] is not None), default=np.inf)
        if away > SHOWN * truth.head:
            return name
    return ""


def world_mesh(item: bpy.types.Object) -> tuple[Points, list[tuple[int, ...]]]:
    """World points and faces of an object as its modifiers show it now."""
    from .styles import evaluated

    points, faces = evaluated(item)
    return through(np.array(item.matrix_world), points), faces


def swallowed(pieces: list[Piece], whole: Piece) -> bool:
    """True where uniting left out a piece: hardly any of its vertices lie on the united skin."""
    tree = BVHTree.FromPolygons([tuple(p) for p in whole.points], [list(face) for face in whole.faces])
    for piece in pieces:
        some = piece.points[:: max(1, len(piece.points) // 60)]
        near = [tree.find_nearest(Vector(p), 0.04)[0] is not None for p in some]
        if np.mean(near) < 0.2:
            return True
    return False


def _tree(item: bpy.types.Object) -> BVHTree:
    points, faces = world_mesh(item)
    return BVHTree.FromPolygons([tuple(p) for p in points], [list(face) for face in faces])
