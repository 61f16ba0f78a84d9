"""What is read from the reference drawing, made anew only when something it rests on has changed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import bpy
import numpy as np

from ..core.drawing import Drawn, DrawnRow, PicturePlane, beside_model, plane_of, read_marks
from ..core.errors import EvenfoldError
from ..core.figure import FloatArray
from ..core.findings import Proportion
from ..host.drawing import MARKS_KEY, image_of, marks_in, marks_on, numbers, picture_of
from . import state


@dataclass(frozen=True)
class Sheet:
    """``marks`` by landmark in world space (3,), ``places`` (2,) in the ``plane``, scene units.

    ``fault`` says why the picture cannot be used, ``refusal`` why its heads cannot be counted.
    ``height`` is that of the picture. ``rows`` have the model here and the drawing there; there are
    none without a count of both, and then ``model_heads`` is None too.
    """

    name: str
    fault: str = ""
    refusal: str = ""
    marks: Mapping[str, FloatArray] = field(default_factory=dict)
    places: Mapping[str, FloatArray] = field(default_factory=dict)
    plane: PicturePlane | None = None
    height: float = 0.0
    drawn: Drawn | None = None
    model_heads: float | None = None
    rows: tuple[DrawnRow, ...] = ()

    def above_sole(self, name: str) -> float:
        """Heads of a mark above the sole, as guides and landmarks are counted; needs ``drawn``."""
        return self.drawn.heads_tall - self.drawn.levels[name]


@dataclass(frozen=True)
class _Made:
    """A sheet and what it was made from."""

    key: tuple[Any, ...]
    proportion: Proportion | None
    sheet: Sheet


_made: dict[int, _Made] = {}


def sheet_of(scene: bpy.types.Scene) -> Sheet | None:
    """The reading of the scene's drawing; the same record until something has changed.

    None where no drawing is chosen.
    """
    item = scene.evenfold_drawing.item
    if item is None:
        _made.pop(scene.session_uid, None)
        return None
    results = state.of(scene)
    found = None if results is None else results.proportion
    way = scene.evenfold_drawing.way
    key = (way, *_key(item))
    kept = _made.get(scene.session_uid)
    if kept is None or kept.key != key or kept.proportion is not found:
        kept = _Made(key, found, make_sheet(item, found, way))
        _made[scene.session_uid] = kept
    return kept.sheet


def forget() -> None:
    _made.clear()


def make_sheet(item: bpy.types.Object, found: Proportion | None, way: str = "height") -> Sheet:
    """Read a drawing as it stands, at the size the ``way`` of matching gives. Raises nothing:
    what is wrong is said in the sheet.
    """
    try:
        picture = picture_of(item)
        plane = plane_of(picture.to_world, found)
    except EvenfoldError as error:
        return Sheet(item.name, fault=str(error))
    shares = marks_on(item)
    points = {name: picture.points(share)[0] for name, share in shares.items()}
    places = marks_in(item, picture, plane)
    height = float(np.linalg.norm(picture.to_world[:3, 1]))
    refusal, drawn, heads = "", None, None
    rows: tuple[DrawnRow, ...] = ()
    try:
        drawn = read_marks(places)
        if found is not None and found.heads_tall is not None:
            heads, rows = found.heads_tall, beside_model(found, drawn, way)
    except EvenfoldError as error:
        refusal = str(error)
    return Sheet(item.name, "", refusal, points, places, plane, height, drawn, heads, rows)


def _key(item: bpy.types.Object) -> tuple[Any, ...]:
    """Everything of the drawing that the reading rests on."""
    own = (item.session_uid, item.name, item.type, item.empty_display_type, item.get(MARKS_KEY))
    try:
        image = image_of(item)
    except EvenfoldError as error:
        return (*own, str(error))
    matrix = tuple(value for row in item.matrix_world for value in row)
    return (
        *own, image.name, image.source, *numbers(image.size), *numbers(image.display_aspect),
        item.empty_display_size, *numbers(item.empty_image_offset), *matrix,
    )
