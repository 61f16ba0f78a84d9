"""Whole invented figures from recipes, with the true heights of their landmarks."""

from dataclasses import dataclass

import numpy as np
from evenfold.core.figure import Armature, Bone, Figure, Part, Surface, Weights, transform_points

from . import rig
from .body import Build, arms, legs, sizes, trunk_and_head
from .head import neck_ring, skin
from .mesh import Piece, at, ball, cylinder, joined
from .recipe import Recipe, draw
from .worn import worn_pieces


@dataclass(frozen=True)
class Built:
    """``truth``: metres above the sole, by landmark; ``crown``, ``chin``, ``sole`` (3,) in world.

    Crown: top of the skull without anything grown or worn (where the skull is not modelled, the
    underside of the hair). Chin: lowest point of the face's outline in the middle before it turns
    to the neck; for a ball on a body, where they meet in front. Sole: lowest point of the
    standing foot or boot. "shoulder", "knee" and the like are joints as built.
    """

    figure: Figure
    truth: dict[str, float]
    crown: np.ndarray
    chin: np.ndarray
    sole: np.ndarray
    recipe: Recipe
    seed: int

    @property
    def heads(self) -> float:
        return self.truth["crown"] / (self.truth["crown"] - self.truth["chin"])


def _eyes(build: Build, recipe: Recipe) -> tuple[list[Piece], np.ndarray]:
    ring = skin(recipe.head, np.array([recipe.head.eye]), 360)[0]
    spot = build.place(ring[25])
    made = []
    for side, sign in (("L", 1), ("R", -1)):
        points, faces = ball((spot + at(0, 0.03, 0)) * [sign, 1, 1], [0.06, 0.045, 0.08], 8)
        made.append(Piece(f"Eye.{side}", points, faces, f"eye.{side}", np.zeros(len(points)), "head"))
    if recipe.extra_bones:
        points, faces = ball(build.place([0, -0.55 * recipe.head.front, 0.2]), [0.12, 0.12, 0.05], 8)
        made.append(Piece("Mouth", points, faces[:, ::-1], "head", np.zeros(len(points)), "head"))
    return made, spot


def _places(build: Build, limbs: dict, eye: np.ndarray, rng) -> dict:
    """Rest bones by role where a rigger would put them."""
    recipe = build.recipe
    ring = build.place(neck_ring(recipe.head, build.radius, 8))
    up = float(rng.uniform(0.0, 0.12)) if not recipe.neck else recipe.head_bone_off
    start = ring.mean(axis=0) + at(0, 0.02, up)
    found = {
        "root": np.zeros(3), "hips": np.array([0, 0, build.crotch + 0.1 * build.trunk]),
        "spine": np.array([0, 0, build.crotch + 0.35 * build.trunk]), "chest": np.array([0, 0, build.crotch + 0.65 * build.trunk]),
    }
    if recipe.neck_bone:
        found["neck"] = np.array([0, 0.04, build.base if recipe.neck else build.base - 0.05 * build.trunk])
    found["head"] = start
    if recipe.extra_bones:
        found |= {"jaw": build.place([0, -0.05, 0.2]), "eye.L": eye, "eye.R": eye * [-1, 1, 1]}
        found |= {f"shoulder.{side}": limbs[f"upper_arm.{side}"] * [0.4, 1, 1] for side in "LR"}
    for role, place in limbs.items():
        part = role.split(".")[0]
        leg = part in rig.STANDARD and part not in ("shoulder", "upper_arm", "lower_arm", "hand")
        if part != "tip" and (recipe.leg_bones or not leg) and (part != "toes" or recipe.extra_bones):
            found[role] = np.asarray(place, float)
    return found


def _chain(piece: Piece, recipe: Recipe, roles: dict) -> tuple[tuple[str, ...], tuple[float, ...]]:
    """Roles along a piece's chain and the places where one passes to the next."""
    part, _, side = piece.chain.partition(".")
    if part == "trunk":
        return (("hips", "spine", "chest", "neck", "head"), (0.7, 1.6, 3.0, recipe.head_limit)) if "neck" in roles else (("hips", "spine", "chest", "head"), (0.7, 1.6, recipe.head_limit))
    if part == "leg":
        if not recipe.leg_bones:
            return ("hips",), ()
        tail = ((f"toes.{side}",), (2.7,)) if f"toes.{side}" in roles else ((), ())
        return ("hips", f"upper_leg.{side}", f"lower_leg.{side}", f"foot.{side}", *tail[0]), (-0.02, 1.0, 1.95, *tail[1])
    if part == "arm":
        return ("chest", f"upper_arm.{side}", f"lower_arm.{side}", f"hand.{side}"), (-0.1, 1.0, 2.0)
    if part == "eye":
        return (piece.chain if piece.chain in roles else "head",), ()
    return (piece.chain,), ()


