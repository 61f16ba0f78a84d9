"""Heads one unit high, by kind: a bare skull shell, and what sits in its face."""

from dataclasses import dataclass, replace

import numpy as np

from .recipe import Recipe
from .shapes import Piece, Points, ellipsoid, outward, quad_ball, uv_ball, vector

WIDTHS = {"ball": (0.95, 1.25), "box": (0.9, 1.3), "egg": (0.7, 1.0), "anime": (0.85, 1.15), "muzzle": (0.85, 1.1),
          "mouth": (0.75, 1.0)}
NARROWED = {"ball": (0.0, 0.1), "box": (0.0, 0.1), "egg": (0.25, 0.5), "anime": (0.55, 0.8), "muzzle": (0.15, 0.4),
            "mouth": (0.2, 0.4)}


@dataclass(frozen=True)
class Skull:
    """The shape of a head as a function of direction; places are in head units, chin near z = 0."""

    kind: str
    width: float
    depth: float
    power: float
    narrowed: float
    back: float
    forward: float
    sockets: float
    muzzle: float
    mouth: float
    eye_height: float

    def at(self, directions: Points) -> Points:
        """(n, 3) points of the surface for (n, 3) unit directions."""
        power = np.where(directions[:, 2] > 0, max(self.power, 2.5) if self.kind == "anime" else self.power, self.power)
        size = (np.abs(directions) ** power[:, None]).sum(axis=1) ** (1 / power)
        p = directions / size[:, None] * (self.width / 2, self.depth / 2, 0.5)
        low = np.clip((0.05 - p[:, 2]) / 0.55, 0, 1)
        p[:, 0] *= 1 - self.narrowed * low**1.4
        p[:, 1] = np.where(p[:, 1] > 0, p[:, 1] * (1 - self.back * low), p[:, 1])
        p[:, 1] -= self.forward * self.depth / 2 * low**1.5
        front = directions[:, 1] < 0
        for side in (-1, 1):
            away = ((p[:, 0] - side * self.width * 0.24) / 0.13) ** 2 + ((p[:, 2] + 0.5 - self.eye_height) / 0.12) ** 2
            p[:, 1] += np.where(front, self.sockets * np.exp(-away), 0)
        away = (p[:, 0] / 0.24) ** 2 + ((p[:, 2] + 0.5 - 0.26) / 0.17) ** 2
        p[:, 1] -= np.where(front, self.muzzle * np.exp(-away), 0)
        away = (p[:, 0] / 0.12) ** 4 + ((p[:, 2] + 0.5 - 0.2) / 0.04) ** 4
        p[:, 1] += np.where(front, self.mouth * np.exp(-away), 0)
        return p + vector(0, 0, 0.5)


@dataclass(frozen=True)
class Head:
    skull: Skull
    shell: Piece
    inner: tuple[Piece, ...]
    offset: Points


def _skull(recipe: Recipe, rng: np.random.Generator) -> Skull:
    kind = recipe.head
    round_kind = kind in ("ball", "box")
    return Skull(
        kind, float(rng.uniform(*WIDTHS[kind])), float(rng.uniform(0.85, 1.05)),
        float(rng.uniform(3.5, 6)) if kind == "box" else float(rng.uniform(2.0, 2.4)),
        float(rng.uniform(*NARROWED[kind])),
        float(rng.uniform(0.0, 0.25) if round_kind else rng.uniform(0.15, 0.45)),
        float(rng.uniform(0.2, 0.45) if kind == "ball" else rng.uniform(0.05, 0.2) if kind == "box" else
              rng.uniform(0.25, 0.5)),
        float(rng.uniform(0.03, 0.08)) if kind == "anime" else float(rng.uniform(0, 0.03)),
        float(rng.uniform(0.1, 0.28)) if kind == "muzzle" else 0.0,
        float(rng.uniform(0.1, 0.2)) if kind == "mouth" else 0.0,
        float(rng.uniform(0.33, 0.5)),
    )


def _net(recipe: Recipe, rng: np.random.Generator) -> tuple[Points, tuple[tuple[int, ...], ...]]:
    if recipe.style == "lowpoly":
        return uv_ball(12, 9) if rng.random() < 0.5 else quad_ball(4)
    if recipe.style in ("cage", "skin"):
        return quad_ball(int(rng.choice([4, 6])))
    if recipe.style in ("remesh", "sculpt"):
        return uv_ball(56, 42)
    return uv_ball(32, 22) if rng.random() < 0.5 else quad_ball(12)


def make_head(recipe: Recipe, rng: np.random.Generator, chin: float) -> Head:
    """The head of a figure whose chin stands near height ``chin``."""
    skull = _skull(recipe, rng)
    directions, faces = _net(recipe, rng)
    offset = np.array([0.0, float(rng.uniform(-0.08, 0.02)), chin])
    shell = outward(Piece("head", skull.at(directions) + offset, faces))
    return Head(skull, shell, tuple(one.moved(offset) for one in _inner(recipe, skull, rng)), offset)


def _inner(recipe: Recipe, skull: Skull, rng: np.random.Generator) -> list[Piece]:
    """Eyes, teeth and tongue in head units, chin at z = 0."""
    pieces = []
    if recipe.style != "lowpoly" or rng.random() < 0.5:
        out = np.array([[skull.width * 0.45, -0.8, (skull.eye_height - 0.5) * 1.5]])
        place = skull.at(out / np.linalg.norm(out))[0]
        size = float(rng.uniform(0.07, 0.14))
        for side, name in ((1, "leftEye"), (-1, "rightEye")):
            middle = place * (side, 1, 1) + vector(0, 0.03, 0)
            middle[2] = max(middle[2], size * 1.4)
            pieces.append(ellipsoid("eye", middle, (size, 0.05, size * 1.3), 10, material="eye", bones=("head", name)))
    if recipe.head == "mouth":
        front = -skull.depth / 2 * (1 + skull.forward * 0.6)
        pieces += [
            ellipsoid("teeth", (0, front + 0.14, z), (0.08, 0.05, 0.018), 8, 4.0, material="mouth")
            for z in (0.235, 0.175)
        ]
        pieces.append(ellipsoid("tongue", (0, front + 0.19, 0.19), (0.06, 0.08, 0.015), 8, material="mouth"))
    return pieces


def with_face(head: Head, recipe: Recipe) -> list[Piece]:
    """The shell as one piece, or cut into the face and the rest of it."""
    shell = replace(head.shell, material="skin")
    if recipe.face == "plain":
        return [shell]
    local = shell.middles - head.offset
    face = (local[:, 1] < -0.12) & (local[:, 2] < 0.72)
    return [replace(shell.only(face), label="face", material="face"), replace(shell.only(~face))]


def under_hair(local: Points) -> np.ndarray:
    """(n,) bool: which places of the head, in head units with chin at z = 0, hair may cover."""
    line = np.where(local[:, 1] < 0, 0.62 - 0.25 * local[:, 1], 0.62 - 0.55 * np.clip(local[:, 1], 0, 0.6))
    return local[:, 2] > line

