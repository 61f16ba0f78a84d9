"""Hair in front of, on and behind a skull; also the cap that stands for an open head."""

import numpy as np

from .heads import Head, under_hair
from .recipe import Recipe
from .shapes import Piece, Points, cone, ellipsoid, outward, quad_ball, sheet, tube, uv_ball, vector


def make_hair(recipe: Recipe, head: Head, rng: np.random.Generator) -> list[Piece]:
    """Pieces in design space, labelled "hair" or "hair_front"; none for a bald head."""
    if recipe.hair == "none":
        return []
    thick = float(rng.uniform(0.02, 0.14) if rng.random() < 0.75 else rng.uniform(0.14, 0.25))
    pieces = [_cap(recipe, head, thick)]
    if recipe.hair == "strands" and recipe.hair_made != "open" and recipe.hair_made != "fused":
        pieces = []
    pieces += _fringe(recipe, head, thick, rng)
    if recipe.hair == "strands":
        pieces += _strands(head, thick, rng)
    elif recipe.hair == "long":
        pieces += _curtain(head, thick, rng)
    elif recipe.hair == "bun":
        pieces += _buns(head, thick, rng)
    elif recipe.hair == "ponytail":
        pieces.append(_tail(head, np.array([0, 1.0, 0.45]), "hair.B", rng))
    elif recipe.hair == "twintails":
        pieces += [_tail(head, np.array([s, 0.2, 0.35]), f"hair.{n}", np.random.default_rng(recipe.seed))
                   for s, n in ((1.0, "L"), (-1.0, "R"))]
    elif recipe.hair == "spikes":
        pieces += _spikes(head, thick, rng)
    return pieces


def _on(head: Head, directions: Points, out: float) -> Points:
    """Places ``out`` beyond the surface in the directions given, in design space."""
    unit = directions / np.linalg.norm(directions, axis=1, keepdims=True)
    plain = head.skull.at(unit)
    away = plain - (0, 0, 0.45)
    return plain + away / np.linalg.norm(away, axis=1, keepdims=True) * out + head.offset


def _cap(recipe: Recipe, head: Head, thick: float) -> Piece:
    """A closed shell: an outer and an inner surface, the inner one just above the skull."""
    directions, faces = quad_ball(6) if recipe.style in ("lowpoly", "cage", "skin") else uv_ball(28, 20)
    inner = Piece("hair", _on(head, directions, 0.004), faces)
    outer = Piece("hair", _on(head, directions, thick), faces, "hair")
    keep = under_hair(inner.middles - head.offset - (0, 0, -0.02))
    a, b = outer.only(keep), inner.only(keep)
    number = len(a.points)
    edges: dict[tuple[int, int], int] = {}
    for face in a.faces:
        for u, v in zip(face, face[1:] + face[:1], strict=True):
            edges[u, v] = 1
    rim = [(u, v) for u, v in edges if (v, u) not in edges]
    walls = [(v, u, u + number, v + number) for u, v in rim]
    back = [tuple(c + number for c in face[::-1]) for face in b.faces]
    return outward(Piece("hair", np.concatenate([a.points, b.points]), (*a.faces, *back, *walls), "hair"))


def _fringe(recipe: Recipe, head: Head, thick: float, rng: np.random.Generator) -> list[Piece]:
    pieces = []
    count = int(rng.integers(3, 8))
    down = float(rng.uniform(0.1, 0.5))
    for k in range(count):
        x = (k - (count - 1) / 2) / count * 1.3
        ways = np.array([[x, -1, 1.1], [x, -1, 0.6], [x * 1.05, -1, 0.6 - down]])
        line = _on(head, ways, thick * 0.7 + 0.01)
        size = 0.5 / count + 0.02
        pieces.append(tube("hair_front", line, [(size, 0.03), (size, 0.03), (size * 0.2, 0.01)], 6, 0.2, material="hair",
                           bones=("head", f"hair_front.{k}.1")))
    return pieces