def _block(piece: Piece, recipe: Recipe, names: dict) -> tuple[tuple[str, ...], np.ndarray]:
    """The bone names of a piece and its points' shares of them."""
    if piece.mode in ("bones", "unnamed bones"):
        way = piece.path[-1] - piece.path[0]
        place = (piece.points - piece.path[0]) @ way / (way @ way) * 3
        return tuple(f"{piece.name}_{index:02d}" for index in (1, 2, 3)), rig.shares(place, range(3), (1.0, 2.0), recipe.smooth)
    roles, bounds = _chain(piece, recipe, names)
    share = rig.shares(_along(piece, recipe), roles, bounds, recipe.smooth)
    if piece.chain == "trunk" and piece.group != "worn" and "jaw" in names:
        return _with_jaw(piece, tuple(names[role] for role in roles), share, names["jaw"])
    return tuple(names[role] for role in roles), share


def _along(piece: Piece, recipe: Recipe) -> np.ndarray:
    """Places along the chain; a rigid head of its own follows the head bone as a whole."""
    whole = np.maximum(piece.along, 4.9)
    return whole if piece.name == "Head" and not recipe.smooth and recipe.joint == "overlapping" else piece.along


def _with_jaw(piece: Piece, bones: tuple[str, ...], share: np.ndarray, jaw: str) -> tuple[tuple[str, ...], np.ndarray]:
    """The chin in front follows the jaw bone, which hangs on the head bone."""
    height = np.clip((5.3 - piece.along) / 0.15, 0, 1) * np.clip((piece.along - 4.4) / 0.3, 0, 1)
    ahead = np.clip(-piece.points[:, 1] / 0.15 - 0.5, 0, 1)
    moved = share[:, -1] * height * ahead
    return (*bones, jaw), np.column_stack([share[:, :-1], share[:, -1] - moved, moved])


def _objects(pieces: list[Piece], recipe: Recipe, rng) -> dict[str, list[Piece]]:
    """Which pieces share one mesh object, by the object's name."""
    whole = str(rng.choice(["Body", "Mesh", "Figure", "Keeper", "Cube.001"]))
    skull = str(rng.choice(["Head", "Face", "Sphere.002"])) if recipe.kind == "rigged" else str(rng.choice(["Head", "Sphere.002", "Mesh.003"]))
    found: dict[str, list[Piece]] = {}
    for piece in pieces:
        if piece.group == "worn" and piece.mode in ("object", "unnamed object"):
            name = piece.name
        elif recipe.objects == "one":
            name = whole
        elif piece.group == "head" or (piece.group == "worn" and piece.chain == "head"):
            name = skull
        elif recipe.objects == "head apart" or piece.group == "worn":
            name = whole
        else:
            name = piece.name if piece.name != "Body" else whole
        found.setdefault(name, []).append(piece)
    return found


def _part(name: str, pieces: list[Piece], recipe: Recipe, names: dict) -> Part:
    points, faces = joined([(piece.points, piece.faces) for piece in pieces])
    weights = Weights.none() if recipe.kind == "shape" else rig.weights([_block(piece, recipe, names) for piece in pieces])
    labels = [piece.name if piece.mode == "material" else "skin" for piece in pieces]
    materials = tuple(dict.fromkeys(labels))
    of = np.repeat([materials.index(label) for label in labels], [len(piece.faces) for piece in pieces])
    hung = None
    used = np.unique(weights.group)
    if len(used) == 1 and not recipe.smooth:
        hung, weights = weights.names[used[0]], Weights.none()
    if recipe.split:
        corner = faces.ravel()
        points, faces = points[corner], np.arange(len(corner)).reshape(-1, 3)
        weights = _split(weights, corner)
    return Part(name, points, faces.astype(np.int64), weights, materials, of.astype(np.int64), "stored", hung)


def _split(weights: Weights, corner: np.ndarray) -> Weights:
    """Weights after every triangle got points of its own."""
    if not len(weights.vertex):
        return weights
    order = np.argsort(weights.vertex, kind="stable")
    count = np.bincount(weights.vertex, minlength=corner.max() + 1)
    first = np.cumsum(count) - count
    reach = count[corner]
    rows = np.repeat(first[corner] - (np.cumsum(reach) - reach), reach) + np.arange(reach.sum())
    taken = order[rows]
    return Weights(weights.names, np.repeat(np.arange(len(corner)), reach), weights.group[taken], weights.weight[taken])


def _plate(recipe: Recipe, build: Build) -> Part | None:
    if not recipe.plate:
        return None
    name = "Cylinder.004" if recipe.plate == "unnamed" else recipe.plate
    wide = 1.6 * build.shoulder + 0.2
    points, faces = cylinder([(-0.06 * recipe.heads, wide, wide), (0.0, wide, wide)], 20)
    return Part(name, points, faces, Weights.none())


