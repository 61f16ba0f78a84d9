"""The settings of the plan to a target."""

import bpy

CLASSES: tuple[type, ...] = ()
POINTERS: dict[str, type[bpy.types.PropertyGroup]] = {}
