"""The guides as a picture: colours for each kind of line, made anew only after a change."""

from dataclasses import dataclass

import bpy
import numpy as np

from ...core.figure import FloatArray
from ...core.findings import Proportion
from ...core.guides import GuidePlane, Guides, make_guides
from ...core.planning.plan import Plan
from ...host.read.bounds import corners_of
from .. import state
from . import palette
from .palette import Palette
from .records import Label, Legend, Picture, Strokes, View

STALE = "Guides as last measured"
KIND_COLOURS = {
    "head": "head", "partial": "head", "ruler": "head", "landmark": "landmark", "target": "target",
}
"""Which of the palette's colours a kind of line has; dashes tell the target apart once more."""
MEANINGS = (
    ("head", "a line every head, from the crown down"),
    ("landmark", "landmarks, in heads above the sole"),
    ("target", "dashed: where the plan puts the landmarks"),
)
"""What each colour means, for the legend."""
WIDTH = 2.0
PRIORITY = {"landmark": 3, "target": 2, "partial": 1, "head": 0}


@dataclass(frozen=True)
class _Made:
    """The picture and what it was made from."""

    proportion: Proportion
    plan: Plan | None
    shown: tuple[bool, ...]
    stale: bool
    corners: FloatArray
    colours: Palette
    picture: Picture


_made: dict[int, _Made] = {}


def guides_of(scene: bpy.types.Scene, corners: FloatArray | None = None) -> Guides | None:
    """The guides the panel asks for, None before measuring."""
    results, chosen = state.of(scene), scene.evenfold_guides
    if results is None or results.proportion is None:
        return None
    if corners is None:
        corners = corners_of(scene, tuple(results.marks))
    target = results.plan.after if chosen.target and results.plan is not None else {}
    return make_guides(
        results.proportion, corners, target, heads=chosen.heads, landmarks=chosen.landmarks,
        every=chosen.every,
    )


def source(scene: bpy.types.Scene) -> Picture | None:
    """The picture of the scene's guides; the same record until something has changed."""
    results, chosen = state.of(scene), scene.evenfold_guides
    if results is None or results.proportion is None or not chosen.show or _is_gone(scene, results):
        _made.pop(scene.session_uid, None)
        return None
    shown = (chosen.heads, chosen.landmarks, chosen.target, chosen.every)
    kept, colours = _made.get(scene.session_uid), palette.current()
    corners = None
    if kept is not None and kept.proportion is results.proportion:
        same = (kept.shown, kept.stale) == (shown, results.stale) and kept.plan is results.plan
        if same and kept.colours is colours:
            return kept.picture
        corners = kept.corners
    if corners is None:
        corners = corners_of(scene, tuple(results.marks))
    guides = guides_of(scene, corners)
    if guides is None:
        return None
    picture = picture_of(guides, stale=results.stale)
    made = _Made(
        results.proportion, results.plan, shown, results.stale, corners, colours, picture
    )
    _made[scene.session_uid] = made
    return made.picture


def _is_gone(scene: bpy.types.Scene, results: state.SceneResults) -> bool:
    """Whether nothing that was measured is in the scene any more."""
    return bool(results.marks) and not any(name in scene.objects for name in results.marks)


def forget() -> None:
    _made.clear()


def picture_of(guides: Guides, *, stale: bool = False) -> Picture:
    """Both planes with a legend, whose title says so where they are out of date."""
    colours = palette.current()
    return Picture(
        (_view(guides.front, colours), _view(guides.side, colours)),
        _legend(guides.front, colours, stale=stale), guides.up,
    )


def _legend(plane: GuidePlane, colours: Palette, *, stale: bool) -> Legend:
    shown = {KIND_COLOURS[kind] for kind in plane.kinds}
    entries = tuple((getattr(colours, name), words) for name, words in MEANINGS if name in shown)
    return Legend(STALE if stale else "Guides", entries)


def _view(plane: GuidePlane, colours: Palette) -> View:
    own = {kind: getattr(colours, name) for kind, name in KIND_COLOURS.items()}
    lines = np.array([own[kind] for kind in plane.kinds]).reshape(-1, 4)
    labels = tuple(
        Label(one.text, one.anchor, one.outward, own[one.kind], PRIORITY[one.kind])
        for one in plane.labels
    )
    strokes = (Strokes(plane.segments, lines, WIDTH * colours.line_width),) if len(plane.segments) else ()
    return View(strokes, (), labels, plane.normal)
