"""What invented figures wear on the head or grow there: hair, ears, horns, hats. Units of the head."""

import numpy as np

from .head import skin
from .mesh import at, ball, crescent, cylinder, joined, loft, tube


def cap(shape, thick, around, hidden, front=0.78, back=0.4):
    """A shell over the skull, ``thick`` at the top; its underside is the skull's surface or below.

    Where the skull is not modelled (``hidden``) the underside lies exactly on it.
    """
    line = front + (back - front) * (1 - np.cos(np.arange(around) * 2 * np.pi / around)) / 2
    step = np.sin(np.linspace(0, np.pi / 2, max(around // 3, 4) + 1))[:-1, None]
    level = line + (1 - line) * step
    swell = 1 + 0.12 * np.sin(5 * np.arange(around) * 2 * np.pi / around) * (step < 0.9)
    outer = skin(shape, level, around, thick * (0.4 + 0.6 * np.minimum(step * 2, 1)) * swell)
    under = 0.0 if hidden else -0.012
    inner = skin(shape, level, around, np.full_like(level, under))[::-1]
    return loft([*inner, *outer], [0, 0, 1 + under], [0, 0, 1 + thick])


def _on_skull(shape, side, forward, level):
    """A point on the head's side at a level; ``side`` and ``forward`` from -1 to 1."""
    angle = np.arctan2(side, forward)
    return skin(shape, np.array([level]), 360, 0.0)[0][round(np.degrees(angle)) % 360]


def _pair(make):
    """The form and its mirror image."""
    points, faces = make
    return joined([(points, faces), (points * [-1, 1, 1], faces[:, ::-1])])


def _lock(points, radii, around=8, flat=1.0, across=(0.0, 1.0, 0.0)):
    way = np.asarray(points, float)
    share = np.linspace(0, len(way) - 1, 7)
    path = np.stack([np.interp(share, range(len(way)), way[:, axis]) for axis in range(3)], axis=1)
    return tube(path, np.interp(share, range(len(way)), radii), around, flat, across)[:2]


def _size_at(shape, level, out=0.0):
    ring = skin(shape, np.array([level]), 4, out)[0]
    return np.array([ring[1, 0], (ring[2, 1] - ring[0, 1]) / 2, (ring[2, 1] + ring[0, 1]) / 2])


def fringe(shape, size, around, rng):
    levels = np.linspace(0.9, 0.62 - 0.12 * size, 5)[::-1]
    inner = [_size_at(shape, z) * [0.97, 0.97, 1] for z in levels]
    outer = [_size_at(shape, z) * [1, 1, 1] + [0.06, 0.06, 0] for z in levels]
    return crescent(levels, inner, outer, 1.1, 0.0, max(around // 2, 6))


def long_hair(shape, size, around, rng):
    levels = np.concatenate([np.linspace(-0.15 - 1.2 * size, 0.3, 5), [0.5, 0.7]])
    full = _size_at(shape, 0.5)
    inner = [full * [0.98, 0.9, 1]] * len(levels)
    outer = [full * [1, 1, 1] + [0.08, 0.1, 0]] * len(levels)
    return crescent(levels, inner, outer, 1.9, np.pi, max(around // 2, 8))


def spikes(shape, size, around, rng):
    made = []
    for _ in range(rng.integers(3, 9)):
        angle, level = rng.uniform(-np.pi, np.pi), rng.uniform(0.7, 0.99)
        foot = _on_skull(shape, np.sin(angle), np.cos(angle), level)
        way = (foot - [0, 0.1, 0.45]) * [1, 1, 1.2]
        way = way / np.linalg.norm(way) * rng.uniform(0.15, 0.2 + 0.2 * size)
        made.append(_lock([foot - 0.3 * way, foot, foot + way], [0.09, 0.09, 0.004], 6))
    return joined(made)


def bun(shape, size, around, rng):
    radius = 0.12 + 0.1 * size
    back = rng.uniform(0, 1)
    centre = [0, 0.85 * back * shape.back, 1 + 0.6 * radius - 0.35 * back]
    return ball(centre, [radius] * 3, 12)


def ponytail(shape, size, around, rng):
    start, end = shape.back * 0.9, -0.3 - 0.8 * size
    return _lock([[0, start, 0.8], [0, start + 0.25, 0.85], [0, start + 0.3, 0.3], [0, start + 0.15, end]], [0.06, 0.1, 0.13, 0.01])


def side_locks(shape, size, around, rng):
    x = shape.wide
    return _pair(_lock([[0.9 * x, -0.15, 0.75], [1.05 * x, -0.2, 0.4], [0.95 * x, -0.22, -0.1 - 0.4 * size]], [0.05, 0.07, 0.01], 8, 0.6))


def twin_tails(shape, size, around, rng):
    x = shape.wide
    return _pair(_lock([[0.8 * x, 0.1, 0.85], [1.2 * x, 0.1, 0.95], [1.5 * x, 0.1, 0.4], [1.3 * x, 0.1, -0.3 - 0.9 * size]], [0.06, 0.1, 0.13, 0.01]))


def ears_up(shape, size, around, rng):
    out = rng.uniform(0.35, 0.8)
    foot = _on_skull(shape, 1, 0, 0.97 - 0.22 * out) * [1, 0, 1]
    tip = foot + at(0.1 + 0.1 * out, 0, 0.2 + 0.5 * size)
    mid = (foot + tip) / 2 + [0.03, 0, 0]
    broad = rng.uniform(0.1, 0.16)
    return _pair(_lock([foot - [0.03, 0, 0.12], foot, mid, tip], [broad, broad, 0.8 * broad, 0.01], 8, 0.4))


def ears_floppy(shape, size, around, rng):
    x = shape.wide
    foot = _on_skull(shape, 1, 0, 0.85)
    return _pair(_lock([foot - [0.05, 0, 0.02], foot + at(0.1, 0, 0.04), [1.15 * x, 0, 0.45], [1.15 * x, -0.02, -0.05 - 0.4 * size]], [0.08, 0.1, 0.14, 0.03], 8, 0.4))


def ears_human(shape, size, around, rng):
    side = _on_skull(shape, 1, 0, 0.45)
    return _pair(ball(side + at(0, 0.03, 0), [0.03 + 0.03 * size, 0.06, 0.1], 8))


def horns(shape, size, around, rng):
    foot = _on_skull(shape, 0.8, 0.6, 0.88)
    return _pair(_lock([foot - [0.02, 0, 0.06], foot + at(0.05, -0.03, 0.1), foot + at(0.05, 0.02, 0.25 + 0.3 * size)], [0.06, 0.05, 0.004]))


def _deep(shape):
    return (shape.front + shape.back) / 2


def hat_brim(shape, size, around, rng):
    a, b, centre = shape.wide, _deep(shape), (shape.back - shape.front) / 2
    reach = 0.15 + 0.35 * size
    points, faces = cylinder(
        [(0.80, a + reach, b + reach), (0.83, a + reach, b + reach), (0.84, a + 0.03, b + 0.03), (1.05 + 0.3 * size, 0.85 * a, 0.85 * b)], max(around, 12)
    )
    return points + at(0, centre, 0), faces


def hat_tall(shape, size, around, rng):
    a, b, centre = shape.wide, _deep(shape), (shape.back - shape.front) / 2
    levels = [(0.78, a + 0.25, b + 0.25), (0.82, a + 0.05, b + 0.05), (1.2, 0.6 * a, 0.6 * b), (1.5 + 0.7 * size, 0.02, 0.02)]
    points, faces = cylinder(levels, max(around, 12))
    return points + at(0, centre, 0), faces


def cap_close(shape, size, around, rng):
    return cap(shape, 0.12 + 0.06 * size, around, False, 0.74, 0.6)


def coronet(shape, size, around, rng):
    bottom = _size_at(shape, 0.9, 0.01)
    ring = crescent([0.86, 1.0], [bottom, bottom], [bottom + at(0.04, 0.04, 0)] * 2, 3.1, np.pi, 24)
    teeth = []
    for angle in np.arange(6) * np.pi / 3:
        foot = np.array([np.sin(angle) * bottom[0], bottom[2] - np.cos(angle) * bottom[1], 0.98])
        teeth.append(_lock([foot, foot + at(0, 0, 0.12 + 0.2 * size)], [0.05, 0.003], 6))
    return joined([ring, *teeth])


def feeler(shape, size, around, rng):
    tip = np.array([0, 0.05, 1.25 + 0.3 * size])
    return joined([_lock([[0, 0, 0.97], [0, -0.03, 1.1], tip], [0.02, 0.015, 0.012], 6), ball(tip, [0.05] * 3, 8)])


def headphones(shape, size, around, rng):
    """A band over the top and a cup at each side."""
    angle = np.linspace(-0.5 * np.pi, 0.5 * np.pi, 13)
    side = abs(_on_skull(shape, 1, 0, 0.5)[0]) + 0.05
    lift = 1.03 + 0.05 * size - 0.5
    band = np.stack([side * np.sin(angle), np.zeros(13), 0.5 + lift * np.cos(angle)], axis=1)
    cups = _pair(ball([side, 0, 0.48], [0.07, 0.14, 0.14], 10))
    return joined([tube(band, np.full(13, 0.025), 6)[:2], cups])


def ribbon(shape, size, around, rng):
    foot = _on_skull(shape, 0.3 * rng.uniform(-1, 1), -0.3, 0.97)
    wide = 0.15 + 0.2 * size
    wings = [_lock([foot, foot + at(sign * wide, 0, 0.5 * wide), foot + at(sign * wide, 0, 0.1 * wide)], [0.03, 0.09, 0.02], 6, 0.4) for sign in (1, -1)]
    return joined([*wings, ball(foot, [0.05, 0.05, 0.05], 8)])


def halo(shape, size, around, rng):
    angle = np.linspace(0, 1.98 * np.pi, 24)
    radius = 0.2 + 0.15 * size
    path = np.stack([radius * np.sin(angle), radius * np.cos(angle), np.full(24, 1.12 + 0.2 * size)], axis=1)
    return tube(path, np.full(24, 0.02), 6, 1.0, (0, 0, 1))[:2]


def glasses(shape, size, around, rng):
    front = skin(shape, np.array([shape.eye]), 360)[0]
    left = front[25] - [0, 0.05, 0]
    arms = _lock([left + at(0.06, 0, 0), front[60] + at(0.03, 0, 0), front[90] + at(0.02, 0.1, 0)], [0.012] * 3, 6)
    return _pair(joined([ball(left, [0.09, 0.012, 0.08 + 0.04 * size], 10), arms]))


def beard(shape, size, around, rng):
    """Hangs from the chin, in front of it and below."""
    chin = _on_skull(shape, 0, 1, 0.08)[1]
    return _lock([[0, chin + 0.05, 0.12], [0, chin - 0.02, 0.04], [0, chin - 0.02, -0.08], [0, chin + 0.02, -0.15 - 0.4 * size]], [0.08, 0.13, 0.1, 0.01], 8, 0.6)


def hair_cap(shape, size, around, rng, hidden=False):
    return cap(shape, size, around, hidden, rng.uniform(0.72, 0.82), rng.uniform(0.1, 0.5))


def drawn_out(shape, points, kind, size):
    """Head points (n, 3) with ears or a quiff drawn out of the skin itself; the crown stays."""
    for sign in (1, -1) if kind == "ears drawn out" else (0,):
        foot = _on_skull(shape, sign, 0 if sign else 1, 0.82)
        way = at(0.35 * sign, 0 if sign else -0.5, 1)
        near = np.clip(1 - np.linalg.norm(points - foot, axis=1) / 0.21, 0, 1)
        points = points + (near**1.4)[:, None] * way * (0.3 + 0.4 * size)
    return points


ON_HEAD = {
    "hair cap": hair_cap, "fringe": fringe, "long hair": long_hair, "spikes": spikes, "bun": bun, "ponytail": ponytail,
    "side locks": side_locks, "twin tails": twin_tails, "ears up": ears_up, "ears floppy": ears_floppy,
    "ears human": ears_human, "horns": horns, "hat brim": hat_brim, "hat tall": hat_tall, "cap close": cap_close,
    "coronet": coronet, "feeler": feeler, "headphones": headphones, "ribbon": ribbon, "halo": halo, "glasses": glasses, "beard": beard,
}
