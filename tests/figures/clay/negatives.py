"""What has no count of heads: it must be refused, or given a very wide range."""

from dataclasses import replace

import numpy as np
from evenfold.core.figure import Figure

from .bodies import body_of
from .fields import Block, Carved, Egg, Limb
from .heads import ears_of, head_form
from .nets import Skin, cell_for, skin_of
from .recipes import recipe
from .rig import armature_of, weights_of
from .sculpt import _part, _surface, sculpt

KINDS = (
    "bust", "bust with weights", "four legs", "four legs with weights", "lone head",
    "lone head with weights", "chair", "sphere", "plane", "two figures", "bust whose rig has legs with weights",
    "block under a bust", "vase", "lamp",
)


def negative(kind, seed):
    """A Figure of one of KINDS."""
    rng = np.random.default_rng((seed, KINDS.index(kind)))
    one = replace(recipe(seed), neck="short", face=str(rng.choice(["jaw", "cheeks", "muzzle"])), heads=float(rng.uniform(2, 7)))
    if kind == "plane":
        return _figure({"Plane": _plane(rng)}, one)
    if kind == "two figures":
        return _two(one)
    bodies, bones = {
        "bust": _bust, "four": _beast, "lone": _lone, "chair": _chair, "sphere": _sphere,
        "block": _on_a_block, "vase": _vase, "lamp": _lamp,
    }[kind.split()[0]](rng, one)
    if "rig has legs" in kind:
        bones = body_of(rng, one, head_form(rng, one))[1] | bones
    cell = cell_for(bodies, 4000, 0.05)
    return _figure({"Body": skin_of(bodies, cell)}, one, bones if kind.endswith("weights") else None, bodies)


def _figure(skins, one, bones=None, bodies=()):
    matrix = np.eye(4)
    matrix[:3, :3] *= one.scale
    armature, names = armature_of(bones, "plain", matrix) if bones else (None, {})
    how = "painted" if bones else "none"
    parts = [
        _part(name, skin, matrix, weights_of(skin.points, bones or {}, names, how, bodies)) for name, skin in skins.items()
    ]
    return Figure("Thing", tuple(_surface(name, skin, matrix) for name, skin in skins.items()), tuple(parts), armature)


def _bust(rng, one):
    form = head_form(rng, one)
    body, bones, at = body_of(rng, one, form)
    floor = at["collar"] - rng.uniform(0.15, 0.4)
    under = Block((0.0, 0.0, floor - 5), (9.0, 9.0, 5.0), "chest", 0.02, 0.0)
    kept = [Carved(b, under) for b in body if b.box()[1][2] > floor and not b.bone.startswith(("hand", "lower"))]
    bones = {role: bone for role, bone in bones.items() if role in ("chest", "neck", "head")}
    return form + kept, bones | {"chest": (None, *bones["chest"][1:])}


def _on_a_block(rng, one):
    """A bust on a block, all in one mesh."""
    bodies, bones = _bust(rng, one)
    low = min(body.box()[0][2] for body in head_form(rng, one)) - rng.uniform(0.6, 1.0)
    return [*bodies, Block((0.0, 0.0, low), (0.5, 0.4, rng.uniform(0.4, 0.6)), "chest", 0.03)], bones


def _vase(rng, _):
    """A belly, a narrow neck and a bulb on top, standing on a foot."""
    belly, neck = rng.uniform(0.5, 0.8), rng.uniform(0.12, 0.25)
    return [
        Egg((0.0, 0.0, 1.0), (belly, belly, 1.0), "vase", 0.05),
        Limb((0.0, 0.0, 1.8), (0.0, 0.0, 2.4), (neck * 1.2, neck), "vase", 0.15),
        Egg((0.0, 0.0, 2.7), (rng.uniform(0.3, 0.5),) * 3, "vase", 0.08),
        Block((0.0, 0.0, 0.05), (belly * 0.7, belly * 0.7, 0.07), "vase", 0.03),
    ], None


def _lamp(rng, _):
    """A base, a pole and a globe."""
    tall, globe = rng.uniform(1.5, 4), rng.uniform(0.3, 0.6)
    return [
        Block((0.0, 0.0, 0.08), (0.5, 0.5, 0.08), "lamp", 0.03),
        Limb((0.0, 0.0, 0.1), (0.0, 0.0, tall), (0.08, 0.07), "lamp", 0.05),
        Egg((0.0, 0.0, tall), (globe,) * 3, "lamp", 0.03),
    ], None


