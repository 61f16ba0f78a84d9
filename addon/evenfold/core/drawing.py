"""Landmarks marked on a drawing: its heads tall, its levels beside the model's, and the fit of both.

A mark is a place (2,) in the plane of the picture: sideways and up, in any one unit of length.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from .errors import EvenfoldError
from .figure import FloatArray
from .findings import Proportion
from .guides import axes_of
from .spoken import plain_word

COUNTED = ("crown", "chin", "sole")
"""The landmarks without which there is no count."""
WAYS = {"height": ("crown", "sole"), "head": ("crown", "chin"), "all": ()}
"""What a fit goes through; "all" comes as near to every common mark as it can."""
MIDDLE = ("crown", "chin")
"""Landmarks on the middle of the figure; a sole or a knee lies to one side of it."""
FLAT = 0.7
"""A picture whose upright direction rises by less than this share of its length lies down; our choice."""
MOST_TURN = math.radians(20.0)
"""More than this is no crooked scan but a mark in a wrong place; our own choice."""
BEHIND = 0.1
"""How far behind the figure a new picture stands, as a share of the figure's height; our choice."""
LEAST = 1e-9


class DrawingError(EvenfoldError):
    """The drawing cannot be read or fitted as it is."""


class Drawn(NamedTuple):
    """``levels`` are heads down from the crown; ``head`` and ``height`` in the unit of the marks."""

    heads_tall: float
    head: float
    height: float
    levels: dict[str, float]


@dataclass(frozen=True)
class DrawnRow:
    """One landmark of model (here) and drawing (there).

    Heads are each one's own, above its own sole; heights are metres above the model's sole, the
    drawing's at the size and place it is matched to.
    """

    name: str
    heads_here: float
    heads_there: float
    height_here: float
    height_there: float

    @property
    def difference(self) -> float:
        """Heads by which the landmark lies higher on the model."""
        return self.heads_here - self.heads_there


@dataclass(frozen=True)
class PicturePlane:
    """A picture's plane in world space, scene units: ``point`` (3,) and unit directions (3,).

    ``normal`` is the side the picture is seen from; ``up`` is the figure's up direction within
    the plane and ``side`` points right as the picture is seen. ``rise`` is how much of ``up`` goes
    up in the world: 1 for a picture that stands upright, less for one that leans. One that
    ``lies`` has its own upright edge for ``up``.
    """

    point: FloatArray
    side: FloatArray
    up: FloatArray
    normal: FloatArray
    rise: float
    lies: bool = False

    def places(self, points: FloatArray) -> FloatArray:
        """(n, 2) sideways and up of (n, 3) world points, straight onto the plane."""
        away = np.asarray(points, float).reshape(-1, 3) - self.point
        return np.stack([away @ self.side, away @ self.up], axis=1)


@dataclass(frozen=True)
class Fit:
    """Turned by ``turn`` (radians, anticlockwise), times ``scale``, then moved by ``move`` (2,).

    ``used`` are the landmarks the heights went by. ``residuals`` say how much higher each mark
    then lies than the model's landmark, in the unit of the places.
    """

    scale: float
    turn: float
    move: FloatArray
    used: tuple[str, ...]
    residuals: Mapping[str, float]

    def apply(self, places: FloatArray) -> FloatArray:
        """(n, 2) places after the fit."""
        moved = self.scale * _turned(np.asarray(places, float).reshape(-1, 2), self.turn) + self.move
        return np.asarray(moved)

    def matrix(self, plane: PicturePlane) -> FloatArray:
        """(4, 4) world matrix that does the same to everything in the plane and leaves it there."""
        frame = np.stack([plane.side, plane.up, plane.normal], axis=1)
        spin = np.eye(3)
        spin[:2, :2] = _turned(np.eye(2), self.turn).T
        linear = self.scale * frame @ spin @ frame.T
        matrix = np.eye(4)
        matrix[:3, :3] = linear
        matrix[:3, 3] = plane.point - linear @ plane.point + frame[:, :2] @ self.move
        return matrix


