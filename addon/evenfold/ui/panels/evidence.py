"""A measure's line that opens, and what it rests on."""

from typing import Any

import bpy

from ...core.findings import Landmark
from ...core.spoken import landmark_words
from ..words import HOWS, length
from .shared import fact, say


def opener(layout: bpy.types.UILayout, context: bpy.types.Context, name: str, value: str) -> bool:
    """A line that opens: name and value; True while it stands open."""
    opened = bool(context.scene.evenfold_landmarks.opened == name)
    row = layout.row(align=True)
    icon: Any = "DISCLOSURE_TRI_DOWN" if opened else "DISCLOSURE_TRI_RIGHT"
    row.operator("evenfold.open_landmark", text="", icon=icon, emboss=False).name = name
    fact(row, landmark_words(name), value)
    return opened


def draw_evidence(layout: bpy.types.UILayout, context: bpy.types.Context, entry: Landmark) -> None:
    scene = context.scene
    fact(layout, "How", HOWS.get(entry.how, entry.how))
    if entry.high > entry.low:
        fact(layout, "Between", f"{length(scene, entry.low)} and {length(scene, entry.high)}")
    if entry.evidence and all(reading.method != entry.evidence for reading in entry.readings):
        say(layout, context, f"{entry.evidence[:1].upper()}{entry.evidence[1:]}.".replace("..", "."), "BLANK1")
    for reading in entry.readings:
        value = length(scene, reading.height)
        if reading.high > reading.low:
            value += f" ({length(scene, reading.low)} to {length(scene, reading.high)})"
        fact(layout, reading.method, value)
