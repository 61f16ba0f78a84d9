"""The ellipsoid that a part of a skull follows: where its top is, though the top itself is not there."""

import numpy as np

from ...figure import FloatArray

FEWEST = 50
"""Fewer points tell no ellipsoid."""


def top_of_ellipsoid(points: FloatArray, side: float) -> tuple[float, float] | None:
    """The highest height of the ellipsoid that points (n, 3) follow, and how far they are off it.

    It mirrors itself about ``side`` and may lean forward or back. Off is the root mean square of the
    equation's error: about twice the distance as a share of the radius. None where they follow none.
    """
    if len(points) < FEWEST:
        return None
    middle, unit = points[:, 1:].mean(axis=0), float(points.std()) or 1.0
    across = (points[:, 0] - side) / unit
    ahead, up = ((points[:, 1:] - middle) / unit).T
    terms = np.stack([across**2, ahead**2, up**2, ahead, up, ahead * up], axis=1)
    found = np.linalg.lstsq(terms, np.ones(len(points)), rcond=None)[0]
    wide, deep, tall, shift, rise, lean = (float(one) for one in found)
    if not (wide > 0 and deep > 0):
        return None
    square = tall - lean**2 / (4 * deep)
    linear = rise - shift * lean / (2 * deep)
    rest = -(shift**2) / (4 * deep) - 1
    inner = linear**2 - 4 * square * rest
    if not (square > 0 and inner >= 0):
        return None
    top = (-linear + np.sqrt(inner)) / (2 * square)
    return float(top * unit + middle[1]), float(np.sqrt(np.mean((terms @ found - 1) ** 2)))
