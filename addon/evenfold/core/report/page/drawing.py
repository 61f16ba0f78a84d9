"""Pictures of a figure as SVG: outlines stored once and used in every picture of the page."""

from dataclasses import dataclass

import numpy as np

from ...figure import FloatArray
from ...findings import FigureResult, Proportion
from ...labels import Room, place_labels
from ...portrait import Portrait
from ..as_table import length
from ..plan_text import landmark_words
from .markup import words

UNITS = 1000.0
"""Drawing units along the figure's longest side."""
TEXT, GAP, LEFT_ROOM, RIGHT_ROOM, EDGE = 30.0, 8.0, 95.0, 330.0, 24.0
MOST_UNITS = 40
VIEWS = ("front", "side")


@dataclass(frozen=True)
class Drawn:
    """A portrait in drawing units: ``mark`` begins the names its parts have on the page."""

    mark: str
    portrait: Portrait
    scale: float

    def flat(self, view: str, points: FloatArray) -> FloatArray:
        """(n, 2) drawing units, downward, of places (n, 3): seen from the front, or from the left."""
        across = points[:, 0] if view == "front" else -points[:, 1]
        return np.stack([across, -points[:, 2]], axis=1) * self.scale

    def box(self, view: str) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of the view; the floor is always in it."""
        low, high = self.portrait.bounds
        corners = self.flat(view, np.array([low, high]))
        left, right = sorted(corners[:, 0].tolist())
        return left, min(float(corners[:, 1].min()), 0.0), right, max(float(corners[:, 1].max()), 0.0)


def drawn(portrait: Portrait, mark: str) -> Drawn:
    """The drawing of a figure for the page."""
    low, high = portrait.bounds
    return Drawn(mark, portrait, UNITS / (float((high - low).max()) or 1.0))


def store(one: Drawn) -> str:
    """The figure's outlines and spots, kept unseen for the pictures to use."""
    parts = []
    for view in VIEWS:
        loops = one.portrait.front if view == "front" else one.portrait.side
        turn = 1.0 if view == "front" else -1.0
        shape = "".join(path_of(loop * np.array([turn, -1.0]) * one.scale) for loop in loops)
        parts.append(f'<path id="{one.mark}-{view}" fill-rule="evenodd" d="{shape}"/>')
        for number, spots in enumerate(_flattened(one.portrait.spots)):
            if len(spots):
                dots = "".join(f"M{x} {y}h0" for x, y in _whole(one.flat(view, spots)))
                parts.append(f'<path id="{one.mark}-{view}-{number}" vector-effect="non-scaling-stroke" d="{dots}"/>')
    return f'<svg class="store" width="0" height="0" aria-hidden="true" focusable="false"><defs>{"".join(parts)}</defs></svg>'


def _flattened(spots: tuple[tuple[FloatArray, ...], ...]) -> list[FloatArray]:
    return [one for entry in spots for one in entry]


def _whole(points: FloatArray) -> list[list[int]]:
    found: list[list[int]] = np.rint(points).astype(np.int64).tolist()
    return found


def path_of(points: FloatArray) -> str:
    """One closed outline: a start, then steps."""
    whole = np.rint(points).astype(np.int64)
    steps = np.diff(whole, axis=0)
    steps = steps[(steps != 0).any(axis=1)]
    if len(steps) < 2:
        return ""
    way = " ".join(f"{x} {y}" for x, y in steps.tolist()).replace(" -", "-")
    return f"M{whole[0, 0]} {whole[0, 1]}l{way}z"


def unit_levels(found: Proportion) -> list[tuple[float, str]]:
    """Heights in metres and labels of the head units, counted down from the crown, the floor last."""
    crown = found.landmarks.get("crown")
    known = (found.heads_tall, found.head_height, crown.height if crown else None)
    if crown is None or not found.heads_tall or not found.head_height or not all(map(_is_number, known)):
        return []
    count = min(int(np.floor(found.heads_tall + 1e-6)), MOST_UNITS)
    levels = [(crown.height - step * found.head_height, str(step)) for step in range(count + 1)]
    if levels[-1][0] > 0.1 * found.head_height:
        levels.append((0.0, f"{found.heads_tall:.2f}"))
    return levels


def _is_number(value: float | None) -> bool:
    return value is not None and bool(np.isfinite(value))


