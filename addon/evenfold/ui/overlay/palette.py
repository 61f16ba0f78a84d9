"""The colours and sizes of everything drawn over the viewport, as the preferences have them."""

from dataclasses import dataclass, fields
from typing import Any

import bpy

from ...core import marks
from .records import Colour

ADDON = __package__.rsplit(".", 2)[0]
"""The name this add-on's preferences are kept by; an extension has a longer one than a folder."""

BLUE: Colour = (0.36, 0.70, 1.0, 1.0)
CREAM: Colour = (0.97, 0.97, 0.90, 1.0)
ORANGE: Colour = (1.0, 0.58, 0.10, 1.0)
PINK: Colour = (1.0, 0.62, 0.86, 1.0)


@dataclass(frozen=True)
class Palette:
    """Colours by what they stand for; our own, told apart also by colour-blind readers.

    ``least`` to ``worst`` are the five steps of sizes, ``unsized`` what has no size, ``partner``
    the lines to where a partner says a thing should be. ``line_width`` and ``dot_size`` are
    shares of the usual, ``label_size`` is the letters' in pixels at scale 1.
    """

    least: Colour = marks.RAMP[0]
    small: Colour = marks.RAMP[1]
    middle: Colour = marks.RAMP[2]
    large: Colour = marks.RAMP[3]
    worst: Colour = marks.RAMP[4]
    unsized: Colour = marks.UNSIZED
    partner: Colour = marks.WANTED
    excused: Colour = marks.EXCUSED
    head: Colour = BLUE
    landmark: Colour = CREAM
    target: Colour = ORANGE
    drawn: Colour = PINK
    line_width: float = 1.0
    dot_size: float = 1.0
    label_size: float = 12.0

    def of_mark(self, usual: Colour) -> Colour:
        """The colour to draw a mark in whose usual colour this is."""
        ramp = (self.least, self.small, self.middle, self.large, self.worst)
        named = dict(zip(marks.RAMP, ramp, strict=True)) | {
            marks.UNSIZED: self.unsized, marks.WANTED: self.partner, marks.EXCUSED: self.excused,
        }
        return named.get(usual, usual)


USUAL = Palette()
COLOURS = tuple(entry.name for entry in fields(Palette) if isinstance(entry.default, tuple))
SIZES = tuple(entry.name for entry in fields(Palette) if not isinstance(entry.default, tuple))

_current: list[Palette] = []


def preferences() -> Any:
    """This add-on's preferences; None where it runs without being enabled as an add-on."""
    entry = bpy.context.preferences.addons.get(ADDON)
    return None if entry is None else entry.preferences


def current() -> Palette:
    """The palette in force; the very same record until a preference changes."""
    if not _current:
        _current.append(_read(preferences()))
    return _current[0]


def forget() -> None:
    """Read the preferences again when the palette is next asked for."""
    _current.clear()


def _read(own: Any) -> Palette:
    if own is None:
        return USUAL
    colours: dict[str, Any] = {name: tuple(round(float(part), 6) for part in getattr(own, name)) for name in COLOURS}
    sizes: dict[str, Any] = {name: float(getattr(own, name)) for name in SIZES}
    return Palette(**colours, **sizes)
