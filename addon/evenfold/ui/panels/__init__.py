"""The sidebar. Draws what is known; computes nothing. One file a panel."""

import bpy

from . import (
    allowed,
    drawing,
    figure,
    guides,
    heads,
    landmarks,
    live,
    plan,
    profile,
    ready,
    repair,
    report,
    symmetry,
    told,
)

CLASSES = (
    *figure.CLASSES,
    *live.CLASSES,
    *profile.CLASSES,
    *heads.CLASSES,
    *guides.CLASSES,
    *plan.CLASSES,
    *landmarks.CLASSES,
    *drawing.CLASSES,
    *symmetry.CLASSES,
    *repair.CLASSES,
    *ready.CLASSES,
    *allowed.CLASSES,
    *told.CLASSES,
    *report.CLASSES,
)


def _menu(self: bpy.types.Menu, _context: bpy.types.Context) -> None:
    self.layout.separator()
    self.layout.operator("evenfold.measure")
    self.layout.operator("evenfold.check_symmetry")
    self.layout.operator("evenfold.select_asymmetric")
    self.layout.operator("evenfold.save_report")


_MENUS = ("VIEW3D_MT_object", "VIEW3D_MT_edit_mesh", "VIEW3D_MT_pose")
"""The menus of the modes the panel works in; menu search finds only what is in a menu."""


def add_menu() -> None:
    for name in _MENUS:
        getattr(bpy.types, name).append(_menu)


def remove_menu() -> None:
    for name in _MENUS:
        getattr(bpy.types, name).remove(_menu)
