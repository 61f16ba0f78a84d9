"""Which landmark stands open, and which humanoid bones are listed."""

import bpy
from bpy.props import EnumProperty, StringProperty

SHOWN = (
    ("REQUIRED", "Required", "The bones the avatar standard requires"),
    ("BODY", "Body", "All bones but the fingers'"),
    ("ALL", "All", "All 55 bones of the avatar standard"),
)


class EvenfoldLandmarks(bpy.types.PropertyGroup):
    """What the panels of landmarks and humanoid bones show."""

    opened: StringProperty(
        name="Open Landmark", description="The landmark or width whose evidence is shown"
    )
    bones: EnumProperty(
        name="Bones", items=SHOWN, default="REQUIRED",
        description="Which bones of the avatar standard are listed",
    )


CLASSES = (EvenfoldLandmarks,)
POINTERS = {"evenfold_landmarks": EvenfoldLandmarks}
