"""What the guides on the model show."""

import bpy
from bpy.props import BoolProperty


def _changed(_settings: bpy.types.PropertyGroup, _context: bpy.types.Context) -> None:
    from ..overlay import manager

    manager.redraw()


class EvenfoldGuides(bpy.types.PropertyGroup):
    """What is drawn over the model."""

    show: BoolProperty(
        name="Show Guides", default=False, update=_changed,
        description="Draw heads, landmarks and the target over the model in every 3D view",
    )
    heads: BoolProperty(
        name="Heads", default=True, update=_changed,
        description="A line every head from the crown down to the sole",
    )
    landmarks: BoolProperty(
        name="Landmarks", default=True, update=_changed,
        description="A mark at each landmark, with its height in heads above the sole",
    )
    target: BoolProperty(
        name="Target", default=True, update=_changed,
        description="Dashed lines where the plan to the target puts the landmarks",
    )
    every: BoolProperty(
        name="All Landmarks", default=False, update=_changed,
        description="Show every landmark, not the main ones alone",
    )


CLASSES = (EvenfoldGuides,)
POINTERS = {"evenfold_guides": EvenfoldGuides}
