"""Guides: plain lines and labels that show heads, landmarks and a target beside a figure."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from .figure import FloatArray
from .findings import Landmark, Proportion
from .spoken import landmark_words, plain_word

MARGIN = 0.06
"""How far the lines reach beyond the figure, as a share of its height; our own choice."""
TICK = 0.05
CROSS = 0.015
DASHES = 24
MOST_HEADS = 100
WHOLE = 0.005
"""A last head that misses a whole one by less than this is not called partial; shown as 0.00."""
MAIN = ("crown", "eye_line", "chin", "shoulder", "crotch", "knee", "sole")
"""The landmarks that are shown unless all are asked for: more would cover a small figure."""
SAME = 0.002
"""Share of the height within which a landmark is at its target: under two pixels on a screen."""


@dataclass(frozen=True)
class GuideLabel:
    """``anchor`` (3,) in world space, scene units; ``outward`` (3,) unit, away from the figure.

    ``kind`` is head, partial, landmark or target.
    """

    text: str
    kind: str
    anchor: FloatArray
    outward: FloatArray


@dataclass(frozen=True)
class GuidePlane:
    """Lines in one plane through the figure's middle: ``normal`` (3,) unit, towards the viewer.

    ``segments`` (k, 2, 3) in world space, scene units; ``kinds`` (k,) head, partial, ruler,
    landmark or target. Lines of the kinds partial and target are dashed already.
    """

    normal: FloatArray
    segments: FloatArray
    kinds: tuple[str, ...]
    labels: tuple[GuideLabel, ...]


@dataclass(frozen=True)
class Guides:
    """The same guides twice: in the plane that faces the front, and in that of the side view.

    ``size`` is the figure's height in scene units.
    """

    front: GuidePlane
    side: GuidePlane
    up: FloatArray
    size: float


@dataclass(frozen=True)
class _Levels:
    """Heights along ``up`` in scene units; ``head`` is None where there is no honest count."""

    sole: float | None
    crown: float | None
    head: float | None
    units_per_metre: float


def axes_of(found: Proportion) -> FloatArray:
    """(3, 3) rows: the figure's side (left positive), forward and up as unit vectors.

    Where the proportion does not say, up is Z and forward is -Y.
    """
    up = _unit(found.up, (0.0, 0.0, 1.0))
    given = np.array([0.0, -1.0, 0.0]) if found.forward is None else np.asarray(found.forward, float)
    flat = given - up * (given @ up)
    if np.linalg.norm(flat) < 1e-6:
        least = np.eye(3)[int(np.argmin(np.abs(up)))]
        flat = least - up * (least @ up)
    forward = flat / np.linalg.norm(flat)
    return np.stack([np.cross(up, forward), forward, up])


def make_guides(
    found: Proportion,
    corners: FloatArray | None = None,
    target: Mapping[str, float] | None = None,
    *,
    heads: bool = True,
    landmarks: bool = True,
    every: bool = True,
) -> Guides:
    """Lines and labels for what was measured: heads and targets are labelled on one side, landmarks on the other.

    ``corners`` (n, 3) are points around the figure in world space, scene units: the lines
    reach a little beyond them; without them the width is guessed from the landmarks.
    ``target`` gives heights in metres above the sole by landmark name; a landmark that is there
    already gets no second line. Without ``every`` only the main landmarks are shown. What
    cannot be placed is left out; the planes may be empty. Raises nothing.
    """
    axes = axes_of(found)
    levels = _levels_of(found, axes[2])
    target = {name: one for name, one in (target or {}).items() if every or name in MAIN}
    centre, halves = _extent(found, corners, axes, levels)
    planes = []
    for axis, normal, half in ((axes[0], axes[1], halves[0]), (axes[1], axes[0], halves[1])):
        plane = _Plane(centre, axis, axes[2], half, _size(found, axes[2], levels))
        if heads and levels.head is not None:
            _add_heads(plane, levels)
        if landmarks:
            for name, landmark in found.landmarks.items():
                if not every and name not in MAIN:
                    continue
                _add_landmark(plane, name, landmark, levels)
        if target and levels.sole is not None:
            for name, height in target.items():
                level = levels.sole + height * levels.units_per_metre
                if not _is_there(found.landmarks.get(name), level, axes[2], plane.size):
                    _add_target(plane, name, level)
        planes.append(plane.made(normal))
    return Guides(planes[0], planes[1], axes[2], _size(found, axes[2], levels))


class _Plane:
    """Collects the lines of one plane; levels are heights along ``up`` in scene units."""

    def __init__(
        self, centre: FloatArray, axis: FloatArray, up: FloatArray, half: float, size: float
    ) -> None:
        self.base = centre - up * (centre @ up)
        self.axis, self.up, self.half, self.size = axis, up, half, size
        self.segments: list[FloatArray] = []
        self.kinds: list[str] = []
        self.labels: list[GuideLabel] = []

    def place(self, along: float, level: float) -> FloatArray:
        return np.asarray(self.base + self.axis * along + self.up * level)

    def line(self, kind: str, start: FloatArray, end: FloatArray, pieces: int = 1) -> None:
        """A line; more pieces make as many dashes."""
        steps = np.linspace(0.0, 1.0, 2 * pieces)[:, None]
        ends = (start + (end - start) * steps).reshape(-1, 2, 3)
        self.segments.append(ends)
        self.kinds += [kind] * len(ends)

    def across(self, kind: str, level: float, dashed: bool = False) -> None:
        ends = self.place(-self.half, level), self.place(self.half, level)
        self.line(kind, *ends, pieces=DASHES if dashed else 1)

    def label(self, text: str, kind: str, along: float, level: float) -> None:
        outward = self.axis * (1.0 if along > 0 else -1.0)
        self.labels.append(GuideLabel(text, kind, self.place(along, level), outward))

    def made(self, normal: FloatArray) -> GuidePlane:
        joined = np.concatenate(self.segments) if self.segments else np.zeros((0, 2, 3))
        return GuidePlane(normal, joined, tuple(self.kinds), tuple(self.labels))


def _add_heads(plane: _Plane, levels: _Levels) -> None:
    """A line every head from the crown down, the sole's line dashed if the last is a part."""
    if levels.crown is None or levels.sole is None or levels.head is None:
        return
    count = (levels.crown - levels.sole) / levels.head
    whole = min(int(count + WHOLE), MOST_HEADS)
    rest = count - whole
    for number in range(whole + 1):
        level = levels.crown - number * levels.head
        plane.across("head", level)
        if number < whole:
            plane.label(f"Head {number + 1}", "head", -plane.half, level - levels.head / 2)
    if rest > WHOLE:
        plane.across("partial", levels.sole, dashed=True)
        middle = levels.sole + rest * levels.head / 2
        plane.label(f"{rest:.2f} of a head", "partial", -plane.half, middle)
    top, bottom = plane.place(-plane.half, levels.crown), plane.place(-plane.half, levels.sole)
    plane.line("ruler", top, bottom)