def _strands(head: Head, thick: float, rng: np.random.Generator) -> list[Piece]:
    pieces = []
    count = int(rng.integers(24, 60))
    long = float(rng.uniform(0.1, 0.8))
    cards = rng.random() < 0.5
    for k in range(count):
        turn = 2 * np.pi * k / count + float(rng.normal(0, 0.1))
        if abs(np.sin(turn / 2)) < 0.35:
            continue
        out = np.array([np.sin(turn), -np.cos(turn), 0.0])
        ways = np.array([out * 0.15 + vector(0, 0.15, 1), out * 0.8 + vector(0, 0.1, 0.8), out + vector(0, 0.1, 0.0)])
        line = _on(head, ways, thick * float(rng.uniform(0.6, 1.1)) + 0.01)
        tip = line[-1] + vector(0, 0, -long * float(rng.uniform(0.8, 1.1))) + out * 0.05
        line = np.concatenate([line, [tip]])
        across = np.cross(out, [0, 0, 1.0]) * 0.11
        if cards:
            wide = [0.7, 1.1, 1.0, 0.15]
            pieces.append(sheet("hair", [np.array([p - across * w, p, p + across * w]) for p, w in zip(line, wide, strict=True)],
                                material="hair"))
        else:
            pieces.append(tube("hair", line, [0.08, 0.11, 0.09, 0.01], 6, 0.1, material="hair"))
    return pieces


def _curtain(head: Head, thick: float, rng: np.random.Generator) -> list[Piece]:
    """Long hair down the back, and a lock hanging past the chin on either side of the face."""
    back = _on(head, np.array([[0.0, 1.0, 0.1]]), thick * 0.6)[0]
    long = float(rng.uniform(0.5, max(0.6, head.offset[2] * 0.9)))
    wide = head.skull.width * float(rng.uniform(0.35, 0.55))
    levels = back + np.array([[0, -0.05, 0.1], [0, 0.02, -long * 0.4], [0, 0.05, -long]])
    pieces = [tube("hair", levels, [(wide, 0.1), (wide * 1.1, 0.12), (wide * 0.6, 0.03)], 12, 0.3, material="hair",
                   bones=("head", "hair_back.1", "hair_back.2"))]
    for sign, side in ((1, "L"), (-1, "R")):
        root = _on(head, np.array([[sign * 1.0, -0.5, 0.5]]), thick * 0.6)[0]
        line = [root, root + vector(sign * 0.03, -0.03, -0.4), root + vector(0, -0.03, -float(rng.uniform(0.7, 1.1)))]
        pieces.append(tube("hair", line, [0.06, 0.08, 0.02], 6, 0.2, material="hair", bones=("head", f"lock.{side}.1")))
    return pieces


def _buns(head: Head, thick: float, rng: np.random.Generator) -> list[Piece]:
    size = float(rng.uniform(0.12, 0.25))
    way = np.array([[0.0, float(rng.uniform(0.1, 1.2)), 1.0]])
    if rng.random() < 0.4:
        pair = [np.array([[s * 0.8, 0.3, 1.0]]) for s in (-1, 1)]
        return [ellipsoid("hair", _on(head, one, thick + size * 0.6)[0], (size * 0.8,) * 3, 12, material="hair") for one in pair]
    return [ellipsoid("hair", _on(head, way, thick + size * 0.6)[0], (size,) * 3, 12, material="hair")]


def _tail(head: Head, way: Points, chain: str, rng: np.random.Generator) -> Piece:
    start = _on(head, way[None], 0.02)[0]
    out = way / np.linalg.norm(way)
    long = float(rng.uniform(0.3, min(1.4, 0.3 + head.offset[2])))
    line = [start, start + out * 0.18 + vector(0, 0, 0.08), start + out * 0.28 - (0, 0, long * 0.4), start + out * 0.25 - (0, 0, long)]
    return tube("hair", line, [0.06, 0.14, 0.12, 0.02], 8, 0.2, material="hair", bones=("head", f"{chain}.1", f"{chain}.2"))


def _spikes(head: Head, thick: float, rng: np.random.Generator) -> list[Piece]:
    pieces = []
    for _ in range(int(rng.integers(8, 20))):
        way = rng.normal(0, 1, 3)
        way[2] = abs(way[2]) + 0.2
        if way[1] < -0.3:
            way[1] *= -1
        foot, tip = _on(head, np.array([way, way]), 0.0)[0], _on(head, way[None], thick + float(rng.uniform(0.1, 0.4)))[0]
        pieces.append(cone("hair", foot, tip, float(rng.uniform(0.08, 0.16)), material="hair"))
    return pieces
