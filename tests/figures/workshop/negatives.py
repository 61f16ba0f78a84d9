"""What no heads are counted on: busts, lone heads, dogs, chairs, two figures in one object."""

from dataclasses import replace

import numpy as np

from .bodies import make_body
from .heads import make_head
from .recipe import Recipe
from .shapes import Piece, box, ellipsoid, tube


def negative_pieces(recipe: Recipe) -> list[Piece]:
    """Pieces in design space by the recipe's kind."""
    rng = np.random.default_rng((recipe.seed, 9))
    heads = float(rng.uniform(2, 7))
    plan = replace(recipe, heads=heads, head=str(rng.choice(["egg", "ball", "anime"])), neck="thin", pose="a")
    head, body = make_head(plan, rng, heads - 1), make_body(plan, rng)
    whole = [head.shell, *head.inner, *body.pieces]
    if recipe.kind == "head":
        return [head.shell, *head.inner]
    if recipe.kind == "bust":
        torso = next(one for one in body.pieces if one.label == "torso")
        cut = heads - 1 - float(rng.uniform(0.3, 0.6))
        return [head.shell, *head.inner, *[one for one in body.pieces if one.label == "neck"],
                torso.only(torso.middles[:, 2] > cut)]
    if recipe.kind == "pair":
        return [*whole, *[one.moved((2.5 + heads * 0.4, 0, 0)) for one in whole]]
    if recipe.kind == "chair":
        return _chair(rng)
    return _dog(rng)


def _chair(rng: np.random.Generator) -> list[Piece]:
    seat, back = float(rng.uniform(0.7, 1.3)), float(rng.uniform(0.3, 0.9))
    legs = [box("chair", (x, y, seat / 2), (0.06, 0.06, seat / 2)) for x in (-0.5, 0.5) for y in (-0.5, 0.5)]
    return [*legs, box("chair", (0, 0, seat + 0.05), (0.6, 0.6, 0.06)), box("chair", (0, 0.55, seat + back), (0.6, 0.05, back))]


def _dog(rng: np.random.Generator) -> list[Piece]:
    tall = float(rng.uniform(0.8, 1.4))
    legs = [
        tube("dog", [(x, y, tall), (x, y, tall * 0.5), (x, y, 0.08)], [0.12, 0.1, 0.08], 10)
        for x in (-0.2, 0.2) for y in (-0.7, 0.7)
    ]
    return [
        ellipsoid("dog", (0, 0, tall + 0.1), (0.35, 1.05, 0.35), 20), *legs,
        tube("dog", [(0, -0.8, tall + 0.2), (0, -1.1, tall + 0.5)], [0.2, 0.18], 12),
        ellipsoid("dog", (0, -1.2, tall + 0.75), (0.32, 0.36, 0.3), 20),
        ellipsoid("dog", (0, -1.6, tall + 0.65), (0.14, 0.28, 0.12), 14),
        *[ellipsoid("dog", (s * 0.25, -1.15, tall + 1.05), (0.09, 0.05, 0.2), 10) for s in (-1, 1)],
        tube("dog", [(0, 1.0, tall + 0.2), (0, 1.4, tall + 0.6)], [0.07, 0.04], 8),
    ]
