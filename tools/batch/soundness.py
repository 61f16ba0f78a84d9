"""Whether the parts of a record fit together, so that no report can fail over it."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
from evenfold.core.findings import (
    FigureResult,
    FileResult,
    Finding,
    Landmark,
    MirrorPlane,
    Proportion,
    Readiness,
    Span,
)
from evenfold.core.portrait import Portrait

LEVELS = frozenset({"error", "warning", "note"})


def sound(record: object) -> bool:
    """False for a record that no check makes: counts that differ, points that are none."""
    test = _TESTS.get(type(record))
    return test is None or bool(test(record))


def _finding(one: Finding) -> bool:
    count = one.elements.shape
    named = not one.names or (len(one.names),) == count
    partners = not one.partner_names or len(one.partner_names) == len(one.names)
    return len(count) == 1 and one.partners.shape == one.sizes.shape == count and named and partners and one.vertices.ndim == 1


def _portrait(one: Portrait) -> bool:
    return (
        all(loop.ndim == 2 and loop.shape[1] == 2 and np.isfinite(loop).all() for loop in (*one.front, *one.side))
        and all(spots.ndim == 2 and spots.shape[1] == 3 for entry in one.spots for spots in entry)
        and all(map(_is_point, one.landmarks.values()))
    )


def _figure(one: FigureResult) -> bool:
    """A portrait shows the landmarks that were found, and has places for each finding."""
    if one.portrait is None:
        return True
    places = [len(entry) for entry in one.portrait.spots]
    return one.portrait.landmarks.keys() <= one.proportion.landmarks.keys() and places == [len(entry.findings) for entry in one.objects]


def _is_point(place: "np.ndarray | None") -> bool:
    return place is None or place.shape == (3,)


_TESTS: dict[type, Callable[[Any], bool]] = {
    FileResult: lambda one: math.isfinite(one.seconds) and one.seconds >= 0,
    FigureResult: _figure,
    Finding: _finding,
    Landmark: lambda one: _is_point(one.point),
    MirrorPlane: lambda one: _is_point(one.point) and _is_point(one.normal),
    Portrait: _portrait,
    Proportion: lambda one: _is_point(one.up) and _is_point(one.forward),
    Readiness: lambda one: one.level in LEVELS,
    Span: lambda one: _is_point(one.start) and _is_point(one.end),
}
