"""A figure's picture for the page: outlines from front and side, and where its findings are."""

from dataclasses import dataclass, field

import numpy as np

from .allowances import vertices_of
from .figure import Armature, Figure, FloatArray, IntArray, Surface
from .findings import FigureResult, Finding
from .outline import outlines

MOST_SPOTS, ALL_SPOTS = 48, 450
"""Places shown of one finding and of one figure; more would only hide each other."""
SPOT_CELLS = 150
"""Spots closer together than this part of the figure's size are shown as one."""


@dataclass(frozen=True)
class Portrait:
    """Everything in metres: across (the figure's left positive), forward, and above the sole.

    ``front`` are outlines (n, 2) of across and height, ``side`` of forward and height, to be
    filled by the even-odd rule. ``spots`` has for each object and each finding of the result,
    in their order, places (k, 3) of across, forward and height. ``landmarks`` (3,) by name.
    """

    front: tuple[FloatArray, ...]
    side: tuple[FloatArray, ...]
    spots: tuple[tuple[FloatArray, ...], ...]
    landmarks: dict[str, FloatArray] = field(default_factory=dict)

    @property
    def bounds(self) -> tuple[FloatArray, FloatArray]:
        """Least and greatest across, forward and height (3,) of the outlines."""
        front = np.concatenate([np.zeros((0, 2)), *self.front])
        side = np.concatenate([np.zeros((0, 2)), *self.side])
        if not len(front) or not len(side):
            return np.zeros(3), np.zeros(3)
        low = [front[:, 0].min(), side[:, 0].min(), min(front[:, 1].min(), side[:, 1].min())]
        high = [front[:, 0].max(), side[:, 0].max(), max(front[:, 1].max(), side[:, 1].max())]
        return np.array(low), np.array(high)


@dataclass(frozen=True)
class _Frame:
    """World points to across, forward and height: ``axes`` (3, 3) rows, ``origin`` (3,) along them."""

    axes: FloatArray
    origin: FloatArray
    metres: float

    def place(self, points: FloatArray) -> FloatArray:
        placed: FloatArray = (np.asarray(points, float).reshape(-1, 3) @ self.axes.T - self.origin) * self.metres
        return placed


def portrait_of(figure: Figure, result: FigureResult) -> Portrait | None:
    """The picture of the figure as it was measured; None where it has no extent. Raises nothing."""
    points, triangles = _shape(figure)
    good = np.isfinite(points).all(axis=1)
    if not good.any():
        return None
    frame = _frame(figure, result, points[good])
    with np.errstate(all="ignore"):
        placed = frame.place(points)
        front = outlines(placed[:, [0, 2]], triangles)
        side = outlines(placed[:, [1, 2]], triangles)
        if not front or not side:
            return None
        size = float(np.ptp(placed[good], axis=0).max())
        return Portrait(front, side, _all_spots(figure, result, frame, size), {
            name: frame.place(one.point)[0] for name, one in result.proportion.landmarks.items()
        })


def _shape(figure: Figure) -> tuple[FloatArray, IntArray]:
    """All points and triangles that are measured, in world space."""
    starts = np.cumsum([0, *(len(part.points) for part in figure.parts)])
    points = [np.asarray(part.points, float).reshape(-1, 3) for part in figure.parts]
    faces = [part.triangles + start for part, start in zip(figure.parts, starts, strict=False)]
    return np.concatenate([np.zeros((0, 3)), *points]), np.concatenate([np.zeros((0, 3), np.int64), *faces])


def _frame(figure: Figure, result: FigureResult, points: FloatArray) -> _Frame:
    """The figure's own directions; the sole at 0, the mirror plane (else the middle) at 0 across."""
    found = result.proportion
    up = np.asarray(figure.up if found.up is None else found.up, float)
    forward = np.array([0.0, -1.0, 0.0]) if found.forward is None else np.asarray(found.forward, float)
    up = up / (np.linalg.norm(up) or 1.0)
    forward = forward - up * (forward @ up)
    if np.linalg.norm(forward) < 1e-6:
        forward = np.cross(up, np.array([1.0, 0.0, 0.0]))
    forward = forward / (np.linalg.norm(forward) or 1.0)
    axes = np.stack([np.cross(up, forward), forward, up])
    placed = points @ axes.T
    origin = (placed.min(axis=0) + placed.max(axis=0)) / 2.0
    origin[2] = placed[:, 2].min()
    sole = found.landmarks.get("sole")
    if sole is not None and np.isfinite(sole.point).all():
        origin[2] = float(sole.point @ up)
    if abs(float(result.plane.normal @ axes[0])) > 0.99 and np.isfinite(result.plane.point).all():
        origin[0] = float(result.plane.point @ axes[0])
    return _Frame(axes, origin, figure.metres_per_unit)


def _all_spots(
    figure: Figure, result: FigureResult, frame: _Frame, size: float
) -> tuple[tuple[FloatArray, ...], ...]:
    surfaces = {surface.name: surface for surface in figure.surfaces}
    findings = sum(len(entry.findings) for entry in result.objects)
    most = min(MOST_SPOTS, max(ALL_SPOTS // max(findings, 1), 1))
    return tuple(
        tuple(
            _thinned(frame.place(points), sizes, size, most)
            for points, sizes in (
                _places(one, surfaces.get(entry.name), figure.armature) for one in entry.findings
            )
        )
        for entry in result.objects
    )


def _places(
    finding: Finding, surface: Surface | None, armature: Armature | None
) -> tuple[FloatArray, FloatArray]:
    """World points of a finding's elements and each one's size, NaN where it has none."""
    if finding.kind == "bone" and armature is not None:
        bones = [armature.by_name[name] for name in finding.names if name in armature.by_name]
        points = np.array([(one.head + one.tail) / 2.0 for one in bones]).reshape(-1, 3)
        return points, np.full(len(points), np.nan)
    if surface is None or not finding.count:
        return np.zeros((0, 3)), np.zeros(0)
    if finding.kind == "vertex":
        return surface.world[finding.elements], np.asarray(finding.sizes, float)
    vertices = finding.vertices
    if not len(vertices) and finding.kind in ("edge", "face", "corner"):
        vertices = vertices_of(finding.kind, finding.elements, surface)
    return surface.world[vertices], np.full(len(vertices), np.nan)


def _thinned(points: FloatArray, sizes: FloatArray, size: float, most: int) -> FloatArray:
    """At most ``most`` points that do not lie on each other, the worst first, then spread evenly."""
    good = np.isfinite(points).all(axis=1)
    points, sizes = points[good], sizes[good]
    if not len(points) or not size > 0.0:
        return points[:1]
    order = np.argsort(-np.where(np.isfinite(sizes), sizes, -np.inf), kind="stable")
    points = points[order]
    cells = np.floor(points / (size / SPOT_CELLS)).clip(-1e9, 1e9).astype(np.int64)
    points = points[np.sort(np.unique(cells, axis=0, return_index=True)[1])]
    if len(points) <= most:
        return points
    worst = max(most // 3, 1)
    rest = np.linspace(worst, len(points) - 1, most - worst).astype(np.int64)
    return points[np.concatenate([np.arange(worst), rest])]
