"""Findings as pictures: marks on the model with a legend, and a ring around the step looked at."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

import bpy
import numpy as np

from ...core.findings import FigureResult
from ...core.marks import DOT_SIZES, Marks, marks_of, step_text
from ...host.named import find
from .. import looking, state
from ..words import amount
from . import palette
from .buffers import OUTLINE_WIDTH
from .records import DARK, Colour, Dots, Label, Legend, Picture, Strokes, View, patterned

RING: Colour = (1.0, 1.0, 1.0, 1.0)
RING_ALONE, RING_MANY, RING_LINE, LABEL_OFF = 15.0, 10.0, 4.0, 9.0
STALE = "The last full check is out of date: check again."
NOT_YET = "Step to a finding to see it marked."
DOTS_BEHIND, LINES_BEHIND = 0.18, 0.3
DOT_BROADER, LINE_BROADER = 4.0, 4.0
"""Pixels by which a mark with a pattern is broader; our choice."""


@dataclass(frozen=True)
class _Made:
    """The picture, the result it was made from, and what was chosen then."""

    check: FigureResult
    chosen: tuple[Any, ...]
    picture: Picture | None


_marked: dict[int, _Made] = {}
_stepped: dict[int, _Made] = {}


def source(scene: bpy.types.Scene) -> Picture | None:
    """The marks of the findings; the same record until something has changed."""
    results = state.of(scene)
    if results is None or results.check is None or results.looking is None:
        _marked.pop(scene.session_uid, None)
        return None
    settings = scene.evenfold_findings
    if not settings.show:
        _marked.pop(scene.session_uid, None)
        return None
    only = results.looking.at if settings.kinds == "ONE" else None
    chosen = (results.stale, settings.kinds, only, _in_sight(scene, results.check), palette.current())
    kept = _marked.get(scene.session_uid)
    if kept is None or kept.check is not results.check or kept.chosen != chosen:
        kept = _Made(results.check, chosen, _picture(scene, results, only, chosen))
        _marked[scene.session_uid] = kept
    return kept.picture


def step_source(scene: bpy.types.Scene) -> Picture | None:
    """A ring around what is looked at; the same record until something has changed."""
    results, now = state.of(scene), looking.seen(scene)
    if results is None or now is None or results.stale or not scene.evenfold_findings.show:
        _stepped.pop(scene.session_uid, None)
        return None
    seen = now.entry.name in _in_sight(scene, results.check)
    chosen = (results.looking.at, now.step, seen, palette.current())
    kept = _stepped.get(scene.session_uid)
    if kept is None or kept.check is not results.check or kept.chosen != chosen:
        picture = _ring(scene, now) if seen else None
        kept = _Made(results.check, chosen, picture)
        _stepped[scene.session_uid] = kept
    return kept.picture


def forget() -> None:
    _marked.clear()
    _stepped.clear()
    looking.forget()


def _in_sight(scene: bpy.types.Scene, check: FigureResult) -> frozenset[str]:
    """The names of the checked objects that are shown; a hidden object has no marks."""
    found = ((entry.name, find(scene.objects, entry.name)) for entry in check.objects)
    return frozenset(name for name, item in found if item is not None and item.visible_get())


def _picture(
    scene: bpy.types.Scene, results: state.SceneResults, only: Any, chosen: tuple[Any, ...]
) -> Picture:
    stale, kinds, _, objects, _ = chosen
    if stale:
        return Picture((), Legend(STALE))
    if kinds == "ONE" and only is None:
        return Picture((), Legend(NOT_YET))
    marks = marks_of(
        results.check, results.looking.laid, partial(amount, scene), only=only, objects=objects
    )
    return picture_of(marks)


def picture_of(marks: Marks) -> Picture:
    """Lines under dots, the worst dots on top; all a little nearer than the surface they mark."""
    own = palette.current()
    lift = DOT_SIZES[-1] * own.dot_size
    strokes = tuple(
        Strokes(line.segments, np.tile(np.array(colour), (len(line.segments), 1)), width * own.line_width, LINES_BEHIND, lift)
        for line in marks.lines
        for width, colour in _layers(line.width, own.of_mark(line.colour), line.pattern, LINE_BROADER)
    )
    dots = tuple(
        Dots(dot.points, np.tile(np.array(colour), (len(dot.points), 1)), size * own.dot_size, DOTS_BEHIND, lift)
        for dot in marks.dots
        for size, colour in _layers(dot.size, own.of_mark(dot.colour), dot.pattern, DOT_BROADER)
    )
    legend = tuple((own.of_mark(colour), words) for colour, words in marks.legend)
    return Picture((View(strokes, dots),), Legend(marks.title, legend, marks.patterns))


def _layers(breadth: float, colour: Colour, pattern: str, broader: float) -> Iterator[tuple[float, Colour]]:
    """Breadths in pixels and colours, the undermost first; a pattern needs more room than a full mark.

    Every layer has a dark outline of its own, which counts to what is dark.
    """
    whole = breadth if pattern == "full" else breadth + broader
    for share, own in patterned(colour, pattern):
        dark = own == DARK and share < 1.0
        yield max(share * whole - (2.0 * OUTLINE_WIDTH if dark else 0.0), 0.5), own


def _ring(scene: bpy.types.Scene, now: looking.Seen) -> Picture | None:
    """A ring at each place of the step, and where one is in words beside it."""
    around = now.laid.around(now.step)
    if around is None:
        return None
    rows = now.laid.rows(now.step)
    lines = now.laid.lines[np.isin(now.laid.of_line, rows)]
    points = now.laid.points[np.isin(now.laid.of_point, rows)]
    own = palette.current()
    lift = DOT_SIZES[-1] * own.dot_size
    size = (RING_ALONE if len(points) == 1 else RING_MANY) * own.dot_size
    dots = (Dots(points, np.tile(np.array(RING), (len(points), 1)), size, 0.5, lift),)
    rings = np.tile(np.array(RING), (len(lines), 1))
    strokes = (Strokes(lines, rings, RING_LINE * own.line_width, 0.5, lift),)
    text = step_text(now.finding, now.laid, now.step, partial(amount, scene))
    anchor = points[0] if len(points) == 1 else around[0]
    label = Label(text, anchor, np.array([0.0, 0.0, 1.0]), RING, 9, LABEL_OFF)
    return Picture((View(strokes, dots, (label,)),))
