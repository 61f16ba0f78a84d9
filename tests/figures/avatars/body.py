"""Invented bodies under the head: trunk, legs, feet, arms. The sole of the standing foot is at 0."""

from dataclasses import dataclass

import numpy as np

from .grown import drawn_out
from .head import between, meeting, neck_ring, rows, skin
from .mesh import Piece, at, cylinder, joined, loft, rounds, spread, tube
from .recipe import Recipe

FOOTWEAR = {"boot": "Boot", "shoe": "Shoe", "heel": "Shoe"}


@dataclass(frozen=True)
class Build:
    """Sizes of one body in heads; ``chin`` is the chin's height above the sole."""

    recipe: Recipe
    chin: float
    low: float
    crotch: float
    base: float
    shoulder: float
    hip: float
    deep: float
    radius: float

    @property
    def trunk(self):
        return self.base - self.crotch

    def unplace(self, points):
        """From the figure's units to the head's own."""
        return (np.asarray(points, float) - self.place(np.zeros(3))) * (1 - self.low)

    def place(self, points):
        """From the head's own units to the figure's."""
        points = np.asarray(points, float) / (1 - self.low)
        return points + at(0, 0, self.chin - self.low / (1 - self.low))


def sizes(recipe: Recipe, rng) -> Build:
    """Body sizes that go with the count of heads."""
    def by_heads(*values):
        return float(np.interp(recipe.heads, [1.5, 3, 8], values)) * rng.uniform(0.9, 1.1)
    chin = recipe.heads - 1
    radius = recipe.neck_radius * (1.0 if recipe.neck or recipe.head.form == "ball" else 1.3)
    if recipe.head.form != "ball":
        radius = min(radius, 0.85 * (recipe.head.front * recipe.head.chin - recipe.head.corner) + 0.06 * (recipe.neck > 0))
    low = meeting(recipe.head, radius) if recipe.head.form == "ball" else 0.0
    shoulder = max(by_heads(0.27, 0.42, 0.95), radius * 1.25)
    return Build(
        recipe, chin, low, chin * min(by_heads(0.25, 0.4, 0.56), 0.6), chin - recipe.neck, shoulder,
        max(by_heads(0.24, 0.36, 0.62), radius), by_heads(0.8, 0.7, 0.5), radius / (1 - low) if low else radius,
    )


def torso(build, around):
    """Rings and places along the trunk, up to the shoulders."""
    share = [0.02, 0.1, 0.4, 0.7, 0.88, 0.97]
    wide = [0.55 * build.hip, build.hip, 0.85 * build.hip, 0.85 * build.shoulder, 0.8 * build.shoulder]
    wide.append(max(0.5 * wide[-1], 1.1 * build.radius))
    sine, cosine = rounds(around)
    rings = []
    for level, half in zip(share, wide, strict=True):
        z = np.full(around, build.crotch + level * build.trunk)
        rings.append(np.stack([half * sine, -max(half * build.deep, build.radius) * cosine, z], axis=1))
    return rings, [0.0, 0.3, 1.0, 1.8, 2.5, 2.9]


def _closed(name, rings, along, around, group, lift=0.02):
    """A closed piece; its lids lie at the middle of the end rings, the top one ``lift`` higher."""
    bottom, top = rings[0].mean(axis=0), rings[-1].mean(axis=0) + at(0, 0, lift)
    points, faces = loft(rings, bottom, top)
    return Piece(name, points, faces, "trunk", spread(along, around, [along[0], along[-1]]), group)


def _neck(build, around):
    """Rings of the neck between the trunk's top and the head, and their places along it."""
    recipe = build.recipe
    upper = build.place(neck_ring(recipe.head, build.radius, around))
    if not recipe.neck:
        return [], []
    lower = upper.copy()
    lower[:, 2] = build.base - 0.02 * np.abs(upper[:, 0])
    lower[:, 1] += 0.02
    count = 2 if around < 16 else 4
    return [lower, *between(lower, upper, count), upper], list(np.linspace(3, 4, count + 2))


def _head_rings(build, around, under):
    """Rings of the head upward, after ``under`` rings of its underside, and their places."""
    recipe = build.recipe
    level = rows(recipe.head, around, build.low)
    if recipe.skull_hidden:
        level = level[level < 0.86]
    rings = list(build.place(skin(recipe.head, level, around)))
    along = list(5 + level)
    if under is None:
        return rings, along
    count = 2 if around < 16 else 4
    return [under, *between(under, rings[0], count), *rings], [*np.linspace(4, 5, count + 2)[:-1], *along]


