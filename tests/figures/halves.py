"""Invented half models: a coat with a neckline, a hem and an armhole, open along x = 0."""

import numpy as np

from figures.shapes import mesh_of

COLUMNS, ROWS = 24, 20


def half_coat(seed=0, v_neck=0.0, columns=COLUMNS, rows=ROWS, width=0.2, height=0.6):
    """A half tube, mirrored by nobody yet: (mesh, numbers (rows, columns + 1)).

    Column 0 is the centre front and the last one the centre back, both exactly on x = 0.
    ``v_neck``: how far the neckline dips at the centre front, in metres.
    """
    rng = np.random.default_rng(seed)
    turn = np.pi * np.arange(columns + 1) / columns
    across, deep = np.sin(turn), -np.cos(turn)
    across[[0, -1]] = 0.0
    rise = np.arange(rows) / (rows - 1)
    wide = width * (1.0 + 0.1 * np.sin(5 * rise + rng.uniform(0, 6)) - 0.3 * rise)
    points = np.empty((rows, columns + 1, 3))
    points[:, :, 0] = wide[:, None] * across
    points[:, :, 1] = wide[:, None] * deep * 0.8
    front = np.clip(1.0 - across / 0.5, 0.0, 1.0) * (deep < 0)
    points[:, :, 2] = rise[:, None] * (height - v_neck * front)
    number = np.arange(rows * (columns + 1)).reshape(rows, -1)
    faces = [
        [int(number[r, c]), int(number[r, c + 1]), int(number[r + 1, c + 1]), int(number[r + 1, c])]
        for r in range(rows - 1)
        for c in range(columns)
        if not (rows - 6 <= r < rows - 3 and columns // 2 - 2 <= c < columns // 2 + 2)
    ]
    return mesh_of(points.reshape(-1, 3), faces), number
