"""Colours of a sculpted skin: each triangle is painted as the body it lies nearest to."""

import colorsys

import numpy as np

SHADE = 0.06
"""How far a colour strays from triangle to triangle, as a brush's does."""


def painted_by(rng, skin, bodies):
    """(t, 3) float32 colours in linear light: skin, hair, hat and cloth, drawn anew for each figure."""
    colours = _palette(rng)
    middle = skin.points[skin.triangles].mean(axis=1)
    near = np.argmin([body.distance(*middle.T) for body in bodies], axis=0)
    paint = np.array([colours[_stuff(body.bone, bodies)] for body in bodies])[near]
    paint = paint * rng.uniform(1.0 - SHADE, 1.0 + SHADE, (len(paint), 1))
    return np.clip(paint, 0.0, 1.0).astype(np.float32)


def _palette(rng):
    """Pale skin with dark hair, or brown skin with bright hair; hats and cloth of strong colours. All invented."""
    pale = rng.random() < 0.7
    skin = np.array([1.0, rng.uniform(0.62, 0.78), rng.uniform(0.45, 0.65)]) * (rng.uniform(0.45, 0.8) if pale else rng.uniform(0.08, 0.2))
    hair = np.array(colorsys.hsv_to_rgb(*rng.uniform([0, 0.1, 0.5], [1, 0.9, 1]))) * (0.08 if pale else 0.9)
    hat, cloth = (np.array(colorsys.hsv_to_rgb(rng.uniform(0.25, 0.9), rng.uniform(0.6, 1), rng.uniform(0.2, 0.9))) for _ in range(2))
    return {"skin": skin, "hair": hair, "hat": hat, "cloth": cloth}


def _stuff(bone, bodies):
    if bone in ("hair", "hat"):
        return bone
    if bone.startswith("ear"):
        return "hair" if any(body.bone == "hair" for body in bodies) else "skin"
    return "skin" if bone == "head" or bone.startswith(("neck", "hand", "arm", "forearm")) else "cloth"
