"""The guides as a picture: colours for each kind of line, made anew only after a change."""

from dataclasses import dataclass
from typing import Any

import bpy
import numpy as np

from ...core.errors import EvenfoldError
from ...core.figure import FloatArray
from ...core.findings import Proportion
from ...core.guides import GuidePlane, Guides, make_guides
from ...core.planning.plan import Plan
from ...host.read.bounds import corners_of
from .. import live, planning, state
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


@dataclass(frozen=True, eq=False)
class Shown:
    """What the guides are made from: ``names`` of the objects they stand around; ``how`` is a key of TITLES."""

    proportion: Proportion
    plan: Plan | None
    names: tuple[str, ...]
    how: str

    def same_as(self, other: "Shown") -> bool:
        """Whether both are made from the very same records."""
        return self.proportion is other.proportion and self.plan is other.plan and self.how == other.how


@dataclass(frozen=True)
class _Made:
    """The picture, what it was made from, and what was chosen then."""

    shown: Shown
    chosen: tuple[bool, ...]
    corners: FloatArray
    colours: Palette
    picture: Picture


_made: dict[int, _Made] = {}
_kept: dict[int, tuple[Proportion, tuple[Any, ...], Shown]] = {}
"""By scene, what is kept current, the settings of the plan, and what is shown of both."""


def guides_of(scene: bpy.types.Scene) -> Guides | None:
    """The guides the panel asks for, as last measured; None before measuring."""
    shown = _measured(scene)
    return None if shown is None else _guides(scene, shown, corners_of(scene, shown.names))


def _measured(scene: bpy.types.Scene) -> Shown | None:
    results = state.of(scene)
    if results is None or results.proportion is None:
        return None
    return Shown(results.proportion, results.plan, tuple(results.marks), "stale" if results.stale else "measured")


def _kept_current(scene: bpy.types.Scene) -> Shown | None:
    """What is kept current; the same record until it or what is asked of the plan has changed."""
    session = live.session_of(scene)
    found = None if session is None else session.heads.found
    if session is None or found is None:
        _kept.pop(scene.session_uid, None)
        return None
    asked = (planning.target_of(scene), scene.evenfold_plan.keep, scene.evenfold_plan.canon)
    known = _kept.get(scene.session_uid)
    if known is None or known[0] is not found or known[1] != asked:
        try:
            plan = planning.plan_of(scene, found)
        except EvenfoldError:
            plan = None
        names = tuple(one.name for one in session.kept.figure.surfaces)
        known = _kept[scene.session_uid] = found, asked, Shown(found, plan, names, "kept")
    return known[2]


def shown_of(scene: bpy.types.Scene) -> Shown | None:
    """What is to be shown: the last measuring, but what is kept current where that is out of date."""
    measured = _measured(scene)
    if measured is not None and measured.how == "measured":
        return measured
    return _kept_current(scene) or measured


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
    _kept.clear()


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
