"""Angles between rest frames, in degrees."""

import numpy as np

from ..figure import FloatArray


def angle_between(one: FloatArray, other: FloatArray) -> FloatArray:
    """(n,) degrees between (n, 3) directions; 0 where one of them has no length."""
    cross = np.linalg.norm(np.cross(one, other), axis=-1)
    dot = (one * other).sum(axis=-1)
    return np.degrees(np.arctan2(cross, dot))


def twist(wanted: FloatArray, axes: FloatArray) -> FloatArray:
    """(n,) degrees that ``axes`` (n, 3, 3, columns x, y, z) are turned about y from ``wanted``.

    The wanted frame is first carried over by the shortest turn that brings its y onto the other
    y, so that a difference in direction does not count.
    """
    start = carried(wanted[:, :, 2], wanted[:, :, 1], axes[:, :, 1])
    return angle_between(start, axes[:, :, 2])


def carried(vectors: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """``vectors`` (n, 3) under the shortest turn from ``start`` to ``end`` (Rodrigues)."""
    axis = np.cross(start, end)
    cosine = (start * end).sum(axis=1, keepdims=True)
    opposite = cosine[:, 0] < -1.0 + 1e-12
    share = 1.0 / np.where(opposite[:, None], 1.0, 1.0 + cosine)
    along = (axis * vectors).sum(axis=1, keepdims=True)
    turned = vectors * cosine + np.cross(axis, vectors) + axis * along * share
    return np.where(opposite[:, None], vectors, turned)
