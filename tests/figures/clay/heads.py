"""Heads in head heights: the form itself, and what grows on or is put upon it."""

import numpy as np

from .fields import Block, Carved, Egg, Limb, Ring


def head_form(rng, one):
    """The bodies of the head without anything grown, the cranium first and the jaw second.

    A ball has no jaw: its list has one body. Crown at ``one.heads``, chin near one below.
    """
    top = one.heads
    if one.face == "ball":
        radii = (rng.uniform(0.45, 0.65), rng.uniform(0.42, 0.6), 0.5)
        return [Egg((0.0, rng.uniform(-0.05, 0.03), top - 0.5), radii, "head", 0.05)]
    wide = rng.uniform(0.42, 0.62) if one.heads < 3 else rng.uniform(0.34, 0.44)
    deep = rng.uniform(0.42, 0.58) if one.heads < 3 else rng.uniform(0.4, 0.48)
    tall, tilt = rng.uniform(0.36, 0.44), rng.uniform(-0.25, 0.25)
    skull = Egg((0.0, 0.02, 0.0), (wide, deep, tall), "head", 0.05, tilt)
    lift = top - skull.extreme(1)[2]
    skull = Egg((0.0, 0.02, float(lift)), (wide, deep, tall), "head", 0.05, tilt)
    tip, back = rng.uniform(0.08, 0.18), rng.uniform(0.2, 0.28)
    ahead = deep * rng.uniform(0.75, 0.97) - tip
    jaw = Limb((0.0, 0.0, top - 0.62), (0.0, -ahead, top - 1 + tip), (back, tip), "head", 0.1, rng.uniform(1.0, 1.6))
    form = [skull, jaw]
    if one.face == "cheeks":
        form += [
            Egg((side * wide * 0.5, -deep * 0.45, top - 0.66), (0.2, 0.2, 0.2), "head", 0.12) for side in (-1, 1)
        ]
    if one.face == "muzzle":
        form.append(Limb((0.0, -deep * 0.6, top - 0.66), (0.0, -deep - rng.uniform(0.05, 0.3), top - 0.7), (0.2, 0.12), "head", 0.1, 1.2))
    elif rng.random() < 0.7:
        form.append(Egg((0.0, -deep * 0.98, top - 0.58), (0.05, 0.08, 0.07), "head", 0.04))
    return form


def ears_of(rng, one, skull):
    """Ears or horns; the bones are named for the side they are on."""
    wide, top = skull.radii[0], one.heads
    found = []
    for side, hand in ((1, "L"), (-1, "R")):
        bone = f"ear.{hand}"
        foot = (side * wide * 0.6, 0.05, top - 0.14)
        if one.ears == "human":
            found.append(Egg((side * wide * 1.0, 0.05, top - 0.52), (0.06, 0.1, 0.14), "head", 0.04))
        elif one.ears == "cat":
            found.append(Limb(foot, (side * wide * 0.85, 0.05, top + rng.uniform(0.1, 0.3)), (0.15, 0.03), bone, 0.05))
        elif one.ears == "rabbit":
            found.append(Limb((side * wide * 0.4, 0.05, top - 0.1), (side * wide * 0.6, 0.1, top + rng.uniform(0.4, 1.0)), (0.1, 0.08), bone, 0.05))
        elif one.ears == "horns":
            found.append(Limb((side * wide * 0.5, -0.1, top - 0.1), (side * wide * 0.9, -0.15, top + 0.2), (0.08, 0.02), bone, 0.03))
        elif one.ears == "floppy":
            knee = (side * (wide + 0.12), 0.05, top - 0.3)
            end = (side * (wide + 0.14), -0.02, top - rng.uniform(0.9, 1.25))
            found += [Limb(foot, knee, (0.1, 0.1), bone, 0.04), Limb(knee, end, (0.1, 0.12), bone, 0.04)]
    return found


def hair_of(rng, one, skull):
    """A shell around the skull with a face opening, and locks or a tail of hair."""
    grow = rng.uniform(1.08, 1.2)
    a, b, c = skull.radii
    raised = (skull.at[0], skull.at[1] + 0.05, skull.at[2] + rng.uniform(0.0, 0.06))
    shell = Egg(raised, (a * grow, b * grow, c * grow), "hair", 0.04, skull.tilt)
    opening = Block(
        (0.0, -b - 0.6, one.heads - 0.85), (a * rng.uniform(0.7, 0.9), 0.6 + 0.5 * b, rng.uniform(0.45, 0.55)), "hair", 0.02, 0.05
    )
    nape = Block((0.0, 0.0, one.heads - 2.8), (2.0, 2.0, 2.0), "hair", 0.02, 0.02)
    found = [Carved(Carved(shell, opening), nape)]
    kind = rng.choice(["short", "locks", "tail", "spikes"])
    if kind == "locks":
        for side in (-1, 1):
            start = (side * a * 1.0, 0.05, one.heads - 0.5)
            end = (side * a * 1.05, 0.05, one.heads - rng.uniform(0.9, 1.4))
            found.append(Limb(start, end, (0.1, 0.05), "hair", 0.05))
    elif kind == "tail":
        found.append(Limb((0.0, b, one.heads - 0.2), (0.0, b + 0.4, one.heads - rng.uniform(0.8, 1.3)), (0.12, 0.06), "hair", 0.05))
    elif kind == "spikes":
        found += [
            Limb((x * a, 0.1, one.heads), (x * a * 1.4, 0.1 + rng.uniform(-0.1, 0.2), one.heads + rng.uniform(0.15, 0.35)), (0.12, 0.02), "hair", 0.05)
            for x in (-0.6, 0.0, 0.6)
        ]
    return found


def hat_of(rng, one, skull):
    """A dome with a brim that covers the crown."""
    a, b, _ = skull.radii
    low = one.heads - 0.2
    round_ = max(a, b)
    return [
        Egg((0.0, skull.at[1], low), (a * 1.02, b * 1.02, 0.2 + rng.uniform(0.06, 0.3)), "hat", 0.03),
        Ring((0.0, skull.at[1], low), round_ * 1.05, 0.09, "hat", 0.03, 0.5),
    ]


def crown_and_chin(form, field_at):
    """Crown and chin points in the sculpting frame, from the bodies' own sizes."""
    crown = form[0].extreme(1)
    if len(form) == 1:
        return crown, form[0].extreme(-1)
    start, end = np.array(form[1].start), np.array(form[1].end)
    front, rear = end[1] - form[1].thick[1], start[1] + form[1].thick[0]
    ys = np.linspace(front, front + (rear - front) / 3, 90)
    zs = np.linspace(end[2] - 0.25, end[2] + 0.3, 1101)
    grid = np.stack(np.meshgrid([0.0], ys, zs, indexing="ij"), axis=-1)[0]
    values = field_at(form, grid.reshape(-1, 3)).reshape(len(ys), len(zs))
    inside = values < 0
    rows = np.flatnonzero(inside.any(axis=1) & ~inside[:, 0])
    first = inside[rows].argmax(axis=1)
    over, under = values[rows, first], values[rows, first - 1]
    heights = zs[first] - (zs[1] - zs[0]) * (-over / (under - over))
    lowest = int(heights.argmin())
    return crown, np.array([0.0, ys[rows[lowest]], heights[lowest]])
