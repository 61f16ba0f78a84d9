"""What grows on or is put on a head: ears, horns, hats, helmets, headphones, glasses."""

import numpy as np

from .heads import Head
from .recipe import Recipe
from .shapes import Piece, Points, cone, ellipsoid, ring, tube, uv_ball, vector


def _on(head: Head, way: tuple[float, float, float], out: float = 0.0) -> Points:
    unit = np.array([way], float) / np.linalg.norm(way)
    return head.skull.at(unit)[0] + unit[0] * out + head.offset


def make_ears(recipe: Recipe, head: Head, rng: np.random.Generator) -> list[Piece]:
    pieces: list[Piece] = []
    detail = 6 if recipe.style == "lowpoly" else 10
    size = float(rng.uniform(0.8, 1.3))
    for sign, side in ((1, "L"), (-1, "R")):
        if recipe.ears == "human":
            pieces.append(ellipsoid("ear", _on(head, (sign, 0.05, -0.1)), (0.05 * size, 0.06, 0.11 * size), detail))
        elif recipe.ears == "cat":
            foot = _on(head, (sign * 0.65, 0.1, 1.0), -0.06)
            pieces.append(cone("ear", foot, foot + np.array([sign * 0.1, 0, 0.36 * size]), 0.15, detail, material="ear",
                               bones=("head", f"ear.{side}.1")))
        elif recipe.ears == "rabbit":
            foot = _on(head, (sign * 0.4, 0.1, 1.0), -0.05)
            line = [foot + np.array([sign * 0.05, 0.0, 0.3 * size]) * k for k in range(4)]
            pieces.append(tube("ear", line, [0.07, 0.11, 0.11, 0.05], detail, material="ear",
                               bones=("head", f"ear.{side}.1", f"ear.{side}.2")))
        elif recipe.ears == "floppy":
            foot = _on(head, (sign * 0.7, 0.1, 0.9), -0.03)
            line = [foot, foot + np.array([sign * 0.18, 0, 0.05]), foot + np.array([sign * 0.26, 0, -0.3 * size]),
                    foot + np.array([sign * 0.24, 0, -0.7 * size])]
            pieces.append(tube("ear", line, [0.07, 0.1, 0.12, 0.06], detail, material="ear",
                               bones=("head", f"ear.{side}.1", f"ear.{side}.2")))
        elif recipe.ears == "horns":
            foot = _on(head, (sign * 0.5, -0.3, 1.0), -0.05)
            line = [foot, foot + np.array([sign * 0.1, 0, 0.15]), foot + np.array([sign * 0.12, 0.05, 0.35 * size])]
            pieces.append(tube("ear", line, [0.08, 0.06, 0.01], detail, 0.0, material="metal"))
    return pieces


def make_hat(recipe: Recipe, head: Head, rng: np.random.Generator) -> list[Piece]:
    skull, top = head.skull, head.offset + vector(0, 0, 1.0)
    wide, deep = skull.width / 2, skull.depth / 2
    if recipe.hat == "none":
        return []
    if recipe.hat == "witch":
        brim = tube("hat", [top - (0, 0, 0.2), top - (0, 0, 0.16)], [(wide * 1.6, deep * 1.6)] * 2, 16, 0.0, material="cloth")
        tall = float(rng.uniform(0.4, 1.0))
        peak = tube("hat", [top - (0, 0, 0.18), top + vector(0, 0.05, tall * 0.4), top + vector(0.1, 0.2, tall)],
                    [(wide * 1.08, deep * 1.08), (wide * 0.5, deep * 0.5), (0.02, 0.02)], 16, 0.0, material="cloth")
        return [brim, peak]
    if recipe.hat == "cap":
        directions, faces = uv_ball(20, 14)
        shell = Piece("hat", skull.at(directions) * (1.08, 1.08, 1.06) + head.offset, faces, "cloth")
        crown = shell.only(shell.middles[:, 2] > head.offset[2] + 0.7)
        peak = ellipsoid("hat", head.offset + vector(0, -deep - 0.12, 0.72), (wide * 0.6, 0.22, 0.02), 10, material="cloth")
        return [crown, peak]
    if recipe.hat == "hood":
        directions, faces = uv_ball(24, 18)
        points = (skull.at(directions) - (0, 0, 0.5)) * float(rng.uniform(1.12, 1.3)) + vector(0, 0.03, 0.5) + head.offset
        shell = Piece("worn", points, faces, "cloth", ("head",))
        local = shell.middles - head.offset
        return [shell.only((local[:, 1] > 0) | (local[:, 2] > 0.8))]
    if recipe.hat == "helmet":
        directions, faces = uv_ball(20, 14)
        out = float(rng.uniform(1.1, 1.25))
        points = (skull.at(directions) - (0, 0, 0.5)) * out + vector(0, 0, 0.52) + head.offset
        shell = Piece("hat", points, faces, "metal")
        local = shell.middles - head.offset
        return [shell.only((local[:, 2] > 0.62) | ((local[:, 1] > 0.05) & (local[:, 2] > 0.25)))]
    if recipe.hat == "headphones":
        middle = head.offset + vector(0, 0.03, 0.5)
        band = ring("hat", middle, (wide + 0.06, 0.58), 0.04, 16, 0.1, np.pi - 0.1, upright=True, material="metal")
        cups = [ellipsoid("hat", middle + vector(s * (wide + 0.03), 0, -0.02), (0.07, 0.14, 0.16), 10, material="metal") for s in (-1, 1)]
        return [band, *cups]
    height = skull.eye_height
    front = float(_on(head, (0.3, -1.0, (height - 0.5) * 2))[1]) - 0.04
    return [ring("hat", np.array([s * wide * 0.45, front, head.offset[2] + height]), (0.13, 0.13), 0.015, 12, upright=True,
                 material="metal") for s in (-1, 1)]
