"""What the guides on the model show."""

import bpy

CLASSES: tuple[type, ...] = ()
POINTERS: dict[str, type[bpy.types.PropertyGroup]] = {}