def units(found: Proportion, scale: float, left: float, right: float, text: float = TEXT) -> str:
    """Lines a head apart from ``left`` to ``right``, their count at the left end where it has room.

    ``text`` is the height of the count in drawing units.
    """
    lines, counts = [], []
    under = np.inf
    for height, label in reversed(unit_levels(found)):
        y = round(-height * scale)
        lines.append(f"M{left:.0f} {y}H{right:.0f}")
        if under - y >= text:
            counts.append(f'<text class="count" x="{left - 6:.0f}" y="{y}" dy=".35em">{label}</text>')
            under = y
    return f'<path class="unit" d="{"".join(lines)}"/>{"".join(counts)}' if lines else ""


def picture(one: Drawn, result: FigureResult, view: str) -> str:
    """One view with head units, floor, landmarks and all spots; the front names the landmarks."""
    left, top, right, bottom = one.box(view)
    left, top, right, bottom = left - EDGE, top - EDGE, right + EDGE, bottom + EDGE
    room = RIGHT_ROOM if view == "front" else 0.0
    inner = [
        f'<use class="body" href="#{one.mark}-{view}"/>',
        f'<path class="floor" d="M{left:.0f} 0H{right:.0f}"/>',
        units(result.proportion, one.scale, left, right),
        _landmarks(one, result, view, (left, top, right, bottom)),
        *(f'<use class="spot small" href="#{one.mark}-{view}-{number}"/>' for number in with_spots(one)),
    ]
    seen = "from the front" if view == "front" else "from its left"
    box = f"{left - LEFT_ROOM:.0f} {top:.0f} {right - left + LEFT_ROOM + room:.0f} {bottom - top:.0f}"
    return (
        f'<figure><svg role="img" class="view" viewBox="{box}" aria-label="{words(result.name)} {seen}">{"".join(inner)}</svg>'
        f"<figcaption>Seen {seen}</figcaption></figure>"
    )


def with_spots(one: Drawn) -> list[int]:
    """The numbers of findings that have a place in the pictures."""
    return [number for number, spots in enumerate(_flattened(one.portrait.spots)) if len(spots)]


def _landmarks(
    one: Drawn, result: FigureResult, view: str, box: tuple[float, float, float, float]
) -> str:
    marks = {
        name: place for name, place in one.portrait.landmarks.items()
        if np.isfinite(place).all() and np.isfinite(result.proportion.landmarks[name].height)
    }
    if not marks:
        return ""
    names = list(marks)
    places = one.flat(view, np.array([marks[name] for name in names]))
    dots = "".join(f'<circle class="mark" r="7" cx="{x}" cy="{y}"/>' for x, y in _whole(places))
    return dots if view == "side" else dots + _labels(result.proportion, names, places, box)


def _labels(
    found: Proportion, names: list[str], places: FloatArray, box: tuple[float, float, float, float]
) -> str:
    """Names and heights beside the view, none over another, each with a line to its place."""
    _, top, right, bottom = box
    sizes = np.tile([RIGHT_ROOM - 40.0, TEXT], (len(names), 1))
    anchors = np.stack([np.full(len(names), right + 20.0), np.clip(-places[:, 1], -bottom, -top)], axis=1)
    priority = np.array([2 if name in ("crown", "chin", "sole") else 1 for name in names])
    room = Room(right, -bottom, right + RIGHT_ROOM, -top)
    corners = place_labels(anchors, sizes, np.ones(len(names), bool), priority, room, GAP)
    made = []
    for name, (x, y), (at, low) in zip(names, _whole(places), corners.tolist(), strict=True):
        if np.isfinite(low):
            base = round(-low - 8.0)
            made.append(
                f'<path class="lead" d="M{x} {y}H{right:.0f}L{at - 4:.0f} {base - 10}"/>'
                f'<text class="label" x="{at:.0f}" y="{base}">{words(landmark_words(name))} {length(found.landmarks[name].height)}</text>'
            )
    return "".join(made)


def thumbs(one: Drawn, number: int) -> str:
    """Front and side with the spots of one finding."""
    made = []
    for view in VIEWS:
        left, top, right, bottom = one.box(view)
        box = f"{left - EDGE:.0f} {top - EDGE:.0f} {right - left + 2 * EDGE:.0f} {bottom - top + 2 * EDGE:.0f}"
        made.append(
            f'<svg role="img" class="thumb" viewBox="{box}" aria-label="where, {view}">'
            f'<use class="body" href="#{one.mark}-{view}"/><use class="spot" href="#{one.mark}-{view}-{number}"/></svg>'
        )
    return "".join(made)
