"""Which way a figure faces, and its points in a frame of its own: side, forward, up."""

import re

import numpy as np

from ...extents import extent_of
from ...figure import Bone, Figure, FloatArray
from ..ground.plate import find_plate
from ..parts import words
from ..parts.body import WELD, Body
from ..points.islands import boxes_of, label_pieces
from ..points.sample import dense
from .by_paint import upper_paint
from .facing import facing_and_vote
from .front import vote_for
from .named_eyes import way_of_named_eyes

DETAIL = 0.2
"""Pieces smaller than this share of the height may be eyes and the like, which are in front."""
CLEAR, SHAPE = 0.8, 1.2
"""A shape that tells front from back by the first counts as the second against names, whose sides may be seen from
the front: of 292 invented and 39 ready figures none so clear was the wrong way round. Our choice."""
WEAK, BARE = 0.8, 1.05
"""Where less than this speaks for a facing, by a rig or by the bare shape, it may be the other way
round. A chin alone, without feet or eyes, is less than BARE. From invented figures."""
_DIGITS = re.compile(r"\d+")
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


def _bones_by_side(figure: Figure) -> list[dict[int, FloatArray]]:
    """The heads (3,) of bones that are called alike but for their side, by side."""
    if figure.armature is None:
        return []
    heads: dict[tuple[str, ...], dict[int, FloatArray]] = {}
    names = dict(figure.humanoid)
    known = [(key, figure.armature.by_name[name]) for key, name in names.items() if name in figure.armature.by_name]
    known += [(bone.name, bone) for bone in figure.armature.bones]
    for name, bone in known:
        side = words.side_of(name)
        if side and not set(words.tokens(name)) & words.HELPER and np.isfinite(bone.head).all():
            key = tuple(token for token in words.tokens(name.replace("左", " ").replace("右", " ")) if token not in SIDES)
            heads.setdefault((*key, *_DIGITS.findall(name)), {})[side] = bone.head
    return list(heads.values())


def left_by_names(figure: Figure, up: FloatArray) -> FloatArray | None:
    """(3,) the unit level way from the right to the left by the sides in the bones' names; None without sides."""
    heads = _bones_by_side(figure)
    ways = [_flat(pair[1] - pair[-1], up) for pair in heads if len(pair) == 2]
    if ways:
        return _middle_way(np.array(ways))
    both = [[pair[side] for pair in heads if side in pair] for side in (1, -1)]
    return _unit(_flat(np.mean(both[0], axis=0) - np.mean(both[1], axis=0), up)) if both[0] and both[1] else None


def sides_are_exchanged(figure: Figure, forward: FloatArray) -> bool:
    """True where the bones' names call left what is right of the way the figure faces."""
    up = up_of(figure)
    left = left_by_names(figure, up)
    return left is not None and bool(left @ np.cross(up, forward) < -0.7)


def middle_between_bones(figure: Figure, way: FloatArray) -> FloatArray | None:
    """(3,) a point in the middle of most pairs of bones along ``way``; None without pairs."""
    middles = np.array([(pair[1] + pair[-1]) / 2 for pair in _bones_by_side(figure) if len(pair) == 2])
    if not len(middles):
        return None
    point = middles.mean(axis=0)
    return np.asarray(point + (np.median(middles @ way) - point @ way) * way, float)


def _middle_way(ways: FloatArray) -> FloatArray | None:
    """The unit direction most of the ways (k, 3) agree on, so that one lifted foot does not turn it."""
    length = np.linalg.norm(ways, axis=1)
    ways = ways[length > 0.02 * length.max(initial=0.0)]
    if not len(ways):
        return None
    units = ways / np.linalg.norm(ways, axis=1)[:, None]
    found = _unit(np.asarray(ways.sum(axis=0), float))
    for _ in range(30):
        if found is None:
            return None
        pull = 1 / np.maximum(np.linalg.norm(units - found, axis=1), 1e-4)
        found = _unit(np.asarray((units * pull[:, None]).sum(axis=0), float))
    return found


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
    step = WELD * float(extent_of(body.points).max())
    plate = find_plate(body.points, height, label_pieces(body.points, body.triangles, step), ~body.worn)
    kept = ~body.worn & ~plate
    faces = body.triangles[kept[body.triangles].all(axis=1)]
    if not len(faces):
        return body.points[kept]
    used, compact = np.unique(faces, return_inverse=True)
    return dense(body.points[used], compact.reshape(-1, 3), float(np.ptp(height[kept])) / 120)


def _small_pieces(body: Body, up: FloatArray) -> FloatArray:
    """(k, 3) middles of the small pieces that are not worn, such as eyes and mouths."""
    kept = ~body.worn
    size = float(np.ptp(body.points[kept] @ up)) if kept.any() else 0.0
    piece = label_pieces(body.points, body.triangles, WELD * float(extent_of(body.points).max()))
    count = int(piece.max()) + 1 if len(piece) else 0
    low, high = boxes_of(body.points[kept], piece[kept], count)
    points = np.bincount(piece[kept], minlength=count)
    extent = np.where(points > 0, (high - low).max(axis=1, initial=-np.inf), np.inf)
    small = (points >= 6) & (extent < DETAIL * size) & (extent > 0.01 * size)
    return np.asarray((low[small] + high[small]) / 2, float) if 0 < small.sum() <= 60 else np.zeros((0, 3))


def forward_of(figure: Figure, body: Body) -> FloatArray:
    """Unit facing direction, level: from eyes, toes, feet and the bones' sides, else from shape."""
    return facings_of(figure, body)[0]


def facings_of(figure: Figure, body: Body) -> list[FloatArray]:
    """The facing of ``forward_of``, then the others that may be meant where little speaks for it."""
    up = up_of(figure)
    left = left_by_names(figure, up)
    eyes = _eyes(figure, up)
    ways = [(2.0, _toes(figure, up)), (1.5, way_of_named_eyes(figure, body, up) if eyes is None else eyes)]
    feet = _feet_shape(body, up)
    if feet is not None and np.linalg.norm(feet) > 0.02 * np.ptp(body.points @ up):
        ways.append((0.9, feet))
    known = [(weight, way) for weight, way in ways if way is not None]
    start = np.cross(left, up) if left is not None else _unit(known[0][1]) if known else None
    if start is not None and not any(weight > SHAPE for weight, _ in known):
        shown = vote_for(_kept_surface(body, up), up, start, _small_pieces(body, up), upper_paint(body, up))
        known += [(SHAPE, start * np.sign(shown))] if abs(shown) >= CLEAR else []
    if start is not None:
        vote = float(left is not None) + sum(weight * float(np.sign(way @ start)) for weight, way in known)
        forward = start if vote > 0 or left is None else -start
        return [forward] if abs(vote) >= WEAK else [forward, -forward]
    shape = facing_and_vote(_kept_surface(body, up), up, _small_pieces(body, up), upper_paint(body, up))
    if shape is not None:
        others = [] if shape.vote >= BARE else [-shape.forward]
        return [shape.forward, *others, *([] if shape.along is None else [shape.along])]
    fallback = _unit(_flat(np.array([0.0, -1.0, 0.0]), up))
    forward = fallback if fallback is not None else np.array([1.0, 0.0, 0.0])
    aside = np.cross(up, forward)
    return [forward, -forward, aside, -aside]


def to_frame(points: FloatArray, forward: FloatArray, up: FloatArray) -> FloatArray:
    """(n, 3) points as side (left positive), forward, up."""
    return points @ np.stack([np.cross(up, forward), forward, up]).T
