"""The reference drawing and the marks on it."""

import bpy
from bpy.props import BoolProperty, EnumProperty, PointerProperty

from .figure import LANDMARKS

WAYS = (
    ("height", "Height", "Crown and sole stand level with the model's. What else differs is proportion"),
    ("head", "Head", "Crown and chin stand level with the model's, so the heads are of one size"),
    ("all", "All Marks", "Every mark comes as near to the model's as it can; none is exact"),
)


def _changed(_settings: bpy.types.PropertyGroup, _context: bpy.types.Context) -> None:
    from ..overlay import manager

    manager.redraw()


class EvenfoldDrawing(bpy.types.PropertyGroup):
    """Which drawing is compared with the model, what is marked next and how it is matched."""

    # No poll: one on an object pointer crashed 4.2 when it was closed. The panel says what is wrong.
    item: PointerProperty(
        name="Drawing", type=bpy.types.Object, update=_changed,
        description="Empty that shows the drawing: a character sheet, one view of it upright",
    )
    landmark: EnumProperty(
        name="Mark Next", items=LANDMARKS, default="crown",
        description="The landmark that the next click on the drawing marks",
    )
    show: BoolProperty(
        name="Show Marks", default=True, update=_changed,
        description="Draw the marks with their names over the drawing in every 3D view",
    )
    way: EnumProperty(
        name="Match", items=WAYS, default="height",
        description="Which marks come to stand level with the model's landmarks",
    )
    sideways: BoolProperty(
        name="Sideways", default=True,
        description="Also bring the drawing's crown and chin to the middle of the model; "
        "otherwise the drawing stays beside it",
    )
    straighten: BoolProperty(
        name="Straighten", default=False,
        description="First turn a crooked drawing until its crown stands straight above its sole",
    )


CLASSES = (EvenfoldDrawing,)
POINTERS = {"evenfold_drawing": EvenfoldDrawing}
