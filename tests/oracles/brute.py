"""Slow, obvious answers to compare with."""

import numpy as np


def mutual_nearest(points, tolerance):
    """Pairs (i, j), i < j, each the only nearest of the other's mirror image, within tolerance.

    ``points`` (n, 3) with the signed distance from the plane in column 0.
    """
    image = points * [-1.0, 1.0, 1.0]
    apart = np.linalg.norm(image[:, None] - points[None], axis=2)
    best = apart.argmin(axis=1)
    found = set()
    for one, other in enumerate(best):
        if one < other and best[other] == one and apart[one, other] <= tolerance:
            found.add((one, int(other)))
    return found