def _lone(rng, one):
    form = head_form(rng, one)
    _, bones, _ = body_of(rng, one, form)
    return form + ears_of(rng, one, form[0]), {"head": (None, *bones["head"][1:])}


def _beast(rng, one):
    """Stands on four legs, its head ahead of its chest."""
    tall, long = rng.uniform(0.8, 2.0), rng.uniform(1.0, 2.0)
    thick = rng.uniform(0.25, 0.4)
    back = tall + thick
    body = [Limb((0.0, long / 2, back), (0.0, -long / 2, back), (thick, thick * 1.1), "chest", 0.1)]
    for y in (-long / 2, long / 2):
        body += [
            Limb((x * thick * 0.6, y, back - 0.1), (x * thick * 0.7, y, 0.1), (0.15, 0.1), f"thigh.{hand}", 0.04)
            for x, hand in ((1, "L"), (-1, "R"))
        ]
    head = (0.0, -long / 2 - thick - 0.4, back + rng.uniform(0.2, 0.8))
    body.append(Limb((0.0, -long / 2, back), head, (thick * 0.8, 0.2), "neck", 0.08))
    body += [Egg(head, (0.3, 0.35, 0.3), "head", 0.06), Limb(head, (0.0, head[1] - 0.5, head[2] - 0.15), (0.2, 0.12), "head", 0.06)]
    body.append(Limb((0.0, long / 2 + thick, back), (0.0, long / 2 + thick + 0.5, back + 0.3), (0.08, 0.05), "tail", 0.04))
    rear, fore, start = np.array([0, long / 2, back]), np.array([0, -long / 2, back]), np.array(head)
    bones = {"hips": (None, rear, fore, thick), "chest": ("hips", fore, fore + np.array([0, -0.1, 0]), thick), "neck": ("chest", fore, start, 0.2), "head": ("neck", start, start + np.array([0, -0.5, -0.15]), 0.4)}
    for hand, x in (("L", 1), ("R", -1)):
        bones[f"thigh.{hand}"] = ("hips", rear + np.array([x * 0.2, 0, 0]), np.array([x * 0.2, long / 2, 0]), 0.15)
    return body, bones


def _chair(rng, _):
    seat, top = rng.uniform(0.8, 1.2), rng.uniform(1.8, 2.6)
    legs = [Block((x, y, seat / 2), (0.06, 0.06, seat / 2), "chair", 0.02) for x in (-0.45, 0.45) for y in (-0.45, 0.45)]
    rests = [Block((0.0, 0.45, (seat + top) / 2), (0.5, 0.06, (top - seat) / 2), "chair", 0.02)]
    return [*legs, *rests, Block((0.0, 0.0, seat), (0.52, 0.52, 0.07), "chair", 0.02)], None


def _sphere(rng, _):
    radius = float(rng.uniform(0.5, 2))
    return [Egg((0.0, 0.0, radius), (radius,) * 3, "ball", 0.02)], None


def _plane(rng):
    side = np.linspace(-1, 1, 41)
    x, y = (one.ravel() for one in np.meshgrid(side, side, indexing="ij"))
    number = np.arange(41 * 41).reshape(41, 41)
    quads = np.stack([number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]], axis=-1).reshape(-1, 4)
    upright = rng.random() < 0.5
    return Skin(np.stack([x, 0 * x, y + 1] if upright else [x, y, 0 * x], axis=1), quads)


def _two(one):
    """Two figures side by side in one mesh."""
    bare = replace(one, rig="none", hair="", hat="", below="", wear=(), ears="", up="z", turn=0.0, scale=1.0, place=(0.0, 0.0, 0.0), vertices=3000)
    first, second = sculpt(bare).figure.parts[0], sculpt(replace(bare, seed=one.seed + 1, heads=max(1.6, one.heads * 0.7))).figure.parts[0]
    apart = np.array([0.5 + np.ptp(first.points[:, 0]) / 2 + np.ptp(second.points[:, 0]) / 2, 0.0, 0.0])
    points = np.concatenate([first.points, second.points + apart])
    quads = np.concatenate([first.triangles, second.triangles + len(first.points)])
    skin = Skin(points, quads[:, [0, 1, 2, 2]])
    matrix = np.eye(4)
    part = replace(first, points=points, triangles=quads)
    return Figure("Two", (_surface("Body", skin, matrix),), (part,))
