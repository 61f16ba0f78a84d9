"""Invented heads with a chin and a crown that follow from the construction.

In the head's own units the chin is at 0 and the crown at 1; the face looks to -Y. The chin is the
lowest point of the face's outline in the middle before it turns to the neck. A ball-shaped head
that sits straight on the body has its chin where its outline meets the body in front.
"""

import numpy as np

from .mesh import rounds


def _below(shape, rest):
    """Share of the full size at ``rest`` (0 at the widest level, 1 at the bottom)."""
    if shape.form == "ball":
        return (1 - rest**shape.dome) ** (1 / shape.dome)
    return np.cos(rest * np.pi / 2) ** 0.8


def _shares(shape, level):
    """Shares of width, front and back at heights (r,) from 0 to 1."""
    over = np.clip((level - shape.level) / (1 - shape.level), 0, 1)
    top = (1 - over**shape.dome) ** (1 / shape.dome)
    rest = _below(shape, np.clip((shape.level - level) / shape.level, 0, 1))
    high = level > shape.level
    if shape.form == "ball":
        both = np.where(high, top, rest)
        return both, both, both
    corner = np.clip(level, 0, shape.corner)
    setback = shape.corner - np.sqrt(np.maximum(shape.corner**2 - (shape.corner - corner) ** 2, 0))
    wide = np.where(high, top, shape.jaw + (1 - shape.jaw) * rest)
    front = np.where(high, top, shape.chin + (1 - shape.chin) * rest) - setback / shape.front
    back = np.where(high, top, 0.75 + 0.25 * rest)
    return wide, front, back


def rows(shape, around, first=0.0):
    """Levels (r,) from ``first`` to below 1, close together at the chin and on the dome."""
    count = max(around // 3, 3)
    if shape.form == "ball":
        angle = np.linspace(np.arcsin(np.clip(1 - first / shape.level, 0, 1)), 0, count + 1)[:-1]
        low = shape.level * (1 - np.sin(angle))
    else:
        low = np.concatenate([[0.0, 0.25 * shape.corner], np.linspace(shape.corner, shape.level, count)[:-1]])
    dome = shape.level + (1 - shape.level) * np.sin(np.linspace(0, np.pi / 2, count + 2))[:-1]
    return np.concatenate([low, dome])


def skin(shape, level, around, out=None):
    """Rings (r, around, 3) of the head at levels (r,) or (r, around), ``out`` above the skin.

    Bumps and flattening move points level only, so heights stay as constructed.
    """
    sine, cosine = rounds(around, shape.square)
    level = np.asarray(level, float)
    z = np.broadcast_to(level if level.ndim == 2 else level[:, None], (len(level), around)).copy()
    wide, front, back = _shares(shape, z)
    if shape.form != "ball":
        z = z + shape.nape * (1 - z) * (1 - cosine) / 2
    x = shape.wide * wide * sine
    y = np.where(cosine >= 0, -shape.front * front * cosine, -shape.back * back * cosine)
    if out is not None:
        deep = (shape.front + shape.back) / 2
        x, y = x * (1 + out / shape.wide), y * (1 + out / deep)
        above = np.clip((z - shape.level) / (1 - shape.level), 0, 1)
        return np.stack([x, y, z + out * above], axis=2)
    return np.stack(_features(shape, x, y, z, cosine, front), axis=2)


def _features(shape, x, y, z, cosine, front):
    face = np.clip(cosine, 0, 1) * np.clip(front * 4, 0, 1)
    flat = -0.75 * shape.front
    y = np.where((y < flat) & (z > 0.1) & (z < 0.75), flat + (y - flat) * (1 - shape.flat), y)
    y = y - shape.nose * face * np.exp(-((x / 0.05) ** 2) - ((z - shape.eye * 0.75) / 0.06) ** 2)
    y = y - shape.muzzle * face * np.exp(-((x / 0.18) ** 2) - ((z - 0.24) / 0.11) ** 2)
    side = np.sign(x) * shape.cheeks * np.exp(-(((z - 0.24) / 0.12) ** 2)) * np.abs(np.tanh(x * 6))
    return x + side, y, z


def meeting(shape, radius):
    """Level at which a ball-shaped head's outline in front meets a body of that radius."""
    share = min(radius / shape.front, 0.95)
    return shape.level * (1 - (1 - share**shape.dome) ** (1 / shape.dome))


def neck_ring(shape, radius, around, drop=0.0):
    """The ring (around, 3) where the underside meets the neck; ``drop`` lowers and levels it."""
    sine, cosine = rounds(around)
    centre = 0.06 * (shape.nape > 0.08)
    chin_y = shape.front * shape.chin - shape.corner
    ahead = max(chin_y - (radius - centre), 0.0)
    front = np.tan(np.radians(shape.slope)) * ahead
    behind = shape.nape + 0.01
    z = front * (1 + cosine) / 2 + behind * (1 - cosine) / 2
    if drop:
        z = np.full(around, min(front, 0.0) - drop)
    return np.stack([radius * sine, centre - radius * cosine, z], axis=1)


def between(first, last, count):
    """``count`` rings strictly between two rings."""
    share = np.linspace(0, 1, count + 2)[1:-1, None, None]
    return first * (1 - share) + last * share
