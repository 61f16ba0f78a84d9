"""The reference drawing and the marks on it."""

import bpy

CLASSES: tuple[type, ...] = ()
POINTERS: dict[str, type[bpy.types.PropertyGroup]] = {}
