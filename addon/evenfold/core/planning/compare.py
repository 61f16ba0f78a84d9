"""A figure's levels and widths beside a canon's, or beside another figure's, in head heights."""

from dataclasses import dataclass

from ..canon import Canon
from ..errors import EvenfoldError
from ..findings import Proportion
from .canons import HABIT, canon_from
from .plan import ARM_MARKS


class CompareError(EvenfoldError):
    """There is nothing to set side by side."""


@dataclass(frozen=True)
class CompareRow:
    """One landmark, ``here`` and ``there`` in heads down from the crown; or one width in heads.

    ``difference`` is in heads: how much nearer the crown the landmark lies here, or how much wider
    it is here; ``metres`` the same at the size of this figure's head. The row of the sole is the
    whole height. ``height_here`` and ``height_there`` are metres above the sole (lengths, for a
    width and the whole height), the latter only for a figure.
    """

    name: str
    here: float
    there: float
    difference: float
    metres: float
    height_here: float
    height_there: float | None = None
    width: bool = False

    @property
    def whole(self) -> bool:
        """Whether this is the whole height, from the crown to the sole."""
        return self.name == "sole"


@dataclass(frozen=True)
class Comparison:
    """``name``, ``source`` and ``status`` of what it is compared with; rows from crown to sole."""

    name: str
    source: str
    status: str
    kind: str
    heads_here: float
    heads_there: float
    rows: tuple[CompareRow, ...]
    notes: tuple[str, ...] = ()


def compare(found: Proportion, canon: Canon, other: Proportion | None = None) -> Comparison:
    """The figure beside ``canon``; ``other`` is the figure it was made of, if it was one.

    Raises CompareError when the figure has no count.
    """
    if found.heads_tall is None or not found.head_height:
        raise CompareError("There is nothing to compare without a count. " + (found.refusal or ""))
    own = canon_from(found, "figure", "measured", "figure")
    head = found.head_height
    rows = [
        _row(name, own.levels[name], there, head, found, other)
        for name, there in canon.levels.items()
        if name in own.levels and name not in ("crown", "chin")
    ]
    rows += [_width_row(name, own, canon, found, other) for name in canon.spans if name in own.spans]
    return Comparison(
        canon.name, canon.source, canon.status, canon.kind, found.heads_tall, canon.heads,
        tuple(rows), tuple(_notes(canon, rows)),
    )


def compare_figures(found: Proportion, other: Proportion, name: str) -> Comparison:
    """A figure beside another, such as its base. Raises CompareError when one has no count."""
    if other.heads_tall is None:
        raise CompareError(f"{name} has no count of heads: measure it again or pin its landmarks.")
    return compare(found, canon_from(other, name, f"measured on {name}", "figure"), other)


def _row(
    name: str, here: float, there: float, head: float, found: Proportion, other: Proportion | None
) -> CompareRow:
    heights = [None if one is None else _height(name, one) for one in (found, other)]
    return CompareRow(
        name, here, there, there - here, (there - here) * head, heights[0] or 0.0, heights[1]
    )


def _height(name: str, found: Proportion) -> float | None:
    """Metres above the sole; of the sole itself the whole height."""
    if name == "sole":
        return found.height
    return found.landmarks[name].height if name in found.landmarks else None


def _width_row(
    name: str, own: Canon, canon: Canon, found: Proportion, other: Proportion | None
) -> CompareRow:
    here, there = own.spans[name], canon.spans[name]
    span = other.spans.get(name) if other is not None else None
    return CompareRow(
        name, here, there, here - there, (here - there) * (found.head_height or 0.0),
        found.spans[name].length, span.length if span is not None else None, True,
    )


def _notes(canon: Canon, rows: list[CompareRow]) -> list[str]:
    notes = []
    if canon.kind == "own":
        notes.append(f"{canon.name} is a canon of your own. Source: {canon.source}.")
    elif canon.source == HABIT:
        notes.append(f"{canon.name} is a canon, not anatomy: common practice, no source.")
    elif canon.kind != "figure":
        status = "" if canon.status in canon.source else f" ({canon.status})"
        notes.append(f"{canon.name} is a canon, not anatomy. Source: {canon.source}{status}.")
    if canon.spread is not None:
        notes.append(f"Of those measured, two in three lie within {canon.spread:.2f} heads of {canon.heads:.2f}.")
    if canon.kind != "figure" and any(row.name in ARM_MARKS for row in rows):
        notes.append("Elbow, wrist and fingertip only compare while the arms hang down.")
    if not any(row.name != "sole" for row in rows):
        notes.append("It names no level that is known of this figure but the whole height.")
    return notes
