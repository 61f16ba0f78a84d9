"""What a body wears, holds or stands on."""

import numpy as np

from .bodies import Body
from .heads import Head
from .recipe import Recipe
from .shapes import Piece, box, ellipsoid, ring, sheet, tube, vector


def make_worn(recipe: Recipe, body: Body, head: Head, rng: np.random.Generator) -> list[Piece]:
    """Pieces labelled scarf, worn, beard, tail, cape, prop or plate."""
    joints, pieces = body.joints, []
    neck, hips = joints["neck"], joints["hips"]
    wide = abs(float(joints["leftUpperArm"][0]))
    for name in recipe.extras:
        if name == "scarf":
            size = body.neck_radius * 1.25
            pieces.append(ring("scarf", neck + vector(0, 0, 0.02), (size, size), float(rng.uniform(0.05, 0.11)), 16, material="cloth", bones=("neck", "chest")))
        elif name == "collar":
            rows = [
                _hoop(neck + vector(0, 0, z), body.neck_radius * r, body.neck_radius * r, 14) for z, r in ((-0.06, 1.3), (0.08, 1.9))
            ]
            pieces.append(sheet("worn", rows, material="cloth", bones=("chest",)))
        elif name == "hood":
            pieces.append(ring("worn", neck + vector(0, 0.1, 0.02), (max(wide * 0.7, 0.22), 0.25), 0.1, 14, -1.7, 1.7, material="cloth",
                               bones=("chest",)))
        elif name == "beard":
            ways = np.array([[0, -1, -0.45], [0, -0.7, -0.9]])
            root, chin = head.skull.at(ways / np.linalg.norm(ways, axis=1, keepdims=True)) + head.offset
            tip = chin + vector(0, -0.02, -float(rng.uniform(0.15, 0.4)))
            pieces.append(tube("beard", [root, chin, tip], [(0.2, 0.06), (0.17, 0.09), (0.03, 0.03)], 10, 0.3, material="hair"))
        elif name == "tail":
            out = float(rng.uniform(0.4, 0.9))
            line = [hips + vector(0, 0.1, 0), hips + vector(0, 0.1 + out * 0.5, -0.05), hips + vector(0, 0.1 + out, out * 0.5)]
            pieces.append(tube("tail", line, [0.06, 0.08, 0.05], 8, material="ear", bones=("hips", "tail.1", "tail.2")))
        elif name == "cape":
            across = np.linspace(-1, 1, 7)
            end = float(rng.uniform(-0.04, 0.5)) * hips[2]
            rows = [
                np.column_stack([across * wide * (0.8 + 0.5 * t), np.full(7, 0.26 + 0.2 * t), np.full(7, neck[2] + (end - neck[2]) * t)])
                for t in np.linspace(0, 1, 6)
            ]
            pieces.append(sheet("cape", rows, material="cloth", bones=("chest", "hips")))
        elif name == "skirt":
            low = hips[2] * float(rng.uniform(0.4, 0.75))
            r = abs(float(joints["leftUpperLeg"][0])) + body.thick
            rows = [_hoop([0, 0.03, hips[2] + 0.08], r, r * 0.8, 16), _hoop([0, 0.03, low], r * 1.5, r * 1.3, 16)]
            pieces.append(sheet("worn", rows, material="cloth", bones=("hips",)))
        elif name in ("held", "beside"):
            hand = joints["rightHand"] + (joints["rightFingers"] - joints["rightHand"]) * 0.5
            foot = hand if name == "held" else np.array([-wide - 0.9, -0.2, 0.4 * recipe.heads])
            up, down = float(rng.uniform(0.5, 1.2)), min(float(rng.uniform(0.2, 0.8)), float(foot[2]) * 1.02)
            down = down if name == "held" else float(foot[2])
            pieces.append(box("prop", foot + vector(0, 0, (up - down) / 2), (0.03, 0.03, (up + down) / 2), material="metal",
                              bones=("rightHand",)))
            pieces.append(ellipsoid("prop", foot + vector(0, 0, up), (0.1, 0.1, 0.12), 8, material="metal", bones=("rightHand",)))
        elif name == "plate":
            r = wide + 0.4
            deep = float(rng.uniform(0.04, 0.15))
            pieces.append(tube("plate", [(0, 0, -deep), (0, 0, 0)], [r, r], 24, 0.0, material="metal", bones=("hips",)))
    return pieces


def _hoop(middle: list | np.ndarray, across: float, deep: float, count: int) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, count)
    return np.asarray(middle, float) + np.column_stack([across * np.sin(turn), -deep * np.cos(turn), np.zeros(count)])