def _add_landmark(plane: _Plane, name: str, landmark: Landmark, levels: _Levels) -> None:
    """A tick at the edge, a small cross where it was found, and its name and height."""
    point = np.asarray(landmark.point, float)
    level = float(point @ plane.up)
    reach = TICK * plane.size
    end = plane.half + reach
    plane.line("landmark", plane.place(plane.half - reach, level), plane.place(end, level))
    for direction in (plane.axis, plane.up):
        arm = direction * CROSS * plane.size
        plane.line("landmark", point - arm, point + arm)
    text = landmark_words(name)
    if levels.head is not None and levels.sole is not None:
        text += f" {(level - levels.sole) / levels.head + 0.0:.2f} heads"
    plane.label(text, "landmark", end, level)


def _add_target(plane: _Plane, name: str, level: float) -> None:
    plane.across("target", level, dashed=True)
    plane.label(f"Target {plain_word(name)}", "target", -plane.half, level)


def _is_there(landmark: Landmark | None, level: float, up: FloatArray, size: float) -> bool:
    """Whether the landmark is at its target already, so that a second line would only cover it."""
    if landmark is None:
        return False
    return abs(float(np.asarray(landmark.point, float) @ up) - level) < SAME * size


def _unit(vector: FloatArray | None, instead: tuple[float, float, float]) -> FloatArray:
    given = np.asarray(instead if vector is None else vector, float)
    length = float(np.linalg.norm(given))
    return given / length if length > 1e-9 else np.asarray(instead, float)


def _levels_of(found: Proportion, up: FloatArray) -> _Levels:
    known = {name: float(np.asarray(mark.point, float) @ up) for name, mark in found.landmarks.items()}
    crown, chin, sole = (known.get(name) for name in ("crown", "chin", "sole"))
    if found.heads_tall is None or crown is None or chin is None or sole is None:
        return _Levels(sole, crown, None, 1.0)
    if not crown > chin > sole:
        return _Levels(sole, crown, None, 1.0)
    metres = found.landmarks["crown"].height - found.landmarks["sole"].height
    return _Levels(sole, crown, crown - chin, (crown - sole) / metres if metres > 0 else 1.0)


def _size(found: Proportion, up: FloatArray, levels: _Levels) -> float:
    """The figure's height in scene units, as well as it is known."""
    if levels.crown is not None and levels.sole is not None and levels.crown > levels.sole:
        return levels.crown - levels.sole
    heights = [float(np.asarray(mark.point, float) @ up) for mark in found.landmarks.values()]
    return max(max(heights) - min(heights), 1e-3) if heights else 1.0


def _extent(
    found: Proportion, corners: FloatArray | None, axes: FloatArray, levels: _Levels
) -> tuple[FloatArray, tuple[float, float]]:
    """The middle (3,) in world space and half the width along side and forward, with margin."""
    size = _size(found, axes[2], levels)
    if corners is not None and len(corners):
        framed = np.asarray(corners, float) @ axes.T
        low, high = framed.min(axis=0), framed.max(axis=0)
        half = (high - low) / 2 + MARGIN * size
        return ((low + high) / 2) @ axes, (float(half[0]), float(half[1]))
    points = [np.asarray(mark.point, float) for mark in found.landmarks.values()]
    centre = np.mean(points, axis=0) if points else np.zeros(3)
    return centre, (0.4 * size, 0.4 * size)