def plane_of(to_world: FloatArray, found: Proportion | None = None) -> PicturePlane:
    """The plane of a picture whose ``to_world`` (4, 4) takes its own right and up to the world.

    Up is the figure's, Z without one. Raises DrawingError for a picture without extent.
    """
    matrix, up = np.asarray(to_world, float), axes_of(found or Proportion())[2]
    normal = np.cross(matrix[:3, 0], matrix[:3, 1])
    size = float(np.linalg.norm(normal))
    if not (math.isfinite(size) and size > 1e-18):
        raise DrawingError("The picture has no extent: give it a scale above zero.")
    normal = normal / size
    level = up - normal * (up @ normal)
    rise = float(np.linalg.norm(level))
    lies = rise < FLAT
    if lies:
        level = matrix[:3, 1] - normal * (matrix[:3, 1] @ normal)
    level = level / np.linalg.norm(level)
    return PicturePlane(matrix[:3, 3], np.cross(level, normal), level, normal, rise, lies)


def stand_behind(found: Proportion | None, corners: FloatArray) -> tuple[FloatArray, float]:
    """World matrix (4, 4) and height for a picture behind a figure, facing the figure's front.

    ``corners`` (n, 3) are points around the figure, scene units. The matrix takes right, up and
    towards the viewer to the world, from the middle of the picture's lower edge. Without a figure
    the picture is one unit high and stands on the origin, facing -Y. Raises nothing.
    """
    axes = axes_of(Proportion() if found is None else found)
    matrix = np.eye(4)
    matrix[:3, :3] = axes[[0, 2, 1]].T
    if not len(corners):
        return matrix, 1.0
    framed = np.asarray(corners, float) @ axes.T
    low, high = framed.min(axis=0), framed.max(axis=0)
    height = float(high[2] - low[2]) or 1.0
    matrix[:3, 3] = np.array([(low[0] + high[0]) / 2, low[1] - BEHIND * height, low[2]]) @ axes
    return matrix, height


def read_marks(marks: Mapping[str, FloatArray]) -> Drawn:
    """Heads tall and levels of the drawing. Raises DrawingError with what to mark again."""
    missing = [name for name in COUNTED if name not in marks]
    if missing:
        raise DrawingError(f"Mark {_words(missing)} on the drawing to count its heads.")
    heights = {name: float(np.asarray(place, float)[1]) for name, place in marks.items()}
    for name, height in heights.items():
        if not math.isfinite(height):
            raise DrawingError(f"The {plain_word(name)} is marked nowhere: mark it again.")
    crown, chin, sole = (heights[name] for name in COUNTED)
    least = LEAST * max(abs(value) for value in (crown, chin, sole, crown - sole))
    for upper, lower, word, other in (
        (crown, chin, "chin", "crown"), (chin, sole, "sole", "chin"),
    ):
        if upper - lower <= least:
            where = "at the height of" if abs(upper - lower) <= least else "above"
            raise DrawingError(f"The {word} is marked {where} the {other}: mark both again.")
    for name, height in heights.items():
        if not sole - least <= height <= crown + least:
            where = "above the crown" if height > crown else "below the sole"
            raise DrawingError(f"The {plain_word(name)} is marked {where}: mark it again.")
    head = crown - chin
    heads = (crown - sole) / head
    levels = {name: min(max((crown - height) / head, 0.0), heads) for name, height in heights.items()}
    return Drawn(heads, head, crown - sole, dict(sorted(levels.items(), key=lambda item: item[1])))


def beside_model(found: Proportion, drawn: Drawn, way: str = "height") -> tuple[DrawnRow, ...]:
    """The landmarks both have, from the top, at the size and place the ``way`` of a fit gives.

    The sole only where the fit does not bring both soles together. Raises DrawingError when the model has no count.
    """
    if found.heads_tall is None or not found.head_height or not found.height:
        raise DrawingError("There is nothing to stand beside without a count. " + (found.refusal or ""))
    head, names = found.head_height, [name for name in drawn.levels if name in found.landmarks]
    model = {name: found.landmarks[name].height for name in drawn.levels if name in found.landmarks}
    model.update(sole=0.0, chin=found.height - head, crown=found.height)
    size, rise = _drawn_head(model, drawn, way)
    rows = []
    for name in names:
        if name == "sole" and abs(rise) <= LEAST * found.height:
            continue
        there = drawn.heads_tall - drawn.levels[name]
        rows.append(DrawnRow(name, model[name] / head, there, model[name], there * size + rise))
    return tuple(rows)


