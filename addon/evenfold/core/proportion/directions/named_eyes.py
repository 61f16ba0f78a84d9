"""Which way a figure faces by the objects or materials that are named its eyes."""

import numpy as np

from ...figure import Figure, FloatArray, Part
from ..parts import words
from ..parts.body import BEYOND, FEWEST, Body, BoolArray
from .front import level_axes

EYES = frozenset({"eye", "eyes", "eyeball", "eyeballs", "iris", "irises", "pupil", "pupils"})
EYE_SIGNS = ("目", "瞳")
NO_EYES = frozenset({"brow", "brows", "lash", "lashes", "line", "liner", "lid", "lids", "shadow", "patch", "mask", "socket", "sockets", "glass", "glasses"})
NO_EYE_SIGNS = ("眉", "まつ", "睫")
GAP = 0.06
"""Between two eyes lies a gap of at least twice this share of how far they reach from side to side. Our choice."""
DEEP, ALIKE = 0.6, 0.6
"""They are less deep than the first share of that, and the smaller is as wide and high as the second of the larger. Our choice."""
AROUND = 1.5
"""What is no further from between them than so many times what they reach, is the head with them. Our choice."""
AXIS = np.radians(2.0)
"""Eyes so little off an axis of the scene look along it: common practice, no source."""


def way_of_named_eyes(figure: Figure, body: Body, up: FloatArray) -> FloatArray | None:
    """Unit level direction (3,) that two eyes look, which lie beside each other ahead of the head's middle; None without."""
    eyes = [part.points[_rows(part)] for part in figure.parts]
    points = np.concatenate([np.zeros((0, 3)), *eyes])
    points = points[(np.abs(points) < BEYOND).all(axis=1)]
    if len(points) < 2 * FEWEST:
        return None
    across, ahead = level_axes(up)
    flat = points @ np.stack([across, ahead]).T
    side = _from_eye_to_eye(flat, points @ up)
    if side is None:
        return None
    look = np.array([-side[1], side[0]])
    look = look if np.abs(look).max() < np.cos(AXIS) else np.round(look)
    off = _middle(flat @ look) - _middle(_about(body, points @ up, flat, up) @ look)
    way = np.sign(off) * (look[0] * across + look[1] * ahead)
    return np.asarray(way, float) if off else None


def _rows(part: Part) -> BoolArray:
    """(n,) what the part's name, or else its materials, call an eye."""
    if _is_eye(part.name):
        return np.ones(len(part.points), bool)
    named = [number for number, name in enumerate(part.materials) if _is_eye(name)]
    rows = np.zeros(len(part.points), bool)
    if named and len(part.triangle_material):
        rows[part.triangles[np.isin(part.triangle_material, named)].ravel()] = True
    return rows


def _is_eye(name: str) -> bool:
    return words.has_word(name, EYES, EYE_SIGNS) is not None and words.has_word(name, NO_EYES, NO_EYE_SIGNS) is None


def _from_eye_to_eye(flat: FloatArray, height: FloatArray) -> FloatArray | None:
    """Unit direction (2,) between two alike things with a gap between them, of points (n, 2) at ``height`` (n,)."""
    way = np.linalg.svd(flat - flat.mean(axis=0), full_matrices=False)[2][0]
    along = flat @ way
    middle, reach = (along.max() + along.min()) / 2, float(np.ptp(along))
    deep = float(np.ptp(flat @ np.array([-way[1], way[0]])))
    if (np.abs(along - middle) < GAP * reach).any() or not 0 < deep < DEEP * reach:
        return None
    halves = [along < middle, along > middle]
    size = np.array([[np.ptp(along[half]), np.ptp(height[half])] for half in halves])
    one, other = (flat[half].max(axis=0) + flat[half].min(axis=0) for half in halves)
    if (size.min(axis=0) < ALIKE * size.max(axis=0)).any():
        return None
    return np.asarray((other - one) / np.linalg.norm(other - one), float)


def _middle(places: FloatArray) -> float:
    return float(places.max() + places.min()) / 2


def _about(body: Body, heights: FloatArray, flat: FloatArray, up: FloatArray) -> FloatArray:
    """(k, 2) the head with the eyes: what is at their height and no further off than they reach; hair over a face as well."""
    rise, level = body.points @ up, body.points @ np.stack(level_axes(up)).T
    near = np.linalg.norm(level - flat.mean(axis=0), axis=1) < AROUND * np.ptp(flat, axis=0).max()
    return np.concatenate([flat, level[near & (rise > heights.min()) & (rise < heights.max())]])
