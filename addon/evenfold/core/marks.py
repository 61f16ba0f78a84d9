"""Findings as marks on the model: what is drawn where, in which colour, and the words beside it."""

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from .allowances import LAYER_OF_CODE
from .figure import FloatArray, IntArray
from .findings import NOTE_CODES, FigureResult, Finding
from .places import Laid, LaidFigure
from .report.wording import counted

Colour = tuple[float, float, float, float]
Amount = Callable[[float, str], str]
"""A size and its unit in words."""

RAMP: tuple[Colour, ...] = (
    (0.33, 0.18, 0.66, 1.0), (0.62, 0.26, 0.68, 1.0), (0.88, 0.41, 0.56, 1.0),
    (0.97, 0.65, 0.48, 1.0), (1.00, 0.92, 0.52, 1.0),
)
"""From small to worst, our own: each step lighter than the last also to colour-blind readers."""
DOT_SIZES = (5.0, 5.5, 6.5, 7.5, 9.0)
"""Pixels: what is worse is larger too."""
UNSIZED: Colour = (0.25, 0.88, 0.80, 1.0)
WANTED: Colour = (0.72, 1.00, 0.88, 1.0)
EXCUSED: Colour = (0.62, 0.64, 0.68, 0.85)
UNSIZED_DOT, EXCUSED_DOT, WANTED_WIDTH, LINE_WIDTH = 6.0, 4.0, 1.2, 2.4
DOUBLING = 2.0
"""One colour spans a doubling of the size at least; a smaller spread needs fewer colours."""
UNITS = ("metres", "weight", "degrees", "uv", "value")
PATTERNS = {"metres": "full", "weight": "hollow", "degrees": "ringed", "uv": "rimmed", "value": "rimmed_hollow"}
"""What tells sizes in one unit from those in another, whose colours are the same: colours alone cannot."""
OFF = {"metres": "places", "weight": "weights", "degrees": "directions", "uv": "UVs", "value": "values"}
"""What is off by a size in each unit."""
MEANING = {"weight": "of weight", "uv": "of the UV map", "value": "of its value"}


@dataclass(frozen=True)
class Scale:
    """Colours for sizes in one unit: ``limits`` (s + 1,) ascend, in equal ratios."""

    unit: str
    limits: tuple[float, ...]

    @property
    def colours(self) -> tuple[int, ...]:
        """Which of the ramp's colours the steps have: always up to its last."""
        count = max(len(self.limits) - 1, 1)
        return tuple(range(len(RAMP) - count, len(RAMP)))

    def places(self, sizes: FloatArray) -> IntArray:
        """(k,) which colour of the ramp each size has, -1 for none."""
        known = np.isfinite(sizes)
        inner = np.searchsorted(np.array(self.limits[1:-1]), np.where(known, sizes, 0.0), side="right")
        return np.where(known, inner + self.colours[0], -1)


def scale_of(unit: str, sizes: FloatArray, low: float) -> Scale | None:
    """Steps from ``low`` (or the smallest size, if that is more) to the worst; None without sizes."""
    known = sizes[np.isfinite(sizes)]
    if not known.size:
        return None
    worst = float(known.max())
    least = float(max(known.min(), low)) if low < worst else float(known.min())
    if worst <= 0.0 or least <= 0.0:
        return Scale(unit, (least, worst))
    doublings = np.log(worst / least) / np.log(DOUBLING)
    count = int(np.clip(np.floor(doublings + 1e-9), 1, len(RAMP)))
    inner = [least * (worst / least) ** (step / count) for step in range(1, count)]
    return Scale(unit, (least, *inner, worst))


@dataclass(frozen=True)
class DotMark:
    """``points`` (n, 3) world; one colour, ``size`` pixels across, in one of PATTERNS."""

    points: FloatArray
    colour: Colour
    size: float
    pattern: str = "full"


@dataclass(frozen=True)
class LineMark:
    """``segments`` (m, 2, 3) world; one colour, ``width`` pixels, in one of PATTERNS."""

    segments: FloatArray
    colour: Colour
    width: float
    pattern: str = "full"


@dataclass(frozen=True)
class Marks:
    """What to draw, in this order, and the legend: a title and a colour with words a line, and each line's pattern."""

    lines: tuple[LineMark, ...]
    dots: tuple[DotMark, ...]
    title: str
    legend: tuple[tuple[Colour, str], ...]
    patterns: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Shown:
    finding: Finding
    laid: Laid


