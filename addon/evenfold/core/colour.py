"""Colours as the eye tells them apart: CIE L*a*b*, where equal distances look about equally different."""

import numpy as np

from .figure import FloatArray

TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
"""Rows from linear red, green and blue to X, Y and Z (IEC 61966-2-1)."""
WHITE = TO_XYZ.sum(axis=1)
"""D65, as white of all three."""
KNEE = 6 / 29
"""Below its cube the root gives way to a straight line (CIE 15)."""


def lab(linear: FloatArray) -> FloatArray:
    """(n, 3) L* from 0 to 100, a* and b* of colours (n, 3) in linear light; NaN stays. Formulas: CIE 15, D65."""
    ratio = np.clip(linear, 0.0, 1.0) @ TO_XYZ.T / WHITE
    cube = np.where(ratio > KNEE**3, np.cbrt(ratio), ratio / (3 * KNEE**2) + 4 / 29)
    return np.stack([116 * cube[:, 1] - 16, 500 * (cube[:, 0] - cube[:, 1]), 200 * (cube[:, 1] - cube[:, 2])], axis=1)


def apart(colours: FloatArray, other: FloatArray) -> FloatArray:
    """(n,) how different colours (n, 3) in CIE L*a*b* are from others (3,) or (n, 3): CIE 1976."""
    return np.asarray(np.linalg.norm(colours - other, axis=1))