def _matrix(recipe: Recipe) -> np.ndarray:
    cos, sin = np.cos(recipe.turn), np.sin(recipe.turn)
    matrix = np.eye(4)
    matrix[:3, :3] = recipe.scale * np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1]])
    matrix[:3, 3] = np.array(recipe.offset) + at(0, 0, recipe.floating * recipe.scale)
    return matrix


def _moved(part: Part, matrix: np.ndarray) -> Part:
    return Part(part.name, transform_points(matrix, part.points), part.triangles, part.weights, part.materials, part.triangle_material, part.how, part.bone_parent)


def _moved_rig(armature: Armature, matrix: np.ndarray) -> Armature:
    turn = matrix[:3, :3] / np.cbrt(np.linalg.det(matrix[:3, :3]))
    bones = [
        Bone(one.name, one.parent, *transform_points(matrix, np.stack([one.head, one.tail])), one.axes @ turn.T, one.deform)
        for one in armature.bones
    ]
    return Armature(armature.name, tuple(bones), matrix)


def _surface(part: Part, matrix: np.ndarray) -> Surface:
    """The stored mesh under a transform that has not been applied."""
    local = transform_points(np.linalg.inv(matrix), part.points)
    sides = np.concatenate([part.triangles[:, [0, 1]], part.triangles[:, [1, 2]], part.triangles[:, [2, 0]]])
    edges = np.unique(np.sort(sides, axis=1), axis=0)
    return Surface(part.name, local, edges, part.triangles.ravel(), np.arange(len(part.triangles) + 1) * 3, matrix)


def _truth(build: Build, limbs: dict, eye: np.ndarray) -> dict[str, float]:
    """Heights above the sole in heads; joints only where both sides are level."""
    heights = {"crown": build.place([0, 0, 1.0])[2], "chin": build.chin, "sole": 0.0, "eye_line": eye[2], "crotch": build.crotch}
    joints = {"shoulder": "upper_arm", "elbow": "lower_arm", "wrist": "hand", "fingertip": "tip", "hip": "upper_leg", "knee": "lower_leg", "ankle": "foot"}
    for name, role in joints.items():
        if np.isclose(limbs[f"{role}.R"][2], limbs[f"{role}.L"][2]):
            heights[name] = limbs[f"{role}.R"][2]
    return {name: float(height) for name, height in heights.items()}


def build_figure(seed: int, kind: str = "rigged") -> Built:
    """The figure of one seed; ``kind`` is rigged or shape. The same seed gives the same figure."""
    return from_recipe(draw(seed, kind), seed)


def from_recipe(recipe: Recipe, seed: int = 0) -> Built:
    """The figure of a recipe; ``seed`` decides the small things the recipe leaves open."""
    rng = np.random.default_rng([seed, 5])
    build = sizes(recipe, rng)
    around = recipe.around
    leg_pieces, limbs = legs(build, around, rng)
    arm_pieces, arm_joints = arms(build, around, rng)
    limbs |= arm_joints
    eyes, eye = _eyes(build, recipe)
    pieces = [*trunk_and_head(build, around), *leg_pieces, *arm_pieces, *eyes, *worn_pieces(build, around, rng)]
    places = _places(build, limbs, eye, rng) if recipe.kind == "rigged" else {}
    names = {role: rig.bone_name(recipe.rig, role, number) for number, role in enumerate(places)}
    parts = [_part(name, own, recipe, names) for name, own in _objects(pieces, recipe, rng).items()]
    plate = _plate(recipe, build)
    matrix = _matrix(recipe)
    parts = [_moved(part, matrix) for part in [*parts, *([plate] if plate else [])]]
    armature, humanoid = None, {}
    if places:
        chains = {piece.name: (piece.chain, piece.path) for piece in pieces if piece.mode in ("bones", "unnamed bones")}
        armature = _moved_rig(rig.armature(places, names, chains), matrix)
        humanoid = rig.humanoid_of(names) if recipe.rig in ("chain", "numbered") or rng.random() < 0.3 else {}
    surfaces = tuple(_surface(part, matrix) for part in parts) if recipe.surfaces else ()
    figure = Figure("Keeper", surfaces, tuple(parts), armature, recipe.metres_per_unit, humanoid=humanoid)
    truth = _truth(build, limbs, eye)
    corner = recipe.head.front * recipe.head.chin - recipe.head.corner
    ahead = build.radius if recipe.head.form == "ball" else corner
    spots = transform_points(matrix, np.array([[0, 0, truth["crown"]], [0, -ahead, truth["chin"]], [0, 0, 0.0]]))
    metres = recipe.scale * recipe.metres_per_unit
    return Built(figure, {name: height * metres for name, height in truth.items()}, *spots, recipe, seed)