def marks_of(
    result: FigureResult,
    laid: LaidFigure,
    amount: Amount,
    *,
    only: tuple[int, int] | None = None,
    objects: Collection[str] | None = None,
) -> Marks:
    """The marks of a checked figure.

    ``only`` names one finding by object and place; without it all but notes are shown.
    ``objects`` are the names of the objects to mark, None for all of them.
    """
    shown = list(_chosen(result, laid, only, objects))
    scales = _scales(shown, result.tolerance)
    excused = [_among(places, objects) for places in (laid.excused, laid.excused_keys, laid.excused_bones)]
    dots = [*(DotMark(points, EXCUSED, EXCUSED_DOT) for points in excused[:2] if len(points)), *_dots(shown, scales)]
    lines = [*_wanted(shown), *_lines(shown, scales)]
    if len(excused[2]):
        lines.insert(0, LineMark(excused[2], EXCUSED, LINE_WIDTH))
        dots.insert(0, DotMark(np.unique(excused[2].reshape(-1, 3), axis=0), EXCUSED, UNSIZED_DOT))
    legend = [*_legend(shown, scales, amount), *((*one, "full") for one in _excused_legend(*map(len, excused)))]
    entries, patterns = tuple((colour, words) for colour, words, _ in legend), tuple(pattern for *_, pattern in legend)
    return Marks(tuple(lines), tuple(dots), _title(shown), entries, patterns)


def _chosen(
    result: FigureResult,
    laid: LaidFigure,
    only: tuple[int, int] | None,
    objects: Collection[str] | None,
) -> Iterable[_Shown]:
    for number, entry in enumerate(result.objects):
        if objects is not None and entry.name not in objects:
            continue
        for place, finding in enumerate(entry.findings):
            if (only is None and finding.code not in NOTE_CODES) or only == (number, place):
                yield _Shown(finding, laid.objects[number][place])


def _scales(shown: list[_Shown], tolerance: float) -> dict[str, Scale]:
    scales = {}
    for unit in UNITS:
        sizes = [one.finding.sizes for one in shown if one.finding.unit == unit and one.finding.count]
        low = tolerance if unit == "metres" else 0.0
        scale = scale_of(unit, np.concatenate(sizes), low) if sizes else None
        if scale is not None:
            scales[unit] = scale
    return scales


def _places(one: _Shown, scales: dict[str, Scale]) -> IntArray:
    scale = scales.get(one.finding.unit)
    return np.full(one.finding.count, -1) if scale is None else scale.places(one.finding.sizes)


def _dots(shown: list[_Shown], scales: dict[str, Scale]) -> Iterable[DotMark]:
    """Dots by colour, the worst last, so that they are drawn over the others."""
    found: dict[tuple[int, str], list[FloatArray]] = {}
    for one in shown:
        place = _places(one, scales)[one.laid.of_point]
        for number in np.unique(place).tolist():
            found.setdefault((number, _pattern(one, number)), []).append(one.laid.points[place == number])
    for number, pattern in sorted(found):
        points = np.concatenate(found[number, pattern])
        colour, size = (UNSIZED, UNSIZED_DOT) if number < 0 else (RAMP[number], DOT_SIZES[number])
        yield DotMark(points, colour, size, pattern)


def _pattern(one: _Shown, number: int) -> str:
    """What has no size has a colour of its own and needs no pattern."""
    return "full" if number < 0 else PATTERNS[one.finding.unit]


def _lines(shown: list[_Shown], scales: dict[str, Scale]) -> Iterable[LineMark]:
    found: dict[tuple[int, str], list[FloatArray]] = {}
    for one in shown:
        place = _places(one, scales)[one.laid.of_line]
        for number in np.unique(place).tolist():
            found.setdefault((number, _pattern(one, number)), []).append(one.laid.lines[place == number])
    for number, pattern in sorted(found):
        colour = UNSIZED if number < 0 else RAMP[number]
        yield LineMark(np.concatenate(found[number, pattern]), colour, LINE_WIDTH, pattern)


def _wanted(shown: list[_Shown]) -> Iterable[LineMark]:
    segments = [one.laid.wanted for one in shown if len(one.laid.wanted)]
    if segments:
        yield LineMark(np.concatenate(segments), WANTED, WANTED_WIDTH)


