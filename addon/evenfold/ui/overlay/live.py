"""What is kept current as marks on the model, wherever the full check's own are out of date."""

from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import bpy

from ...core.live import Standing
from ...core.marks import marks_of
from ...core.places import lay_out
from ...host.named import find
from .. import live, state
from ..words import amount
from . import palette
from .findings import picture_of
from .records import Legend, Picture


@dataclass(frozen=True)
class _Made:
    """The picture, what it was made from, and what was chosen then."""

    now: Standing
    chosen: tuple[Any, ...]
    picture: Picture


_made: dict[int, _Made] = {}


def source(scene: bpy.types.Scene) -> Picture | None:
    """The marks of what differs now; the same record until a turn has found something else."""
    session, results = live.session_of(scene), state.of(scene)
    checked = results is not None and results.check is not None and not results.stale
    if session is None or checked or not scene.evenfold_findings.show:
        _made.pop(scene.session_uid, None)
        return None
    chosen = (_in_sight(scene, session.now), palette.current())
    kept = _made.get(scene.session_uid)
    if kept is None or kept.now is not session.now or kept.chosen != chosen:
        kept = _Made(session.now, chosen, _picture(scene, session.now, chosen[0]))
        _made[scene.session_uid] = kept
    return kept.picture


def _picture(scene: bpy.types.Scene, now: Standing, objects: frozenset[str]) -> Picture:
    laid = lay_out(now.figure, now.result)
    picture = picture_of(marks_of(now.result, laid, partial(amount, scene), objects=objects))
    legend = picture.legend or Legend("")
    return replace(picture, legend=Legend(f"Kept current: {legend.title}", legend.entries))


def _in_sight(scene: bpy.types.Scene, now: Standing) -> frozenset[str]:
    found = ((entry.name, find(scene.objects, entry.name)) for entry in now.result.objects)
    return frozenset(name for name, item in found if item is not None and item.visible_get())


def forget() -> None:
    _made.clear()
    live.forget()
