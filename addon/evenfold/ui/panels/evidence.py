"""A measure's line that opens, and what it rests on."""

from collections.abc import Callable
from typing import Any

import bpy

from ...core.findings import Landmark
from ...core.spoken import landmark_words
from ..words import HOWS
from .shared import fact, say


def opener(layout: bpy.types.UILayout, context: bpy.types.Context, name: str, value: str) -> bool:
    """A line that opens: name and value; True while it stands open."""
    opened = bool(context.scene.evenfold_landmarks.opened == name)
    row = layout.row(align=True)
    icon: Any = "DISCLOSURE_TRI_DOWN" if opened else "DISCLOSURE_TRI_RIGHT"
    row.operator("evenfold.open_landmark", text="", icon=icon, emboss=False).name = name
    fact(row, landmark_words(name), value)
    return opened


def draw_evidence(
    layout: bpy.types.UILayout, context: bpy.types.Context, entry: Landmark, metres: Callable[[float], str]
) -> None:
    """How a landmark was found and what else was read, lengths as ``metres`` writes them."""
    fact(layout, "How", HOWS.get(entry.how, entry.how))
    if entry.high > entry.low:
        fact(layout, "Between", f"{metres(entry.low)} and {metres(entry.high)}")
    if entry.evidence and all(reading.method != entry.evidence for reading in entry.readings):
        say(layout, context, f"{entry.evidence[:1].upper()}{entry.evidence[1:]}.".replace("..", "."), "BLANK1")
    for reading in entry.readings:
        value = metres(reading.height)
        if reading.high > reading.low:
            value += f" ({metres(reading.low)} to {metres(reading.high)})"
        fact(layout, reading.method, value)
