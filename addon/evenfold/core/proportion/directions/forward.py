"""Which way a figure faces: by eyes, toes, feet and the sides of its bones, or by its shape, and where else it may face."""

import numpy as np

from ...extents import extent_of
from ...figure import Bone, Figure, FloatArray
from ...name_words import words_of
from ..ground.plate import find_plate
from ..parts import words
from ..parts.body import WELD, Body
from ..points.islands import boxes_of, label_pieces
from ..points.sample import dense
from .by_paint import upper_paint
from .facing import facing_and_vote
from .frame import flat, unit, up_of
from .front import vote_for
from .named_eyes import way_of_named_eyes
from .named_sides import SIDES, left_by_names

SAMPLES = 120
"""Samples to the figure's height."""
DETAIL, SPECK, FEWEST_CORNERS, MOST_SMALL = 0.2, 0.01, 6, 60
"""Pieces smaller than the first share of the height and larger than the second may be eyes and the like, which are in front, where
they have so many points; of more such pieces than the last none is told to be. Our choice."""
TOES, EYES, SIDED, FEET = 2.0, 1.5, 1.0, 0.9
"""How much speaks for a facing: toe bones, eyes by bone or name, the sides in bones' names, and feet by weight. Our choice."""
CLEAR, SHAPE = 0.8, 1.2
"""A shape that tells front from back by the first counts as the second against names, whose sides may be seen from
the front: of 292 invented and 39 ready figures none so clear was the wrong way round. Our choice."""
SURE_BY_RIG, SURE_BY_SHAPE = 0.8, 1.05
"""Where less than this speaks for a facing, by a rig or by the bare shape, it may be the other way
round. A chin alone, without feet or eyes, is less than SURE_BY_SHAPE. From invented figures."""
FOOT, SHIN, FEWEST_OF_LEGS = 0.12, (0.2, 0.6), 12
"""Of what follows the legs the foot lies below the first share of its height and the shin between the second; fewer points than
the third tell nothing. Our choice."""
FEET_AHEAD = 0.02
"""Feet tell a facing where their middle is off the shins' by this share of the height. Our choice."""


def forward_of(figure: Figure, body: Body) -> FloatArray:
    """Unit facing direction, level: from eyes, toes, feet and the bones' sides, else from shape."""
    return facings_of(figure, body)[0]


def facings_of(figure: Figure, body: Body) -> list[FloatArray]:
    """The facing of ``forward_of``, then the others that may be meant where little speaks for it."""
    up = up_of(figure)
    left = left_by_names(figure, up)
    eyes = _eyes(figure, up)
    ways = [(TOES, _toes(figure, up)), (EYES, way_of_named_eyes(figure, body, up) if eyes is None else eyes)]
    feet = _feet_shape(body, up)
    if feet is not None and np.linalg.norm(feet) > FEET_AHEAD * np.ptp(body.points @ up):
        ways.append((FEET, feet))
    known = [(weight, way) for weight, way in ways if way is not None]
    start = np.cross(left, up) if left is not None else unit(known[0][1]) if known else None
    if start is not None and not any(weight > SHAPE for weight, _ in known):
        shown = vote_for(_kept_surface(body, up), up, start, _small_pieces(body, up), upper_paint(body, up))
        known += [(SHAPE, start * np.sign(shown))] if abs(shown) >= CLEAR else []
    if start is not None:
        vote = SIDED * (left is not None) + sum(weight * float(np.sign(way @ start)) for weight, way in known)
        forward = start if vote > 0 or left is None else -start
        return [forward] if abs(vote) >= SURE_BY_RIG else [forward, -forward]
    shape = facing_and_vote(_kept_surface(body, up), up, _small_pieces(body, up), upper_paint(body, up))
    if shape is not None:
        others = [] if shape.vote >= SURE_BY_SHAPE else [-shape.forward]
        return [shape.forward, *others, *([] if shape.along is None else [shape.along])]
    fallback = unit(flat(np.array([0.0, -1.0, 0.0]), up))
    forward = fallback if fallback is not None else np.array([1.0, 0.0, 0.0])
    aside = np.cross(up, forward)
    return [forward, -forward, aside, -aside]


def _toes(figure: Figure, up: FloatArray) -> FloatArray | None:
    """The mean way from ankle to toe bones."""
    if figure.armature is None:
        return None
    ways: list[FloatArray] = []
    for bone in figure.armature.bones:
        parent: Bone | None = figure.armature.by_name.get(bone.parent or "")
        named = words.has_word(bone.name, frozenset({"toe", "toes", "toebase"}), ("つま先",))
        if named and parent is not None and words.has_word(parent.name, frozenset({"foot", "ankle"}), ("足首",)):
            ways.append(flat(bone.head - parent.head, up))
    return unit(np.sum(ways, axis=0)) if ways else None


def _feet_shape(body: Body, up: FloatArray) -> FloatArray | None:
    """Feet stick out forward: from the shin above to the sole below."""
    rows = body.follows_legs & ~body.worn
    if rows.sum() < FEWEST_OF_LEGS:
        return None
    points = body.points[rows]
    height = points @ up
    low, high = height.min(), height.max()
    foot = points[height < low + FOOT * (high - low)]
    shin = points[(height > low + SHIN[0] * (high - low)) & (height < low + SHIN[1] * (high - low))]
    if not len(foot) or not len(shin):
        return None
    middle = (foot.max(axis=0) + foot.min(axis=0)) / 2 - (shin.max(axis=0) + shin.min(axis=0)) / 2
    return flat(middle, up)


def _eyes(figure: Figure, up: FloatArray) -> FloatArray | None:
    """From the head bone to between the eye bones, by the avatar standard or by name."""
    if figure.armature is None:
        return None
    bones = figure.armature.by_name
    named = [figure.humanoid.get(key) for key in ("leftEye", "rightEye")]
    eyes = [bones[name] for name in named if name in bones]
    if len(eyes) < 2:
        eyes = [bone for bone in bones.values() if words.side_of(bone.name) and set(words_of(bone.name)) & {"eye", "目"} == set(words_of(bone.name)) - SIDES]
    if len(eyes) < 2:
        return None
    parents = {bone.parent for bone in eyes}
    head = bones.get(eyes[0].parent or "") if len(parents) == 1 else None
    if head is None:
        return None
    way = flat(np.mean([bone.head for bone in eyes], axis=0) - head.head, up)
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
    return dense(body.points[used], compact.reshape(-1, 3), float(np.ptp(height[kept])) / SAMPLES)


def _small_pieces(body: Body, up: FloatArray) -> FloatArray:
    """(k, 3) middles of the small pieces that are not worn, such as eyes and mouths."""
    kept = ~body.worn
    size = float(np.ptp(body.points[kept] @ up)) if kept.any() else 0.0
    piece = label_pieces(body.points, body.triangles, WELD * float(extent_of(body.points).max()))
    count = int(piece.max()) + 1 if len(piece) else 0
    low, high = boxes_of(body.points[kept], piece[kept], count)
    points = np.bincount(piece[kept], minlength=count)
    extent = np.where(points > 0, (high - low).max(axis=1, initial=-np.inf), np.inf)
    small = (points >= FEWEST_CORNERS) & (extent < DETAIL * size) & (extent > SPECK * size)
    return np.asarray((low[small] + high[small]) / 2, float) if 0 < small.sum() <= MOST_SMALL else np.zeros((0, 3))
