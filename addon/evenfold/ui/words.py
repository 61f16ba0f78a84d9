"""Finding codes and lengths in words an artist reads."""

import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache, partial
from typing import Any

import bpy

from ..core.findings import FigureResult, Finding
from ..host.read.place import metres_per_unit
from .language import tr

HOWS = {"pinned": "pinned", "weights": "from weights", "bones": "from bones", "shape": "from shape"}


def length(scene: bpy.types.Scene, metres: float, digits: int = 4) -> str:
    """A length as the scene shows lengths; in plain scene units where it has no unit system.

    Below a millimetre it stays in millimetres, with three digits at most.
    """
    units = scene.unit_settings
    if units.system == "NONE":
        return f"{metres / metres_per_unit(scene):.{digits}g}"
    if 0 < metres < 1e-6:
        return "< 0.001 mm" if units.system == "METRIC" else "< 0.001 thou"
    if units.system == "METRIC" and 0 < metres < 1e-3:
        return f"{metres * 1000:.{min(digits, 3)}g} mm"
    return str(bpy.utils.units.to_string(units.system, "LENGTH", metres, precision=digits))


_UNITS = {
    "METRIC": ((1.0, " m", 3), (0.01, " cm", 1), (0.001, " mm", 0)),
    "IMPERIAL": ((0.3048, "'", 3), (0.0254, '"', 1), (0.0000254, " thou", 0)),
}
"""Each system's units, the largest first: metres, sign, and the places behind the point that are always shown."""


def ruler(scene: bpy.types.Scene, lengths: Iterable[float], digits: int = 4) -> Callable[[float], str]:
    """How lengths in metres that stand below each other are written: all in the unit of the largest.

    ``digits`` are those of the largest, or more where the smaller ones need them.
    """
    largest = max((abs(one) for one in lengths if math.isfinite(one)), default=0.0)
    units = _UNITS.get(scene.unit_settings.system, ())
    fitting = next((unit for unit in units if largest >= unit[0]), None)
    if fitting is None:
        return partial(length, scene, digits=digits)
    size, name, least = fitting
    places = max(digits - 1 - math.floor(math.log10(largest / size)), least)
    return partial(_in_unit, size=size, name=name, places=places)


def _in_unit(metres: float, *, size: float, name: str, places: int) -> str:
    least = 10.0**-places
    if 0.0 < abs(metres) / size < least / 2.0:
        return f"< {least:g}{name}"
    shown = f"{metres / size:.{places}f}"
    return (shown.rstrip("0").rstrip(".") if places else shown) + name


def finding_size(scene: bpy.types.Scene, finding: Finding) -> str:
    """The worst size, the separate pieces and what is hidden, as far as the finding has them."""
    parts = []
    if finding.worst is not None:
        size = amount(scene, finding.worst, finding.unit)
        parts.append(f"by {'up to ' if finding.count > 1 else ''}{size}")
    if finding.islands > 1:
        parts.append(f"in {finding.islands} pieces")
    if finding.hidden:
        parts.append(f"{finding.hidden} hidden")
    if finding.new is not None:
        parts.append("new" if finding.new else "inherited")
    return ", ".join(tr(part) for part in parts)


def amount(scene: bpy.types.Scene, size: float, unit: str) -> str:
    """A size in its unit: a length as the scene shows it, degrees, or a plain difference."""
    if unit == "metres":
        return length(scene, size)
    if unit == "degrees":
        return f"{size:.2f}°" if size >= 0.01 else f"{size:.1g}°"
    return f"{size:.3f}" if size >= 0.001 else f"{size:.1g}"


def uses_by_mark(result: FigureResult) -> dict[tuple[str, str], int]:
    """How many elements each allowance excuses, by its mark and the object it is kept on."""
    return {(use.allowance.mark, use.allowance.owner): use.count for use in result.allowances}


_PIECES = re.compile(r"\s*(?:[\u2e80-\u9fff\uf900-\ufaff\uff00-\uffef]|[^\s\u2e80-\u9fff\uf900-\ufaff\uff00-\uffef]+)")
"""What stays on one line: a word, or one sign of a script that has no spaces."""
_NO_START = frozenset("、。，．・：；？！）」』】〕》〉ー々ぁぃぅぇぉっゃゅょァィゥェォッャュョ")
"""Signs that no line begins with (JIS X 4051)."""


def scale_of(context: bpy.types.Context) -> float:
    """How many pixels one of the host's own units takes; 1 without a window."""
    return float(context.preferences.system.ui_scale) or 1.0


def text_width(text: str, size: float) -> float:
    """How many pixels a text takes in the panels at this size of the letters."""
    import blf

    blf.size(0, size)
    found: Any = blf.dimensions(0, text)
    return float(found[0])


def wrapped(text: str, room: float, size: float = 11.0) -> list[str]:
    """The text in lines of at most ``room`` pixels; a longer word is broken, behind a mark if it has one."""
    return list(_wrapped(text, max(room, 60.0), size))


@lru_cache(maxsize=1024)
def _wrapped(text: str, room: float, size: float) -> tuple[str, ...]:
    lines: list[str] = []
    line = ""
    for piece in _PIECES.findall(text):
        if text_width(piece.lstrip(), size) > room:
            *full, last = _broken(piece.lstrip(), room, size)
            lines += [line, *full] if line else full
            line = last
        elif line and piece[0] not in _NO_START and text_width(line + piece, size) > room:
            lines.append(line)
            line = piece.lstrip()
        else:
            line = line + piece if line else piece.lstrip()
    return (*lines, line)


def _broken(word: str, room: float, size: float) -> Iterator[str]:
    """A word wider than a line in parts that fit."""
    while len(word) > 1 and text_width(word, size) > room:
        end = next((at for at in range(len(word) - 1, 1, -1) if text_width(word[:at], size) <= room), 1)
        end = max(word.rfind(mark, 0, end) for mark in "_.-/") + 1 or end
        yield word[:end]
        word = word[end:]
    yield word


def is_wide(letter: str) -> bool:
    """Whether a letter fills a square, as those of Japanese do."""
    return unicodedata.east_asian_width(letter) in "WF"


def letter_size(context: bpy.types.Context) -> float:
    """The size of the panels' letters in pixels."""
    styles = context.preferences.ui_styles
    return float(styles[0].widget.points if styles else 11.0) * scale_of(context)


BESIDE, ICON = 66.0, 22.0
"""Pixels at scale 1 beside a line of text: tabs, panel, box and their margins; and its icon."""


def room(context: bpy.types.Context, *, icon: bool = True, beside: int = 0) -> float:
    """How many pixels a line of text has in the sidebar, behind its icon and beside small buttons."""
    region = context.region
    if region is None:
        return 200.0
    taken = BESIDE + ICON * (beside + icon)
    return region.width - taken * scale_of(context)