def _among(places: Mapping[str, FloatArray], objects: Collection[str] | None) -> FloatArray:
    """The places on these objects, on all where there are none named; together."""
    parts = [part for name, part in places.items() if len(part) and (objects is None or name in objects)]
    return np.concatenate(parts) if parts else np.zeros((0, 3))


def _excused_legend(vertices: int, moved: int, bones: int) -> Iterable[tuple[Colour, str]]:
    if vertices:
        yield EXCUSED, f"meant to differ: {vertices:,} vertices"
    if moved:
        yield EXCUSED, f"moved by a key that is meant to differ: {moved:,} vertices"
    if bones:
        yield EXCUSED, "meant to differ: 1 bone" if bones == 1 else f"meant to differ: {bones:,} bones"


def _title(shown: list[_Shown]) -> str:
    if not shown:
        return "Nothing to mark"
    if len(shown) == 1:
        finding = shown[0].finding
        about = f" ({finding.subject})" if finding.subject else ""
        return f"{counted(finding.code, finding.count)}{about}"
    layers = {LAYER_OF_CODE.get(one.finding.code, "") for one in shown}
    kinds = len({(one.finding.code, one.finding.subject) for one in shown})
    total = sum(one.finding.count for one in shown)
    if kinds == 1:
        return f"{total:,} differences of 1 kind"
    return f"{total:,} differences of {kinds} kinds" + (
        "" if len(layers) == 1 else f" in {len(layers)} layers"
    )


def _legend(
    shown: list[_Shown], scales: dict[str, Scale], amount: Amount
) -> list[tuple[Colour, str, str]]:
    """The first unit's steps one by one, the worst first, without empty ones; of the others how far they go."""
    lines: list[tuple[Colour, str, str]] = []
    for number, (unit, scale) in enumerate(scales.items()):
        places = np.concatenate([_places(one, scales) for one in shown if one.finding.unit == unit])
        if number == 0:
            lines += [(*step, PATTERNS[unit]) for step in _steps(scale, places, amount)]
        else:
            count = int((places >= 0).sum())
            worst = amount(_round(scale.limits[-1], 3), unit)
            lines.append((RAMP[-1], f"{OFF[unit]} off by up to {worst}: {count:,}", PATTERNS[unit]))
    plain = sum(int((_places(one, scales) < 0).sum()) for one in shown)
    if plain:
        lines.append((UNSIZED, f"without a size: {plain:,}", "full"))
    if any(len(one.laid.wanted) for one in shown):
        lines.append((WANTED, "lines to where the partner says it should be", "full"))
    return lines


def _steps(scale: Scale, places: IntArray, amount: Amount) -> list[tuple[Colour, str]]:
    found = []
    for step, number in reversed(list(enumerate(scale.colours))):
        low, high = scale.limits[step], scale.limits[step + 1]
        low_text, high_text = (amount(_round(end, 2), scale.unit) for end in (low, high))
        text = high_text if high_text == low_text else f"{low_text} to {high_text}"
        text = f"{text} {MEANING[scale.unit]}" if scale.unit in MEANING else text
        count = int((places == number).sum())
        if count:
            found.append((RAMP[number], f"{text}: {count:,}"))
    return found


def _round(size: float, digits: int) -> float:
    """As many digits as a reader needs."""
    return float(f"{size:.{digits}g}")


def _words(size: float, unit: str, amount: Amount) -> str:
    return f"{amount(size, unit)} {MEANING[unit]}" if unit in MEANING else amount(size, unit)


def worst_of(finding: Finding, laid: Laid, step: int) -> float | None:
    """The largest size in one step, None where it has none."""
    sizes = finding.sizes[laid.rows(step)]
    known = sizes[np.isfinite(sizes)]
    return float(known.max()) if known.size else None


def step_text(finding: Finding, laid: Laid, step: int, amount: Amount) -> str:
    """Where one is in a finding and how large that is, e.g. "3 of 12: 4 mm"."""
    size, rows = worst_of(finding, laid, step), laid.rows(step)
    words = f"{step + 1:,} of {laid.steps:,}"
    if finding.names and len(rows) == 1:
        words += f": {finding.names[int(rows[0])]}"
    elif len(rows) > 1:
        words += f": {len(rows):,} together"
    return words if size is None else f"{words}: {_words(_round(size, 3), finding.unit, amount)}"
