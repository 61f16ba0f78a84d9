"""From a recipe to a Figure record with its true crown, chin, sole and count."""

from dataclasses import dataclass

import numpy as np
from evenfold.core.figure import Figure, Part, Surface, Weights

from .bodies import body_of, cape_of, plinth_of, scarf_of, tail_of
from .fields import field_at
from .heads import crown_and_chin, ears_of, hair_of, hat_of, head_form
from .nets import cell_for, distance_to, skin_of
from .paint import painted_by
from .rig import armature_of, weights_of

ODD = ("Object.003", "Mesh.012", "Sphere.001", "Cube.004", "Torus")


@dataclass(frozen=True)
class Sculpt:
    """``crown``, ``chin`` and ``sole`` (3,) in world space; ``off`` says why it is no fair figure."""

    figure: Figure
    heads: float
    crown: np.ndarray
    chin: np.ndarray
    sole: np.ndarray
    off: str = ""


def _objects(rng, one, form, body, at):
    """(objects, extra): bodies of each object by name, and those fused into the body's own mesh."""
    objects, extra = {}, []
    extra += ears_of(rng, one, form[0])
    if one.hair:
        hair = hair_of(rng, one, form[0])
        if one.hair in ("fused", "bones"):
            extra += hair
        else:
            objects["Hair" if one.hair == "object" else "Mesh.012" if one.hair == "oddly" else "Strands"] = hair
    if one.hat == "fused":
        extra += hat_of(rng, one, form[0])
    elif one.hat:
        objects[one.hat] = hat_of(rng, one, form[0])
    if "scarf" in one.wear:
        objects["Scarf" if one.named else "Torus"] = scarf_of(at)
    if "cape" in one.wear and one.below != "cape":
        objects["Cape" if one.named else "Cube.004"] = cape_of(at, 0.3 * at["chin"])
    if one.below == "tail":
        extra += tail_of(at, -0.12)
    if one.below == "cape":
        objects["Cape" if one.named else "Cube.004"] = cape_of(at, -0.15)
    if one.below in ("plinth", "block"):
        objects["Plinth" if one.below == "plinth" else "Object.007"] = plinth_of(at)
    return objects, extra


def _extra_bones(bones, bodies, at, one):
    """A bone for each role the bodies name that the skeleton lacks."""
    top = np.array([0.0, 0.1, one.heads])
    for body in bodies:
        role = body.bone
        if role in bones or role in ("hat", "plinth"):
            continue
        parent = "head" if role.startswith(("hair", "ear")) else "hips" if role == "tail" else "chest"
        low, high = body.box()
        centre = (low + high) / 2
        start = top - [0, 0, 0.25] if role == "hair" else centre
        end = {"hair": top + np.array([0, 0, 0.1])}.get(role, centre + np.array([0, 0, (high - low)[2] * (-0.4 if role in ("tail", "cape") else 0.4)]))
        bones[role] = (parent, start, end, 0.15)


def _placing(one):
    """The (4, 4) matrix from the sculpting frame to the world, and the world's up."""
    matrix = np.eye(4)
    cosine, sine = np.cos(one.turn), np.sin(one.turn)
    turn = np.array([[cosine, -sine, 0], [sine, cosine, 0], [0, 0, 1.0]])
    stand = np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]]) if one.up == "y" else np.eye(3)
    matrix[:3, :3] = one.scale * stand @ turn
    matrix[:3, 3] = one.place
    return matrix, tuple(stand @ [0.0, 0.0, 1.0])


def _part(name, skin, matrix, weights, materials=(), paint=None):
    points = skin.points @ matrix[:3, :3].T + matrix[:3, 3]
    paint = np.zeros((0, 3), np.float32) if paint is None else paint
    return Part(name, points, skin.triangles, weights, materials, np.zeros(len(skin.triangles), np.int64), paint=paint)


def _surface(name, skin, matrix):
    """The stored mesh with an object scale and turn that were never applied."""
    own = np.diag([0.5, 2.0, 1.25, 1.0])
    starts = np.arange(0, 4 * len(skin.quads) + 1, 4)
    local = (skin.points / [0.5, 2.0, 1.25]).astype(np.float32)
    return Surface(name, local, skin.edges, skin.quads.ravel(), starts, matrix @ own)


