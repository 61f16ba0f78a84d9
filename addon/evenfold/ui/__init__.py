"""What is registered with Blender, in order."""

import bpy

from . import first, language, live, menus, overlay, panels, preferences, properties, state
from .operators import (
    allowed,
    budget,
    check,
    drawing,
    guessed,
    guides,
    landmarks,
    measure,
    pin,
    plan,
    profile,
    repair,
    report,
    select,
    show_ready,
    step,
    worn,
)
from .operators import live as live_operators

CLASSES = (
    *measure.CLASSES,
    *plan.CLASSES,
    *profile.CLASSES,
    *guessed.CLASSES,
    *landmarks.CLASSES,
    *guides.CLASSES,
    *drawing.CLASSES,
    *check.CLASSES,
    *live_operators.CLASSES,
    *select.CLASSES,
    *show_ready.CLASSES,
    *budget.CLASSES,
    *step.CLASSES,
    *repair.CLASSES,
    *allowed.CLASSES,
    *pin.CLASSES,
    *worn.CLASSES,
    *report.CLASSES,
    *panels.CLASSES,
    *menus.CLASSES,
    *preferences.CLASSES,
)


def register() -> None:
    language.register()
    properties.register()
    for entry in CLASSES:
        language.mark(entry)
        bpy.utils.register_class(entry)
    menus.register()
    state.register()
    first.register()
    overlay.register()
    preferences.register()


def unregister() -> None:
    preferences.unregister()
    live.unregister()
    overlay.unregister()
    first.unregister()
    report.forget()
    state.unregister()
    menus.unregister()
    for entry in reversed(CLASSES):
        bpy.utils.unregister_class(entry)
    properties.unregister()
    language.unregister()