def _crowned(build, rings, along, around, name, group):
    """Close the bottom of the rings and the crown, unless the scalp is open."""
    crown = None if build.recipe.skull_hidden else build.place([0, 0, 1.0])
    bottom = rings[0].mean(axis=0)
    points, faces = loft(rings, bottom, crown)
    places = spread(along, around, [along[0]] + ([] if crown is None else [6]))
    for kind, _, size in build.recipe.worn:
        if kind.endswith("drawn out"):
            high = places >= 5.4
            points[high] = build.place(drawn_out(build.recipe.head, build.unplace(points[high]), kind, size))
    return Piece(name, points, faces, "trunk", places, group)


def trunk_and_head(build: Build, around: int) -> list[Piece]:
    """Trunk, neck and head, joined in the way the recipe says."""
    recipe = build.recipe
    lower, along = torso(build, around)
    neck, neck_along = _neck(build, around)
    ball = recipe.head.form == "ball"
    if recipe.joint == "bridged":
        under = None if ball else build.place(neck_ring(recipe.head, build.radius, around))
        head, head_along = _head_rings(build, around, under)
        rings, places = [*lower, *neck[:-1], *head], [*along, *neck_along[:-1], *head_along]
        return [_crowned(build, rings, places, around, "Body", "body")]
    sine, cosine = rounds(around)
    stump = np.stack([build.radius * sine, -build.radius * cosine, np.full(around, build.base)], axis=1)
    if recipe.joint == "neck on head":
        drop = neck[0] - [0, 0, min(0.1, 0.3 * build.trunk)]
        head, head_along = _head_rings(build, around, neck[-1])
        skull = _crowned(build, [drop, *neck[:-1], *head], [3.0, *neck_along[:-1], *head_along], around, "Head", "head")
        return [_closed("Body", [*lower, stump - [0, 0, 0.005]], [*along, 3.0], around, "body", 0.0), skull]
    if ball:
        head, head_along = _head_rings(build, around, None)
        lid = (head[0] + head[0].mean(axis=0)) / 2 - [0, 0, 0.6 * build.low]
        head, head_along = [lid, *head], [5.0, *head_along]
    else:
        inner = build.place(neck_ring(recipe.head, 0.7 * build.radius, around))
        head, head_along = _head_rings(build, around, inner)
    skull = _crowned(build, head, head_along, around, "Head", "head")
    if recipe.neck:
        body = _closed("Body", [*lower, *neck, neck[-1] + at(0, 0, 0.03)], [*along, *neck_along, 4.05], around, "body")
    else:
        rise = 0.0 if ball else float(neck_ring(recipe.head, build.radius, around)[:, 2].max())
        inside = stump + at(0, 0, recipe.overlap + rise)
        body = _closed("Body", [*lower, stump, inside], [*along, 3.0, 4.0], around, "body", 0.0)
    return [body, skull]


def _foot(kind, width, length, high):
    """A foot about (0, 0), its lowest point at 0 and its toes at -y, as (points, faces)."""
    if kind == "heel":
        lift = 1.2 * high
        pad = cylinder([(0.0, 0.8 * width, 0.3 * length), (0.3 * high, 0.8 * width, 0.25 * length)], 10, (0, -0.65 * length))
        arch = tube([[0, 0, lift + 1.5 * high], [0, 0.08 * length, lift + 0.5 * high], [0, -0.2 * length, 0.8 * lift], [0, -0.7 * length, 0.35 * high]], [0.8 * width, 0.8 * width, 0.75 * width, 0.3 * high], 10)
        peg = cylinder([(0.0, 0.25 * width, 0.25 * width), (lift, 0.4 * width, 0.4 * width)], 8, (0, 0.12 * length))
        return joined([pad, (np.maximum(arch[0], [-np.inf, -np.inf, 0.02 * high]), arch[1]), peg])
    if kind == "pointed":
        path = [[0, 0.02, high + 0.6 * length], [0, 0, high], [0, -0.3 * length, 0.15 * length], [0, -0.35 * length, 0.0]]
        points, faces, _ = tube(path, [0.7 * width, 0.8 * width, 0.6 * width, 0.1 * width], 10)
        return points - at(0, 0, points[:, 2].min()), faces
    thick = 1.4 if kind == "boot" else 1.0
    rings = []
    levels = [(0.0, 0.85, 0.55), (0.25, 1.0, 0.62), (0.6, 0.95, 0.5), (1.0, 0.75, 0.3)] + ([(3.0, 0.8, 0.34)] if kind == "boot" else [])
    sine, cosine = rounds(12, 0.8)
    for z, wide, long in levels:
        y = -0.35 * length * (1 - min(z, 1.0)) - long * length * cosine
        rings.append(np.stack([thick * wide * width * sine, y, np.full(12, z * high)], axis=1))
    return loft(rings, [0, -0.35 * length, 0.0], [0, 0, levels[-1][0] * high])


