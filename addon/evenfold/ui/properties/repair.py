"""How repairs are wished for: which side wins."""

import bpy
from bpy.props import EnumProperty

WAYS = (
    ("left", "Left Wins", "The figure's left half stays; the right one becomes its mirror image"),
    ("right", "Right Wins", "The figure's right half stays; the left one becomes its mirror image"),
    ("average", "Average", "Both halves meet in the middle"),
)


class EvenfoldRepair(bpy.types.PropertyGroup):
    """The side that wins in repairs."""

    way: EnumProperty(
        name="Way", items=WAYS, default="left", description="Which half a repair takes as the right one"
    )


CLASSES = (EvenfoldRepair,)
POINTERS = {"evenfold_repair": EvenfoldRepair}
