"""Which way a figure faces, and its points in a frame of its own: side, forward, up."""

import numpy as np

from ..figure import Bone, Figure, FloatArray
from . import words
from .body import Body
from .facing import facing_by_shape
from .islands import label_pieces
from .region import WELD
from .sample import dense
from .standing import find_plate

SIDES = words.LEFT | words.RIGHT


def up_of(figure: Figure) -> FloatArray:
    """(3,) the figure's unit up direction in world space."""
    up = np.asarray(figure.up, float)
    return up / np.linalg.norm(up)


def _flat(vector: FloatArray, up: FloatArray) -> FloatArray:
    return vector - up * (vector @ up)


def _unit(vector: FloatArray) -> FloatArray | None:
    length = float(np.linalg.norm(vector))
    return vector / length if length > 1e-9 else None


def _left(figure: Figure, up: FloatArray) -> FloatArray | None:
    """From the right to the left by the sides in the bones' names."""
    if figure.armature is None:
        return None
    sides: dict[int, list[FloatArray]] = {1: [], -1: []}
    names = dict(figure.humanoid)
    known = [(key, figure.armature.by_name[name]) for key, name in names.items() if name in figure.armature.by_name]
    known += [(bone.name, bone) for bone in figure.armature.bones]
    for name, bone in known:
        side = words.side_of(name)
        if side and not set(words.tokens(name)) & words.HELPER:
            sides[side].append(bone.head)
    if not sides[1] or not sides[-1]:
        return None
    return _unit(_flat(np.mean(sides[1], axis=0) - np.mean(sides[-1], axis=0), up))


def _toes(figure: Figure, up: FloatArray) -> FloatArray | None:
    """The mean way from ankle to toe bones."""
    if figure.armature is None:
        return None
    ways: list[FloatArray] = []
    for bone in figure.armature.bones:
        parent: Bone | None = figure.armature.by_name.get(bone.parent or "")
        named = words.has_word(bone.name, frozenset({"toe", "toes", "toebase"}), ("つま先",))
        if named and parent is not None and words.has_word(parent.name, frozenset({"foot", "ankle"}), ("足首",)):
            ways.append(_flat(bone.head - parent.head, up))
    return _unit(np.sum(ways, axis=0)) if ways else None


def _feet_shape(body: Body, up: FloatArray) -> FloatArray | None:
    """Feet stick out forward: from the shin above to the sole below."""
    rows = (body.leg > 0.5) & ~body.worn
    if rows.sum() < 12:
        return None
    points = body.points[rows]
    height = points @ up
    low, high = height.min(), height.max()
    foot = points[height < low + 0.12 * (high - low)]
    shin = points[(height > low + 0.2 * (high - low)) & (height < low + 0.6 * (high - low))]
    if not len(foot) or not len(shin):
        return None
    middle = (foot.max(axis=0) + foot.min(axis=0)) / 2 - (shin.max(axis=0) + shin.min(axis=0)) / 2
    return _flat(middle, up)


def _eyes(figure: Figure, up: FloatArray) -> FloatArray | None:
    """From the head bone to between the eye bones, by the avatar standard or by name."""
    if figure.armature is None:
        return None
    bones = figure.armature.by_name
    named = [figure.humanoid.get(key) for key in ("leftEye", "rightEye")]
    eyes = [bones[name] for name in named if name in bones]
    if len(eyes) < 2:
        eyes = [bone for bone in bones.values() if words.side_of(bone.name) and set(words.tokens(bone.name)) & {"eye", "目"} == set(words.tokens(bone.name)) - SIDES]
    if len(eyes) < 2:
        return None
    parents = {bone.parent for bone in eyes}
    head = bones.get(eyes[0].parent or "") if len(parents) == 1 else None
    if head is None:
        return None
    way = _flat(np.mean([bone.head for bone in eyes], axis=0) - head.head, up)
    return way if np.linalg.norm(way) > 1e-6 else None


def _kept_surface(body: Body, up: FloatArray) -> FloatArray:
    """Points all over what is neither worn nor a base plate."""
    height = body.points @ up
    step = WELD * float(np.ptp(body.points, axis=0).max())
    plate = find_plate(body.points, height, label_pieces(body.points, body.triangles, step), ~body.worn)
    kept = ~body.worn & ~plate
    faces = body.triangles[kept[body.triangles].all(axis=1)]
    if not len(faces):
        return body.points[kept]
    used, compact = np.unique(faces, return_inverse=True)
    return dense(body.points[used], compact.reshape(-1, 3), float(np.ptp(height[kept])) / 120)


def forward_of(figure: Figure, body: Body) -> FloatArray:
    """Unit facing direction, level: from eyes, toes, feet and the bones' sides, else from shape."""
    up = up_of(figure)
    left = _left(figure, up)
    ways = [(2.0, _toes(figure, up)), (1.5, _eyes(figure, up))]
    feet = _feet_shape(body, up)
    if feet is not None and np.linalg.norm(feet) > 0.02 * np.ptp(body.points @ up):
        ways.append((0.9, feet))
    if left is not None:
        forward = np.cross(left, up)
        vote = 1.0 + sum(weight * float(np.sign(way @ forward)) for weight, way in ways if way is not None)
        return forward if vote > 0 else -forward
    known = [way for _, way in ways if way is not None]
    if known:
        found = _unit(known[0])
        if found is not None:
            return found
    shape = facing_by_shape(_kept_surface(body, up), up)
    if shape is not None:
        return shape
    fallback = _unit(_flat(np.array([0.0, -1.0, 0.0]), up))
    return fallback if fallback is not None else np.array([1.0, 0.0, 0.0])


def to_frame(points: FloatArray, forward: FloatArray, up: FloatArray) -> FloatArray:
    """(n, 3) points as side (left positive), forward, up."""
    return points @ np.stack([np.cross(up, forward), forward, up]).T


def start_of_head(figure: Figure, body: Body, forward: FloatArray) -> float | None:
    """Height in the figure's frame at which the head bone starts; None without one that is upright."""
    if figure.armature is None or body.head_bone is None:
        return None
    bone = figure.armature.by_name[body.head_bone]
    ends = to_frame(np.asarray([bone.head, bone.tail], float), forward, up_of(figure))
    rise, length = float(ends[1, 2] - ends[0, 2]), float(np.linalg.norm(ends[1] - ends[0]))
    return float(ends[0, 2]) if np.isfinite(ends).all() and rise > 0.3 * length > 0 else None
