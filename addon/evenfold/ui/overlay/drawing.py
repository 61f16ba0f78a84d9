"""The marks on the reference drawing as a picture: a tick and a name for each."""

from dataclasses import dataclass

import bpy
import numpy as np

from ...core.spoken import landmark_words
from ...host.named import holds
from ...host.read.figures import view_layer_of
from .. import sheet as reading
from ..sheet import Sheet, sheet_of
from . import palette
from .palette import Palette
from .records import Label, Picture, Strokes, View

WIDTH = 2.0
TICK, CROSS, LIFT = 0.12, 0.012, 0.002
"""Half lengths, and how far in front of the picture, as shares of its height."""


@dataclass(frozen=True)
class _Made:
    """The picture and the sheet it was made from."""

    sheet: Sheet
    colours: Palette
    picture: Picture


_made: dict[int, _Made] = {}


def source(scene: bpy.types.Scene) -> Picture | None:
    """The picture of the drawing's marks; the same record until something has changed."""
    chosen = scene.evenfold_drawing
    sheet = sheet_of(scene) if chosen.show and _is_shown(scene, chosen.item) else None
    if sheet is None or not sheet.marks:
        _made.pop(scene.session_uid, None)
        return None
    kept, colours = _made.get(scene.session_uid), palette.current()
    if kept is None or kept.sheet is not sheet or kept.colours is not colours:
        kept = _Made(sheet, colours, picture_of(sheet))
        _made[scene.session_uid] = kept
    return kept.picture


def forget() -> None:
    _made.clear()
    reading.forget()


def _is_shown(scene: bpy.types.Scene, item: bpy.types.Object | None) -> bool:
    """Whether the drawing is to be seen: neither hidden itself nor by its collection."""
    return item is not None and holds(scene.objects, item) and item.visible_get(view_layer=view_layer_of(scene))


def picture_of(sheet: Sheet) -> Picture:
    """A level tick through each mark, an upright one where it was clicked, and its name."""
    plane, size, colours = sheet.plane, sheet.height, palette.current()
    lift = plane.normal * LIFT * size
    segments, labels = [], []
    for name, point in sheet.marks.items():
        middle = point + lift
        across, rise = plane.side * TICK * size, plane.up * CROSS * size
        segments += [(middle - across, middle + across), (middle - rise, middle + rise)]
        heads = "" if sheet.drawn is None else f" {sheet.above_sole(name):.2f} heads"
        text = f"{landmark_words(name)} drawn{heads}"
        labels.append(Label(text, middle - across, -plane.side, colours.drawn, 2))
    lines = np.tile(np.array(colours.drawn), (len(segments), 1))
    strokes = (Strokes(np.array(segments), lines, WIDTH * colours.line_width, behind=1.0),)
    return Picture((View(strokes, (), tuple(labels)),))
