"""The settings an artist makes in the panel, kept with the scene: one group of them a subject."""

import bpy

from .. import language
from . import budget, drawing, figure, findings, guides, landmarks, plan, repair
from .figure import LANDMARKS, SIDES, profile_of, settings_of

MODULES = (figure, plan, budget, landmarks, guides, drawing, repair, findings)


def register() -> None:
    for module in MODULES:
        for entry in module.CLASSES:
            language.mark(entry)
            bpy.utils.register_class(entry)
        for name, group in module.POINTERS.items():
            setattr(bpy.types.Scene, name, bpy.props.PointerProperty(type=group))


def unregister() -> None:
    for module in reversed(MODULES):
        for name in module.POINTERS:
            delattr(bpy.types.Scene, name)
        for entry in reversed(module.CLASSES):
            bpy.utils.unregister_class(entry)


__all__ = ["LANDMARKS", "SIDES", "profile_of", "register", "settings_of", "unregister"]
