"""What is drawn over the viewport, as plain records: nothing of Blender's is kept in them."""

from dataclasses import dataclass, field

import numpy as np

from ...core.figure import FloatArray

Colour = tuple[float, float, float, float]
STEEP = 0.94
"""Looking along the figure closer than this cosine (20 degrees), level lines fall together."""


DARK: Colour = (0.02, 0.02, 0.04, 1.0)
"""What patterns are made of beside the mark's own colour."""


def patterned(colour: Colour, pattern: str) -> tuple[tuple[float, Colour], ...]:
    """What a mark is drawn of, the undermost first: shares of its whole breadth and their colours."""
    core = ((0.5, DARK),) if "hollow" in pattern else ((0.66, DARK), (0.3, colour)) if pattern == "ringed" else ()
    if not pattern.startswith("rimmed"):
        return ((1.0, colour), *core)
    return ((1.0, DARK), (0.62, colour), *((0.62 * share, inner) for share, inner in core))


@dataclass(frozen=True)
class Strokes:
    """Lines with an outline: ``segments`` (k, 2, 3) world, ``colours`` (k, 4), ``width`` pixels.

    ``behind`` is how strongly they are seen through what stands in front of them, 0 to 1.
    ``lift`` pixels they are drawn nearer to the viewer, so that a surface they lie on does not
    cover half of them.
    """

    segments: FloatArray
    colours: FloatArray
    width: float = 2.0
    behind: float = 0.35
    lift: float = 0.0


@dataclass(frozen=True)
class Dots:
    """Points with a colour each: ``points`` (n, 3) world, ``colours`` (n, 4), ``size`` pixels.

    ``behind`` and ``lift`` as for lines.
    """

    points: FloatArray
    colours: FloatArray
    size: float = 6.0
    behind: float = 0.0
    lift: float = 0.0


@dataclass(frozen=True)
class Label:
    """``anchor`` and ``outward`` (3,) world: the text stands on the side outward points to.

    ``off`` pixels are kept free between it and the anchor.
    """

    text: str
    anchor: FloatArray
    outward: FloatArray
    colour: Colour
    priority: int = 0
    off: float = 0.0


@dataclass(frozen=True)
class Legend:
    """Stands in the lower right corner: a title and a coloured mark with words a line.

    ``patterns`` of the marks, as ``core.marks`` names them; all full where there are none.
    """

    title: str
    entries: tuple[tuple[Colour, str], ...] = ()
    patterns: tuple[str, ...] = ()

    @property
    def texts(self) -> tuple[str, ...]:
        """Every line from top to bottom."""
        return (self.title, *(words for _, words in self.entries))


@dataclass(frozen=True)
class View:
    """One picture; ``normal`` (3,) is the direction it is made for, None for any."""

    strokes: tuple[Strokes, ...] = ()
    dots: tuple[Dots, ...] = ()
    labels: tuple[Label, ...] = ()
    normal: FloatArray | None = None


@dataclass(frozen=True)
class Picture:
    """Views to choose from by where the viewer is; ``up`` (3,) hides them seen along it."""

    views: tuple[View, ...] = field(default_factory=tuple)
    legend: Legend | None = None
    up: FloatArray | None = None

    def facing(self, towards_viewer: FloatArray) -> int | None:
        """Which view is made for a direction (3,) unit; None along ``up`` or without views."""
        if self.up is not None and abs(float(self.up @ towards_viewer)) > STEEP:
            return None
        facing = [
            1.0 if view.normal is None else abs(float(view.normal @ towards_viewer))
            for view in self.views
        ]
        return int(np.argmax(facing)) if facing else None