def _drawn_head(model: Mapping[str, float], drawn: Drawn, way: str) -> tuple[float, float]:
    """How many metres the drawing's head is high once it is matched this way, and how high its sole lies."""
    names = [name for name in drawn.levels if name in model and name in (WAYS[way] or model)]
    up = np.array([drawn.heads_tall - drawn.levels[name] for name in names])
    return _line(up, np.array([model[name] for name in names]))


def model_places(found: Proportion, plane: PicturePlane) -> dict[str, FloatArray]:
    """Where the model's landmarks would lie in the picture's plane: level with them, by name.

    Raises DrawingError when nothing was counted or the picture lies down.
    """
    if found.heads_tall is None:
        raise DrawingError("The model has no count of heads to match: " + (found.refusal or "measure it first."))
    if plane.lies:
        raise DrawingError("The picture lies down: turn it upright, then match it.")
    places, up = {}, axes_of(found)[2]
    for name, mark in found.landmarks.items():
        point = np.asarray(mark.point, float)
        height = float((point - plane.point) @ up) / plane.rise
        places[name] = np.array([float((point - plane.point) @ plane.side), height])
    return places


def fit_drawing(
    marks: Mapping[str, FloatArray],
    model: Mapping[str, FloatArray],
    way: str = "height",
    *,
    sideways: bool = True,
    straighten: bool = False,
) -> Fit:
    """The scale and move that bring the marks to the model's levels.

    By "height" crown and sole agree exactly: the drawing stands on the model's floor at the
    model's size, so whatever else differs is a difference of proportion. By "head" crown and chin
    agree exactly, by "all" the squares of all differences are least, which spreads a real
    difference over every landmark. ``sideways`` brings crown and chin to the model's middle,
    otherwise the middle of the marks stays; ``straighten`` first turns crown above sole.
    Raises DrawingError.
    """
    read_marks(marks)
    common = [name for name in marks if name in model]
    used = [name for name in common if name in (WAYS[way] or common)]
    wanted = WAYS[way] or COUNTED
    if not set(wanted) <= set(used):
        raise DrawingError(f"The model lacks {_words([n for n in wanted if n not in used])}: measure it again.")
    turn = _crookedness(marks) if straighten else 0.0
    places = {name: _turned(np.asarray(marks[name], float)[None], turn)[0] for name in marks}
    scale, rise = _line(
        np.array([places[name][1] for name in used]), np.array([model[name][1] for name in used])
    )
    if not scale > 0:
        raise DrawingError("The marks stand upside down beside the model: mark crown, chin and sole again.")
    along = _sideways(marks, places, model, scale, sideways)
    move = np.array([along, rise])
    residuals = {
        name: float(scale * places[name][1] + rise - model[name][1]) for name in common
    }
    return Fit(scale, turn, move, tuple(used), residuals)


def _sideways(
    marks: Mapping[str, FloatArray], places: Mapping[str, FloatArray],
    model: Mapping[str, FloatArray], scale: float, sideways: bool,
) -> float:
    names = [name for name in MIDDLE if name in model] if sideways else list(places)
    goal = model if sideways else marks
    wanted = np.mean([goal[name][0] for name in names])
    return float(wanted - scale * np.mean([places[name][0] for name in names]))


def _line(have: FloatArray, want: FloatArray) -> tuple[float, float]:
    """Scale and offset with the least squares of scale * have + offset - want; exact for two."""
    spread, target = have - have.mean(), want - want.mean()
    size = float(spread @ spread)
    scale = float(spread @ target) / size
    return scale, float(want.mean() - scale * have.mean())


def _crookedness(marks: Mapping[str, FloatArray]) -> float:
    """The turn (radians, anticlockwise) that brings the crown straight above the sole."""
    across, rise = np.asarray(marks["crown"], float) - np.asarray(marks["sole"], float)
    turn = math.atan2(across, rise)
    if abs(turn) > MOST_TURN:
        raise DrawingError(
            f"Crown and sole are marked {abs(math.degrees(turn)):.0f}° out of plumb: "
            "mark both on the middle of the figure, or do not straighten."
        )
    return turn


def _turned(places: FloatArray, turn: float) -> FloatArray:
    cos, sin = math.cos(turn), math.sin(turn)
    return np.asarray(places @ np.array([[cos, sin], [-sin, cos]]))


def _words(names: "list[str] | tuple[str, ...]") -> str:
    words = [f"the {plain_word(name)}" for name in names]
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]
