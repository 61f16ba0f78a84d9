"""The figure's up direction, and its points in a frame of its own: side, forward, up."""

import numpy as np

from ...figure import Figure, FloatArray


def up_of(figure: Figure) -> FloatArray:
    """(3,) the figure's unit up direction in world space."""
    up = np.asarray(figure.up, float)
    return up / np.linalg.norm(up)


def to_frame(points: FloatArray, forward: FloatArray, up: FloatArray) -> FloatArray:
    """(n, 3) points as side (left positive), forward, up."""
    return points @ np.stack([np.cross(up, forward), forward, up]).T


def flat(vector: FloatArray, up: FloatArray) -> FloatArray:
    """``vector`` (3,) without what of it points along the unit ``up``."""
    return vector - up * (vector @ up)


def unit(vector: FloatArray) -> FloatArray | None:
    """``vector`` at the length 1; None where it has next to none."""
    length = float(np.linalg.norm(vector))
    return vector / length if length > 1e-9 else None
