"""Measured proportions and standing figures built from landmark heights."""

from dataclasses import replace

import numpy as np
from evenfold.core.figure import Pin
from evenfold.core.findings import Landmark, Proportion, Span
from evenfold.core.planning.plan import ARM_MARKS, HEAD_MARKS

from .people import Person, keeper


def measured(height, head, levels=(), band=0.0, target=None, spans=(), points=None):
    """A proportion without any measuring; ``levels`` are further heights above the sole.

    ``band`` is how far crown and chin may be off, as a share of the head.
    """
    heights = {"crown": height, "chin": height - head, "sole": 0.0, **dict(levels)}
    places = {} if points is None else points
    marks = {
        name: Landmark(z, np.asarray(places.get(name, (0.0, 0.0, z)), float), "shape", z, z)
        for name, z in heights.items()
    }
    heads = height / head
    low, high = heads * (1 - band), heads * (1 + band)
    within = None if target is None else abs(heads - target) <= 0.05
    zero = np.zeros(3)
    return Proportion(
        heads, low, high, head, height, height, marks, target, within,
        spans={name: Span(length, zero, zero, "shape") for name, length in dict(spans).items()},
        up=np.array([0.0, 0, 1]), forward=np.array([0.0, -1, 0]),
    )


def pinned(heights, person):
    """The person with a pin at each of these heights above the sole."""
    pins = tuple(Pin(name, np.array([0.0, 0.0, z])) for name, z in heights.items())
    return replace(keeper(person), pins=pins)


def standing(stature, head, **more):
    """A rigged figure of this stature and chin-to-crown height, with a neck where there is room."""
    return keeper(Person(height=stature, head=head, neck=0.25 * head if stature / head > 2.5 else 0.0, **more))


def heights_after(plan, heights):
    """Where heights above the sole (n,) come to lie if all between the landmarks is stretched.

    Above the crown the head's scale goes on, below the sole nothing changes. Arms, and what of the
    body lies above the chin, are left aside: at one height they move otherwise than the head does.
    """
    chin = plan.before["chin"]
    pairs = sorted(
        (old, plan.after[name]) for name, old in plan.before.items()
        if name in HEAD_MARKS or (name not in ARM_MARKS and 0.0 <= old < chin)
    )
    old, new = np.array(pairs).T
    above = new[-1] + (heights - old[-1]) * plan.head_after / plan.head_before
    return np.where(heights > old[-1], above, np.where(heights < 0.0, heights, np.interp(heights, old, new)))


def reshaped(figure, plan):
    """The figure with every point and bone moved up or down as the plan says.

    It is widened as the head grows, so that the head keeps its shape.
    """
    def lift(points):
        points = np.array(points, float)
        points[..., :2] *= plan.head_after / plan.head_before
        points[..., 2] = heights_after(plan, points[..., 2])
        return points

    parts = tuple(replace(part, points=lift(part.points)) for part in figure.parts)
    armature = figure.armature
    if armature is not None:
        bones = tuple(replace(b, head=lift(b.head), tail=lift(b.tail)) for b in armature.bones)
        armature = replace(armature, bones=bones)
    pins = tuple(replace(pin, point=lift(pin.point)) for pin in figure.pins)
    return replace(figure, parts=parts, armature=armature, pins=pins)
