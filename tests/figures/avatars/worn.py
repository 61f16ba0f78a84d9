"""Worn pieces of a figure: those of the head placed on it, those of the body, and their names."""

import numpy as np

from .body import Build, torso
from .grown import ON_HEAD
from .mesh import Piece, at, ball, crescent, cylinder, loft, spread, tube

WORDS = {
    "hair cap": "Hair", "fringe": "Bangs", "long hair": "BackHair", "spikes": "HairSpikes", "bun": "Bun", "ponytail": "Ponytail",
    "side locks": "SideHair", "twin tails": "Twintails", "ears up": "Ears", "ears floppy": "Ears", "ears human": "Ears", "horns": "Horns",
    "hat brim": "Hat", "hat tall": "Hat", "cap close": "Cap", "coronet": "Crown", "feeler": "Antenna", "collar": "Scarf",
    "backpack": "Backpack", "cape": "Cape", "tail": "Tail", "dress": "Dress",
    "headphones": "Headphones", "ribbon": "Ribbon", "halo": "Halo", "glasses": "Glasses", "beard": "Beard", "shirt": "Shirt",
}
JAPANESE = {"Hair": "髪", "Bangs": "前髪", "BackHair": "後髪", "Ears": "耳", "Horns": "角", "Hat": "帽子", "Ponytail": "ポニテ", "Twintails": "ツインテ", "Cape": "マント", "Tail": "しっぽ"}
ANCHOR = {"collar": "chest", "backpack": "chest", "cape": "chest", "tail": "hips", "dress": "hips", "shirt": "trunk"}


def _circle(radius, depth, y, z, around=20):
    angle = np.linspace(0, 2 * np.pi * 0.985, around)
    return np.stack([radius * np.sin(angle), y - depth * np.cos(angle), np.full(around, z)], axis=1)


def _collar(build, size, around):
    reach = build.radius + 0.08 + 0.12 * size
    thick = 0.05 + 0.06 * size
    return tube(_circle(reach, reach, 0.02, build.base - 0.02 + 0.06 * size), np.full(20, thick), 8, 1.0, (0, 0, 1))[:2]


def _backpack(build, size, around):
    middle = build.crotch + 0.6 * build.trunk
    high = (0.3 + 0.15 * size) * build.trunk
    return ball([0, build.shoulder * build.deep + 0.1, middle], [0.7 * build.shoulder, 0.2 + 0.1 * size, high], 12)


def _cape(build, size, around):
    top, bottom = build.crotch + 0.9 * build.trunk, build.chin * (0.35 - 0.5 * size)
    levels = np.linspace(bottom, top, 6)
    share = (top - levels) / (top - bottom)
    depth = build.shoulder * build.deep + 0.06
    inner = [np.array([build.shoulder * (0.9 + 0.4 * one), depth + 0.25 * one, 0.0]) for one in share]
    return crescent(levels, inner, [one + at(0.03, 0.03, 0) for one in inner], 0.9, np.pi, max(around // 2, 6))


def _tail(build, size, around):
    root = np.array([0, build.hip * build.deep, build.crotch + 0.12 * build.trunk])
    end = build.chin * (0.9 - 1.1 * size)
    path = np.stack([root - [0, 0.05, 0], root + at(0, 0.15, -0.05), root * [0, 1, 0] + at(0, 0.35, (root[2] + end) / 2), root * [0, 1, 0] + at(0, 0.45, end)])
    place = np.linspace(0, 3, 9)
    path = np.stack([np.interp(place, range(4), path[:, axis]) for axis in range(3)], axis=1)
    return tube(path, np.linspace(0.07, 0.03, 9), 8)[:2]


def _dress(build, size, around):
    waist, hem = build.crotch + 0.45 * build.trunk, build.crotch * (0.08 + 0.7 * size)
    wide = build.hip * 0.9 + 0.02
    deep = max(wide * build.deep, build.radius) + 0.03
    flare = 1.2 + 0.5 * (1 - size)
    return cylinder([(hem, wide * flare, deep * flare), (build.crotch, 1.15 * wide, 1.15 * deep), (waist, wide, deep)], max(around, 12))


def _shirt(build, size, around):
    """A shell about the trunk, open below and at the neck."""
    rings, along = torso(build, around)
    middle = np.array([1.04 + 0.06 * size, 1.04 + 0.06 * size, 1.0])
    points, faces = loft(np.array(rings[1:]) * middle + at(0, 0, 0.01))
    return points, faces, spread(along[1:], around, [])


ON_BODY = {"shirt": _shirt, "collar": _collar, "backpack": _backpack, "cape": _cape, "tail": _tail, "dress": _dress}


def worn_name(kind: str, mode: str, style: str, number: int) -> str:
    """What a worn thing is called where its mode gives it a telling name, else a number."""
    word = WORDS[kind]
    if mode == "unnamed object":
        return ("Mesh", "Sphere", "Object", "Cube")[number % 4] + f".{number:03d}"
    if mode == "unnamed bones":
        return f"Bone.{500 + number}"
    if mode == "material":
        return f"{word.lower()}_mat"
    if style == "japanese" and mode == "bones":
        return JAPANESE.get(word, word)
    return word if mode != "bones" else f"{word.lower()}{number}"


def _way(points, count=4):
    """A path through a thing from its end at the head or body to the one furthest from it."""
    middle = points.mean(axis=0)
    axis = np.linalg.eigh(np.cov((points - middle).T))[1][:, -1]
    place = (points - middle) @ axis
    return middle + np.linspace(place.min(), place.max(), count)[:, None] * axis


def _off_the_floor(build, points):
    """Hair and ears that would reach the floor are shortened below the chin."""
    depth = build.chin - points[:, 2].min()
    if depth <= 0.95 * build.chin:
        return points
    drop = build.chin - points[:, 2]
    height = build.chin - np.where(drop > 0, drop * 0.95 * build.chin / depth, drop)
    return np.column_stack([points[:, :2], height])


def worn_pieces(build: Build, around: int, rng) -> list[Piece]:
    """All worn things of the recipe in the figure's place."""
    recipe, made = build.recipe, []
    for number, (kind, mode, size) in enumerate(recipe.worn):
        along = np.zeros(0)
        if kind.endswith("drawn out"):
            continue
        if kind in ON_HEAD:
            more = {"hidden": recipe.skull_hidden} if kind == "hair cap" else {}
            points, faces = ON_HEAD[kind](recipe.head, size, around, rng, **more)
            points = _off_the_floor(build, build.place(points))
        else:
            points, faces, *places = ON_BODY[kind](build, size, around)
            along = places[0] if places else along
        name = worn_name(kind, mode, recipe.rig, number + 11)
        path = _way(points)
        middle = np.array([0, 0, build.chin + 0.5 if kind in ON_HEAD else build.crotch])
        if np.linalg.norm(path[0] - middle) > np.linalg.norm(path[-1] - middle):
            path = path[::-1]
        made.append(Piece(name, points, faces, ANCHOR.get(kind, "head"), along if len(along) else np.zeros(len(points)), "worn", kind, mode, path))
    return made
