"""Keys for the add-on's operators: listed, but without a key until the artist gives one."""

from typing import Any, Final

import bpy

ENTRIES: tuple[tuple[str, dict[str, Any], str], ...] = (
    ("evenfold.measure", {}, "Measure"),
    ("evenfold.check_symmetry", {}, "Check Symmetry"),
    ("evenfold.step_finding", {"direction": "NEXT"}, "Next Difference"),
    ("evenfold.step_finding", {"direction": "PREVIOUS"}, "Previous Difference"),
    ("evenfold.select_step", {}, "Select What Is Looked At"),
    ("evenfold.select_asymmetric", {}, "Select All Differences"),
    ("evenfold.allow_selection", {}, "Excuse Selected Vertices"),
)
"""Operators with their options, and what each is called in the preferences."""
MAP: Final = "3D View"

NAMES = 0.45
"""The share of a line that the words have."""
PRESSED = ("KEYBOARD", "MOUSE", "NDOF")
"""Devices whose key is given by pressing it."""

_made: list[tuple[Any, Any]] = []


def register() -> None:
    keys = bpy.context.window_manager.keyconfigs.addon
    if keys is None:
        return
    keymap = keys.keymaps.new(name=MAP, space_type="VIEW_3D")
    for name, options, _ in ENTRIES:
        item = keymap.keymap_items.new(name, "NONE", "PRESS")
        for option, value in options.items():
            setattr(item.properties, option, value)
        _made.append((keymap, item))


def unregister() -> None:
    for keymap, item in _made:
        keymap.keymap_items.remove(item)
    _made.clear()


def user_item(name: str, options: dict[str, Any]) -> tuple[Any, Any] | None:
    """The keymap and entry the artist edits for an operator; None while the host has none."""
    keys = bpy.context.window_manager.keyconfigs.user
    keymap = keys.keymaps.get(MAP) if keys is not None else None
    for item in keymap.keymap_items if keymap is not None else ():
        if item.idname == name and all(getattr(item.properties, key) == one for key, one in options.items()):
            return keymap, item
    return None


def draw(layout: bpy.types.UILayout) -> None:
    """A line each: what it does, by which device, and the field to press the key in."""
    for name, options, words in ENTRIES:
        line = layout.split(factor=NAMES)
        line.label(text=words)
        found = user_item(name, options)
        if found is None:
            continue
        keymap, item = found
        row = line.row(align=True)
        row.context_pointer_set("keymap", keymap)
        row.prop(item, "map_type", text="")
        row.prop(item, "type", text="", full_event=item.map_type in PRESSED)
        if item.is_user_modified:
            row.operator("preferences.keyitem_restore", text="", icon="LOOP_BACK").item_id = item.id
