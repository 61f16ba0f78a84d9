"""What every panel has in common: the tab, wrapped sentences, a fact a line."""

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import bpy

from ...core.errors import EvenfoldError
from ...host.named import found
from .. import first, looking, state
from ..language import tr
from ..once import Once
from ..properties import settings_of
from ..words import is_wide, letter_size, room, wrapped


def say(
    layout: bpy.types.UILayout, context: bpy.types.Context, text: str, icon: Any = "NONE", beside: int = 0,
    *, own: bool = False,
) -> None:
    """A sentence, wrapped to the sidebar's width, its icon on the first line.

    ``beside`` is how many small buttons stand beside it; ``own`` words of the artist's stay as
    they are in every language.
    """
    column = layout.column(align=True)
    lines = wrapped(text if own else tr(text), room(context, icon=icon != "NONE", beside=beside), letter_size(context))
    for number, line in enumerate(lines):
        shown: Any = icon if number == 0 else ("NONE" if icon == "NONE" else "BLANK1")
        column.label(text=line, icon=shown, translate=False)


Entry = TypeVar("Entry")


def shortened(
    layout: bpy.types.UILayout, context: bpy.types.Context, name: str, entries: Sequence[Entry],
    draw: Callable[[Entry], None],
) -> None:
    """The first entries of a list and a button for the rest; all, where only one would be left over."""
    whole, long = looking.is_whole(context.scene, name), len(entries) > looking.MOST + 1
    for entry in entries if whole or not long else entries[: looking.MOST]:
        draw(entry)
    if long:
        count = len(entries) - looking.MOST
        text = "Show fewer" if whole else f"and {count} more"
        icon: Any = "TRIA_UP" if whole else "TRIA_DOWN"
        layout.operator("evenfold.show_whole", text=tr(text), icon=icon).name = name


def say_once(
    layout: bpy.types.UILayout, context: bpy.types.Context, told: Once, icon: Any = "INFO", beside: int = 0
) -> None:
    """A sentence and what else it is true of; ``beside`` as for ``say``."""
    say(layout, context, told.text, icon, beside)
    if told.others:
        say(layout, context, told.likewise, "BLANK1", beside)


def fact(layout: bpy.types.UILayout, name: str, value: str, *, own: bool = False) -> None:
    """A name and its value in two columns; in two lines where the sidebar has no room for both.

    A value that is the artist's ``own`` name stays as it is in every language.
    """
    name, value = tr(name), value if own else tr(value)
    room = max(_letters() - MARGIN, 16.0)
    needed, named = (_size(value) + GAP) / room, (_size(name) + GAP) / room
    if needed + named > 1.0 and room < float("inf"):
        column = layout.column(align=True)
        say(column, bpy.context, name, own=True)
        say(column, bpy.context, value, "BLANK1", own=True)
        return
    row = layout.split(factor=min(max(0.45, named), 1.0 - needed))
    row.label(text=name, translate=False)
    row.label(text=value, translate=False)


LETTER = 6.2
"""Pixels a letter takes on average, its share of the gaps between cells included; measured."""
GAP, MARGIN = 2, 10
"""Letters between two cells, and beside a line with its icon."""
NARROW, WIDE = frozenset(" .,:;'iljtI"), frozenset("+%mwMW")


def table(layout: bpy.types.UILayout, rows: Sequence[Sequence[str]]) -> None:
    """Rows of cells in columns that line up; the first row is the heading.

    Columns are as wide as their longest cell. Where the sidebar is too narrow for a whole row,
    its last cell stands on a line of its own below, without a heading.
    """
    rows = [[tr(cell) for cell in row] for row in rows]
    widths = [max(_size(cell) for cell in column) + GAP for column in zip(*rows, strict=True)]
    folded = sum(widths) > _letters() and len(widths) > 2
    column = layout.column(align=True)
    for number, row in enumerate(rows):
        line = column.row()
        line.active = number > 0
        _cells(line, row[:-1] if folded else row, widths)
        if folded and number:
            column.label(text=row[-1], icon="BLANK1", translate=False)


def _size(text: str) -> float:
    """About how wide a text is, in letters."""
    return sum(
        0.6 if letter in NARROW else 1.5 if letter in WIDE else 1.9 if is_wide(letter) else 1.0
        for letter in text
    )


def _letters() -> float:
    """How many letters the sidebar is wide; without one there is room for everything."""
    region = bpy.context.region
    if region is None:
        return float("inf")
    return region.width / (LETTER * max(bpy.context.preferences.system.ui_scale, 0.25))


def _cells(line: bpy.types.UILayout, cells: Sequence[str], widths: Sequence[float]) -> None:
    left = sum(widths[: len(cells)])
    for cell, width in zip(cells[:-1], widths, strict=False):
        line = line.split(factor=width / left)
        line.label(text=cell, translate=False)
        left -= width
    line.label(text=cells[-1], translate=False)


def higher_or_lower(amount: str, *, up: bool) -> str:
    """By how much one of two lies above or below the other."""
    return f"{amount} higher" if up else f"{amount} lower"


class Sidebar:
    """Mix-in: a panel in our tab of the 3D view's sidebar."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Evenfold"


class OfResults(Sidebar):
    """Mix-in: a panel that shows results. Its header says so once they are out of date, and they fade.

    Nothing in the panel moves by that: the artist's mouse may be on its way to a button.
    """

    @staticmethod
    def out_of_date(context: bpy.types.Context) -> bool:
        """Whether what the panel shows is."""
        results = state.of(context.scene)
        return results is not None and results.stale

    def draw_header_preset(self, context: bpy.types.Context) -> None:
        if self.out_of_date(context):
            row = self.layout.row()
            row.alert = True
            row.label(text="out of date", icon="ERROR")


ASKED_OTHERWISE = "Out of date: tolerance, mirror or limits were changed since. Check again."


def asked_otherwise(scene: bpy.types.Scene, results: state.SceneResults) -> bool:
    """Whether the halves would be compared by other settings now than they were."""
    if results.check is None or results.asked is None:
        return False
    try:
        return settings_of(scene).compared_by != results.asked
    except EvenfoldError:
        return False


def warn(layout: bpy.types.UILayout, context: bpy.types.Context, text: str) -> None:
    """A sentence in a box of its own that cannot be overlooked."""
    box = layout.box()
    box.alert = True
    say(box, context, text, "ERROR")


def figure_items(context: bpy.types.Context) -> tuple[bpy.types.Object, ...]:
    """The objects of the figure of the last result; else those the panel's choice names."""
    results = state.of(context.scene)
    if results is not None:
        return found(context.scene.objects, results.marks)
    return first.chosen_items(context)