def legs(build: Build, around: int, rng) -> tuple[list[Piece], dict]:
    """Both legs with their feet, and the places of their joints by bone."""
    recipe, made, joints = build.recipe, [], {}
    apart = 0.52 * build.hip
    thick = min(0.88 * apart, 0.5 * build.hip)
    high = max(0.12 * build.crotch, 0.04) * (1.3 if recipe.feet == "boot" else 1.0)
    length = float(np.interp(recipe.heads, [1.5, 3, 8], [0.2, 0.35, 0.6]))
    for side, sign in (("L", 1), ("R", -1)):
        up = 0.25 * build.crotch * (recipe.feet == "lifted" and side == "L")
        ankle = np.array([sign * apart, 0.01, high + up + (1.2 * high if recipe.feet == "heel" else 0.6 * length if recipe.feet == "pointed" else 0.0)])
        hip = np.array([sign * apart, 0, build.crotch + 0.08 * build.trunk])
        knee = np.array([sign * apart, -0.02 - 0.8 * up, (hip[2] + ankle[2]) / 2 + 0.3 * up])
        path = [hip, (hip + knee) / 2, knee, (knee + ankle) / 2, ankle]
        points, faces, place = tube(path, thick * np.array([1, 0.95, 0.85, 0.8, 0.7]), max(around // 2, 6))
        points[:, 2] = np.maximum(points[:, 2], up + 0.3 * high)
        made.append(Piece(f"Leg.{side}", points, faces, f"leg.{side}", 2 * place))
        kind = "bare" if recipe.feet == "lifted" else recipe.feet
        foot, foot_faces = _foot(kind, 0.8 * thick, length, high)
        toes = np.clip(2.0 - 1.2 * foot[:, 1] / length, 2.0, 3.2)
        made.append(Piece(f"{FOOTWEAR.get(kind, 'Foot')}.{side}", foot + at(sign * apart, 0, up), foot_faces, f"leg.{side}", toes))
        joints |= {f"upper_leg.{side}": hip, f"lower_leg.{side}": knee, f"foot.{side}": ankle, f"toes.{side}": np.array([sign * apart, -0.5 * length, 0.3 * high + up])}
    return made, joints


def arms(build: Build, around: int, rng) -> tuple[list[Piece], dict]:
    """Both arms in the recipe's pose, and the places of their joints by bone."""
    recipe, made, joints = build.recipe, [], {}
    long = (0.44 * (recipe.heads - 1) + 0.1) * rng.uniform(0.85, 1.05)
    thick = 0.06 + 0.06 * build.shoulder
    angle = np.radians(recipe.pose)
    for side, sign in (("L", 1), ("R", -1)):
        way = np.array([sign * np.cos(angle), 0, np.sin(angle)])
        start = np.array([sign * 0.82 * build.shoulder, 0, build.crotch + 0.86 * build.trunk])
        elbow, wrist, tip = start + 0.42 * long * way, start + 0.76 * long * way, start + long * way
        elbow = elbow + at(0, 0.03 * long, 0)
        path = [start - 0.1 * way, start, elbow, wrist, (wrist + tip) / 2, tip]
        points, faces, place = tube(path, thick * np.array([0.8, 1, 0.85, 0.7, 0.95, 0.4]), max(around // 2, 6))
        spots = np.interp(place * 5, range(6), [-0.3, 0, 1, 2, 2.5, 3])
        made.append(Piece(f"Arm.{side}", points, faces, f"arm.{side}", spots))
        joints |= {f"upper_arm.{side}": start, f"lower_arm.{side}": elbow, f"hand.{side}": wrist, f"tip.{side}": tip}
    return made, joints
