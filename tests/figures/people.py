"""Invented figures whose crown, chin and sole follow from how they are built. They face -Y."""

from dataclasses import dataclass, replace

import numpy as np
from evenfold.core.figure import Armature, Bone, Figure, Part, Weights, transform_points

AROUND = 24


@dataclass(frozen=True)
class Person:
    """Lengths in scene units; ``neck`` 0 puts the head straight onto the body."""

    height: float = 0.9
    head: float = 0.6
    neck: float = 0.0
    wide: float = 0.45
    deep: float = 0.42
    slope: float = 0.0
    build: str = "merged"
    hair: str = ""
    ears: str = ""
    ponytail: bool = False
    hat: bool = False
    rigged: bool = True


def _loft(rings):
    """Rings of (height, half width, half depth, centre forward) closed by a point at each end."""
    turn = np.arange(AROUND) * 2 * np.pi / AROUND
    rows = [
        np.stack([a * np.sin(turn), centre - b * np.cos(turn), np.full(AROUND, z)], axis=1)
        for z, a, b, centre in rings
    ]
    points = np.concatenate([*rows, [[0, rings[0][3], rings[0][0]], [0, rings[-1][3], rings[-1][0]]]])
    base = np.arange(AROUND)
    after = (base + 1) % AROUND
    faces = []
    for row in range(len(rings) - 1):
        low, high = row * AROUND, (row + 1) * AROUND
        faces += [np.stack([low + base, low + after, high + after], 1), np.stack([low + base, high + after, high + base], 1)]
    last = (len(rings) - 1) * AROUND
    faces += [np.stack([after, base, np.full(AROUND, len(points) - 2)], 1)]
    faces += [np.stack([last + base, last + after, np.full(AROUND, len(points) - 1)], 1)]
    return points, np.concatenate(faces)


def _ball(centre, radii, rings=17):
    turn = np.linspace(0, np.pi, rings)
    levels = [
        (centre[2] - radii[2] * np.cos(t), radii[0] * np.sin(t), radii[1] * np.sin(t), centre[1]) for t in turn
    ]
    points, faces = _loft(levels)
    return points + np.array([centre[0], 0, 0]), faces


def _head(person):
    """Rings of a head whose lowest point is its chin at height - head."""
    chin, size = person.height - person.head, person.head
    middle = chin + size / 2
    if not person.neck:
        return [(middle - size / 2 * np.cos(t), person.wide * size * np.sin(t), person.deep * size * np.sin(t), 0.0) for t in np.linspace(0, np.pi, 25)]
    radius, back = 0.16 * size, 0.12 * size
    jaw = 0.3 * size
    under = chin + person.slope * (jaw - radius + back)
    rings = [(chin - person.neck, radius, radius, back), (under, radius, radius, back), (chin, 0.8 * jaw, jaw, 0.0)]
    for share in np.linspace(0.05, 1.0, 24):
        rest = max(1 - ((share - 0.5) / 0.5) ** 2, 0.0) ** 0.5 if share > 0.5 else 0.7 + 0.3 * np.sin(np.pi * share)
        rings.append((chin + share * size, person.wide * size * rest, person.deep * size * rest, 0.0))
    return rings


def _pieces(person):
    """(name, points, faces, bone of each point) of everything."""
    chin = person.height - person.head
    crotch, neck_base = 0.45 * chin, chin - person.neck
    thick = 0.2 * min(person.head, person.height / 3)
    made = []
    points, faces = _loft(_head(person))
    bones = np.full(len(points), "Head", dtype=object)
    if person.neck:
        bones[: 2 * AROUND] = "Neck"
        bones[-2] = "Neck"
    made.append(("Head", points, faces, bones))
    body = _loft([(crotch, 1.6 * thick, 1.2 * thick, 0.0), (neck_base, 1.4 * thick, 1.1 * thick, 0.05 * person.head)])
    made.append(("Body", *body, np.full(len(body[0]), "Spine", dtype=object)))
    for side, name in ((1, "L"), (-1, "R")):
        shift = np.array([side * thick, 0, 0])
        leg = _loft([(0.04 * chin, 0.5 * thick, 0.5 * thick, 0.0), (1.02 * crotch, 0.6 * thick, 0.6 * thick, 0.0)])
        foot = _loft([(0.0, 0.5 * thick, 1.2 * thick, -0.6 * thick), (0.08 * chin, 0.4 * thick, 0.8 * thick, -0.4 * thick)])
        made.append((f"Leg.{name}", leg[0] + shift, leg[1], np.full(len(leg[0]), f"Leg.{name}", dtype=object)))
        made.append((f"Shoe.{name}", foot[0] + shift, foot[1], np.full(len(foot[0]), f"Foot.{name}", dtype=object)))
    return made + _grown(person)


