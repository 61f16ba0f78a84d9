"""How a figure comes to stand in the scene: what is in its data and what in its objects."""

from dataclasses import dataclass

import numpy as np

from .recipe import Recipe
from .shapes import Points, vector

Matrix4 = Points


@dataclass(frozen=True)
class Placing:
    """Design space to world is ``outer @ data``: ``data`` is baked, ``outer`` is the objects' own.

    ``unit`` is the scene's metres per unit; ``empties`` how many empties carry the figure.
    """

    data: Matrix4
    outer: Matrix4
    unit: float = 1.0
    empties: int = 0

    @property
    def world(self) -> Matrix4:
        return self.outer @ self.data


def scaled(factor: float) -> Matrix4:
    return np.diag([factor, factor, factor, 1.0])


def turned(axis: int, angle: float) -> Matrix4:
    matrix = np.eye(4)
    a, b = (axis + 1) % 3, (axis + 2) % 3
    matrix[a, a] = matrix[b, b] = np.cos(angle)
    matrix[a, b], matrix[b, a] = -np.sin(angle), np.sin(angle)
    return matrix


def shifted(offset: "tuple[float, float, float] | Points") -> Matrix4:
    matrix = np.eye(4)
    matrix[:3, 3] = offset
    return matrix


def through(matrix: Matrix4, points: Points) -> Points:
    return points @ matrix[:3, :3].T + matrix[:3, 3]


def place(recipe: Recipe, rng: np.random.Generator) -> Placing:
    unit = 0.01 if recipe.unit == "cm" else 1.0
    size = recipe.size / unit
    lift = {"floating": float(rng.uniform(0.1, 0.6))}.get(recipe.stance, 0.0) * size
    away = np.array([*rng.uniform(-6, 6, 2), 0.0]) * size if rng.random() < 0.25 else np.zeros(3)
    stand = shifted(away + vector(0, 0, lift)) @ turned(2, recipe.facing)
    mode = "object" if recipe.mirror and recipe.placing == "applied" else recipe.placing
    baked = size * 100 if recipe.unit == "scaled" else size
    rest = scaled(size / baked)
    if mode == "applied":
        return Placing(stand @ scaled(size), np.eye(4), unit)
    if mode == "lying":
        back = turned(0, np.pi / 2)
        return Placing(np.linalg.inv(back) @ scaled(baked), stand @ rest @ back, unit)
    if mode == "empties":
        return Placing(scaled(baked), stand @ rest, unit, int(rng.integers(1, 3)))
    return Placing(scaled(baked), stand @ rest, unit)
