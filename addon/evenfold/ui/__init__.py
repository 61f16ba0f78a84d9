"""What is registered with Blender, in order."""

import bpy

from . import overlay, panels, preferences, properties, state
from .operators import (
    allowed,
    check,
    drawing,
    guides,
    landmarks,
    measure,
    pin,
    plan,
    repair,
    select,
    step,
    worn,
)

CLASSES = (
    *measure.CLASSES,
    *plan.CLASSES,
    *landmarks.CLASSES,
    *guides.CLASSES,
    *drawing.CLASSES,
    *check.CLASSES,
    *select.CLASSES,
    *step.CLASSES,
    *repair.CLASSES,
    *allowed.CLASSES,
    *pin.CLASSES,
    *worn.CLASSES,
    *panels.CLASSES,
    *preferences.CLASSES,
)


def register() -> None:
    properties.register()
    for entry in CLASSES:
        bpy.utils.register_class(entry)
    panels.add_menu()
    state.register()
    overlay.register()
    preferences.register()


def unregister() -> None:
    preferences.unregister()
    overlay.unregister()
    state.unregister()
    panels.remove_menu()
    for entry in reversed(CLASSES):
        bpy.utils.unregister_class(entry)
    properties.unregister()