def _grown(person):
    size, top = person.head, person.height
    made = []
    if person.hair:
        shell = _ball((0, 0.02 * size, top - 0.3 * size), (0.55 * size, 0.55 * size, 0.3 * size + 0.25))
        made.append(("Hair", *shell, np.full(len(shell[0]), "Hair01" if person.hair == "bone" else "Head", dtype=object)))
    if person.ears:
        for side, name in ((1, "L"), (-1, "R")):
            ear = _loft([(top - 0.15 * size, 0.07 * size, 0.04 * size, 0.0), (top + 0.3 * size, 0.002 * size, 0.002 * size, 0.0)])
            bone = f"Ear.{name}" if person.ears == "bone" else "Head"
            made.append((f"Tuft.{name}", ear[0] + [side * 0.25 * size, 0, 0], ear[1], np.full(len(ear[0]), bone, dtype=object)))
    if person.ponytail:
        tail = _loft([(top - 1.3 * size, 0.03 * size, 0.03 * size, 0.6 * size), (top - 0.3 * size, 0.05 * size, 0.05 * size, 0.4 * size)])
        made.append(("Lock", *tail, np.full(len(tail[0]), "Head", dtype=object)))
    if person.hat:
        brim = _loft([(top - 0.1 * size, 0.5 * size, 0.5 * size, 0.0), (top + 0.5 * size, 0.05 * size, 0.05 * size, 0.0)])
        made.append(("StormHat", *brim, np.full(len(brim[0]), "Head", dtype=object)))
    return made


def _armature(person):
    chin, thick = person.height - person.head, 0.2 * min(person.head, person.height / 3)
    places = {
        "Root": (None, 0, 0, 0.4 * chin), "Spine": ("Root", 0, 0, 0.5 * chin),
        "Neck": ("Spine", 0, 0, chin - person.neck), "Head": ("Neck", 0, 0, chin + 0.06 * person.head),
        "Hair01": ("Head", 0, 0, person.height), "Ear.L": ("Head", 0.2, 0, person.height), "Ear.R": ("Head", -0.2, 0, person.height),
        "Leg.L": ("Root", thick, 0, 0.45 * chin), "Foot.L": ("Leg.L", thick, 0, 0.08 * chin), "Toe.L": ("Foot.L", thick, -thick, 0.0),
        "Leg.R": ("Root", -thick, 0, 0.45 * chin), "Foot.R": ("Leg.R", -thick, 0, 0.08 * chin), "Toe.R": ("Foot.R", -thick, -thick, 0.0),
    }
    bones = tuple(
        Bone(name, parent, np.array([x, y, z]), np.array([x, y, z + 0.05]), np.eye(3)) for name, (parent, x, y, z) in places.items()
    )
    return Armature("Rig", bones, np.eye(4))


def _part(name, points, faces, bones, rigged):
    if not rigged:
        return Part(name, points, faces, Weights.none())
    names, group = np.unique(bones.astype(str), return_inverse=True)
    return Part(name, points, faces, Weights(tuple(names.tolist()), np.arange(len(points)), group.reshape(-1), np.ones(len(points))))


def keeper(person: Person) -> Figure:
    """The figure; worn things are objects of their own, the rest is one mesh unless separate."""
    pieces = _pieces(person)
    apart = {"StormHat"} | ({"Hair"} if person.hair == "object" else set())
    if person.build == "separate":
        apart = {piece[0] for piece in pieces}
    parts = [_part(*piece, person.rigged) for piece in pieces if piece[0] in apart]
    kept = [piece for piece in pieces if piece[0] not in apart]
    if kept:
        starts = np.cumsum([0, *(len(piece[1]) for piece in kept)])
        faces = np.concatenate([piece[2] + start for piece, start in zip(kept, starts, strict=False)])
        whole = ("Mesh", np.concatenate([piece[1] for piece in kept]), faces, np.concatenate([piece[3] for piece in kept]))
        parts.append(_part(*whole, person.rigged))
    return Figure("Keeper", (), tuple(parts), _armature(person) if person.rigged else None)


def moved(figure: Figure, turn=0.0, scale=1.0, by=(0.0, 0.0, 0.0)) -> Figure:
    """The figure turned about the vertical, scaled and moved."""
    matrix = np.eye(4)
    cos, sin = np.cos(turn), np.sin(turn)
    matrix[:3, :3] = scale * np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1]])
    matrix[:3, 3] = by
    parts = tuple(replace(part, points=transform_points(matrix, part.points)) for part in figure.parts)
    armature = figure.armature
    if armature is not None:
        bones = tuple(
            replace(bone, head=transform_points(matrix, bone.head[None])[0], tail=transform_points(matrix, bone.tail[None])[0])
            for bone in armature.bones
        )
        armature = replace(armature, bones=bones)
    return replace(figure, parts=parts, armature=armature)