def sculpt(one, painted=False):
    """The Sculpt of a recipe; ``off`` is set when the mesh does not show the constructed points.

    Where it is ``painted``, skin, hair, hat and clothes have colours of their own, as artists paint them.
    """
    rng = np.random.default_rng((one.seed, 77))
    form = head_form(rng, one)
    body, bones, at = body_of(rng, one, form)
    objects, extra = _objects(rng, one, form, body, at)
    plain = form + body
    crown, chin = crown_and_chin(form, field_at)
    _extra_bones(bones, extra + [b for own in objects.values() for b in own], at, one)
    matrix, up = _placing(one)
    cell = cell_for(plain + extra, one.vertices, 0.04 * one.heads**0.5)
    shift = rng.uniform(0, 1, 3)
    skins = {"Body": skin_of(plain + extra, cell, shift)}
    skins |= {name: skin_of(own, cell, shift) for name, own in objects.items()}
    rigged = one.rig != "none"
    armature, names = armature_of(bones, one.naming, matrix) if rigged else (None, {})
    parts, surfaces = [], []
    for name, skin in skins.items():
        own = plain + extra if name == "Body" else objects[name]
        weights = _weigh(one, name, skin, bones, names, own)
        paint = painted_by(np.random.default_rng((one.seed, 99)), skin, own) if painted else None
        parts.append(_part(name, skin, matrix, weights, _materials(name), paint))
        surfaces.append(_surface(name, skin, matrix))
    sole = _lowest_foot(body)
    figure = Figure("Keeper", tuple(surfaces), tuple(parts), armature, up=up)
    points = [np.asarray(p) @ matrix[:3, :3].T + matrix[:3, 3] for p in (crown, chin, sole)]
    heads = (crown[2] - sole[2]) / (crown[2] - chin[2])
    return Sculpt(figure, float(heads), *points, _why_off(one, form, plain, skins["Body"], crown, chin, sole, cell))


def _weigh(one, name, skin, bones, names, bodies):
    if one.rig not in ("auto", "painted"):
        return Weights.none()
    if name in ("Plinth", "Object.007"):
        return Weights.none()
    if name != "Body" and bodies[0].bone == "hat":
        count = len(skin.points)
        return Weights((names["head"],), np.arange(count), np.zeros(count, np.int64), np.ones(count))
    on_head = one.hair in ("fused", "object", "oddly", "material")
    carried = {role: bone for role, bone in bones.items() if not (role == "hair" and on_head)}
    return weights_of(skin.points, carried, names, one.rig, [_as_head(b, on_head) for b in bodies])


class _AsHead:
    """A body of hair that the head bone carries."""

    bone = "head"

    def __init__(self, body):
        self.distance = body.distance


def _as_head(body, on_head):
    return _AsHead(body) if body.bone == "hat" or (on_head and body.bone == "hair") else body


def _materials(name):
    if name == "Strands":
        return ("Hair",)
    return ("Skin",) if name == "Body" else ("Cloth",)


def _lowest_foot(body):
    feet = [b for b in body if b.bone.startswith("foot.")]
    ends = [(np.array(e) - [0, 0, r]) for b in feet for e, r in ((b.start, b.thick[0]), (b.end, b.thick[1]))]
    return min(ends, key=lambda point: point[2])


def _why_off(one, form, plain, skin, crown, chin, sole, cell):
    """Empty when the body's surface passes within a hundredth of a head by the three points."""
    if abs(field_at(plain, crown[None])[0]) > 0.01:
        return "crown is melted over"
    covered = one.hair in ("fused", "bones") or one.hat == "fused"
    if not covered and distance_to(skin.points, skin.triangles, crown, 3 * cell) > 0.01:
        return "crown is not on the mesh"
    if distance_to(skin.points, skin.triangles, sole, 3 * cell) > 0.01:
        return "sole is not on the mesh"
    if len(form) > 1:
        return "" if distance_to(skin.points, skin.triangles, chin, 3 * cell) <= 0.01 else "chin is not on the mesh"
    return _ball_off(form, plain, chin)


def _ball_off(form, plain, chin):
    """A ball's lowest point may lie in the body, but the outline must fold close to it."""
    zs = np.linspace(chin[2] + 0.3, chin[2] - 0.1, 200)
    ys = np.linspace(form[0].at[1] - form[0].radii[1] - 0.3, form[0].at[1] + 0.1, 400)
    grid = np.stack(np.meshgrid([0.0], zs, ys, indexing="ij"), axis=-1)[0][..., [0, 2, 1]]
    inside = field_at(plain, grid.reshape(-1, 3)).reshape(200, 400) < 0
    front = ys[inside.argmax(axis=1)]
    turning = np.flatnonzero(np.diff(front) < 0)
    fold = float(zs[turning[0]]) if len(turning) else float("inf")
    return "" if -0.03 <= fold - chin[2] <= 0.06 else "the head's lower end is deep in the body"
