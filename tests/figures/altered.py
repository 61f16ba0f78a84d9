"""Changes to invented figures: bones and parts are added, points follow another bone, heads get other rings."""

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np
from evenfold.core.figure import Armature, Bone, Figure, Part, Weights

from .people import AROUND, Person, _head, _loft, keeper


def with_bones(figure: Figure, *rows: tuple) -> Figure:
    """``rows`` of (name, parent, head, tail) are added, or take the place of the bones so called."""
    made = {name: Bone(name, parent, np.array(head, float), np.array(tail, float), np.eye(3)) for name, parent, head, tail in rows}
    old = () if figure.armature is None else figure.armature.bones
    bones = (*(made.pop(bone.name, bone) for bone in old), *made.values())
    return replace(figure, armature=Armature("Rig", bones, np.eye(4)))


def following(part: Part, bone: str, share: np.ndarray) -> Part:
    """``part`` with ``bone`` holding the ``share`` (n,) of each point, and the others the rest."""
    old = part.weights
    keep = (1 - share)[old.vertex]
    names = (*old.names, bone)
    rows = np.flatnonzero(share > 0)
    weights = Weights(
        names, np.concatenate([old.vertex, rows]), np.concatenate([old.group, np.full(len(rows), len(names) - 1)]),
        np.concatenate([old.weight * keep, share[rows]]),
    )
    return replace(part, weights=weights)


def where(figure: Figure, bone: str, chosen: Callable[[np.ndarray], np.ndarray], only: Iterable[str] = ()) -> Figure:
    """What ``chosen`` says of the points (n, 3), true or a share, follows ``bone``; in the parts ``only``, or in all."""
    names = set(only) or {part.name for part in figure.parts}
    parts = [following(part, bone, np.asarray(chosen(part.points), float)) if part.name in names else part for part in figure.parts]
    return replace(figure, parts=tuple(parts))


def carried(name: str, form: tuple, bone: str | None, materials: tuple[str, ...] = ()) -> Part:
    """A part of (points, triangles) that follows ``bone`` alone."""
    points, faces = form
    count = len(points)
    weights = Weights.none() if bone is None else Weights((bone,), np.arange(count), np.zeros(count, np.int64), np.ones(count))
    return Part(name, points, faces, weights, materials, np.zeros(len(faces), np.int64))


def with_parts(figure: Figure, *parts: Part) -> Figure:
    """``parts`` are added, or take the place of the parts so called."""
    named = {part.name for part in parts}
    return replace(figure, parts=(*(part for part in figure.parts if part.name not in named), *parts))


def with_head(person: Person, below: list[tuple], *, joined: bool = False) -> Figure:
    """A keeper whose head's lowest rings, all but the chin's and those over it, are ``below``; each ring is
    (height under the chin, half width, half depth, centre forward) in heads. They follow the neck."""
    figure = keeper(replace(person, build="separate"))
    chin, size = person.height - person.head, person.head
    kept = _head(person)[2:]
    rings = [(chin - under * size, wide * size, deep * size, ahead * size) for under, wide, deep, ahead in below]
    form = _loft([*rings, *kept])
    part = carried("Head", form, "Head")
    if joined or person.rigged:
        low = np.arange(len(form[0])) < AROUND * len(rings)
        low[-2] = True
        part = following(part, "Neck", low.astype(float))
    return with_parts(figure, part if person.rigged else replace(part, weights=Weights.none()))
