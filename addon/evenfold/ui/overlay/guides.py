"""The guides as a picture: colours for each kind of line, made anew only after a change."""

from dataclasses import dataclass

import bpy
import numpy as np

from ...core.figure import FloatArray
from ...core.guides import GuidePlane, Guides, make_guides
from ...host.read.bounds import corners_of
from ..shown import Shown, measured, shown_of
from ..shown import forget as forget_shown
from . import palette
from .palette import Palette
from .records import Label, Legend, Picture, Strokes, View

TITLES = {"measured": "Guides", "stale": "Guides as last measured", "kept": "Guides, kept current"}
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
    """The picture, what it was made from, and what was chosen then."""

    shown: Shown
    chosen: tuple[bool, ...]
    corners: FloatArray
    colours: Palette
    picture: Picture


_made: dict[int, _Made] = {}


def guides_of(scene: bpy.types.Scene) -> Guides | None:
    """The guides the panel asks for, as last measured; None before measuring."""
    shown = measured(scene)
    return None if shown is None else _guides(scene, shown, corners_of(scene, shown.names))


def _guides(scene: bpy.types.Scene, shown: Shown, corners: FloatArray) -> Guides:
    chosen = scene.evenfold_guides
    target = shown.plan.after if chosen.target and shown.plan is not None else {}
    return make_guides(
        shown.proportion, corners, target, heads=chosen.heads, landmarks=chosen.landmarks, every=chosen.every,
    )


def source(scene: bpy.types.Scene) -> Picture | None:
    """The picture of the scene's guides; the same record until something has changed."""
    chosen = scene.evenfold_guides
    shown = shown_of(scene) if chosen.show else None
    if shown is None or _is_gone(scene, shown):
        _made.pop(scene.session_uid, None)
        return None
    asked = (chosen.heads, chosen.landmarks, chosen.target, chosen.every)
    kept, colours = _made.get(scene.session_uid), palette.current()
    if kept is not None and kept.shown.same_as(shown) and kept.chosen == asked and kept.colours is colours:
        return kept.picture
    same = kept is not None and kept.shown.proportion is shown.proportion
    corners = kept.corners if kept is not None and same else corners_of(scene, shown.names)
    picture = picture_of(_guides(scene, shown, corners), how=shown.how)
    _made[scene.session_uid] = _Made(shown, asked, corners, colours, picture)
    return picture


def _is_gone(scene: bpy.types.Scene, shown: Shown) -> bool:
    """Whether nothing that was measured is in the scene any more."""
    return bool(shown.names) and not any(name in scene.objects for name in shown.names)


def forget() -> None:
    _made.clear()
    forget_shown()


def picture_of(guides: Guides, *, how: str = "measured") -> Picture:
    """Both planes with a legend, whose title says so where they are out of date or kept current."""
    colours = palette.current()
    return Picture(
        (_view(guides.front, colours), _view(guides.side, colours)),
        _legend(guides.front, colours, TITLES[how]), guides.up,
    )


def _legend(plane: GuidePlane, colours: Palette, title: str) -> Legend:
    shown = {KIND_COLOURS[kind] for kind in plane.kinds}
    entries = tuple((getattr(colours, name), words) for name, words in MEANINGS if name in shown)
    return Legend(title, entries)


def _view(plane: GuidePlane, colours: Palette) -> View:
    own = {kind: getattr(colours, name) for kind, name in KIND_COLOURS.items()}
    lines = np.array([own[kind] for kind in plane.kinds]).reshape(-1, 4)
    labels = tuple(
        Label(one.text, one.anchor, one.outward, own[one.kind], PRIORITY[one.kind])
        for one in plane.labels
    )
    strokes = (Strokes(plane.segments, lines, WIDTH * colours.line_width),) if len(plane.segments) else ()
    return View(strokes, (), labels, plane.normal)
