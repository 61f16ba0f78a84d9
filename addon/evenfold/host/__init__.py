"""The only code that touches Blender's data."""

import bpy  # noqa: F401  (bmesh and mathutils can be imported only after it)
