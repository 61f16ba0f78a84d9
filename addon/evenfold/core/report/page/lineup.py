"""All figures side by side on one floor, to one scale."""

from collections.abc import Callable, Iterable, Iterator

from ...findings import FigureResult
from .drawing import Drawn, unit_levels, units
from .markup import name, words

TALLEST = 300.0
"""Pixels of the tallest figure."""
NARROWEST, WIDEST = 110.0, 900.0
ABOVE, BELOW, SIDE = 14.0, 10.0, 40.0


Entries = Iterable[tuple[str, FigureResult, Drawn | None]]


def lineup(entries: Callable[[], Entries]) -> Iterator[str]:
    """One picture for each figure, all equally high and to one scale, so that their floors meet.

    ``entries`` gives all of them, each time it is asked; nothing comes where none has a height.
    """
    tallest = deepest = 0.0
    for _, result, pictured in entries():
        top = _top(result, pictured)
        if top > 0.0:
            tallest, deepest = max(tallest, top), max(deepest, _under(pictured))
    if not tallest:
        return
    scale = TALLEST / (tallest + deepest)
    yield '<ol class="lineup">'
    for mark, result, pictured in entries():
        yield (
            f'<li><a href="#{mark}">{_one(result, pictured, scale, tallest, deepest)}'
            f"<span>{name(result.name)}</span></a><span>{_count(result)}</span></li>"
        )
    yield "</ol>"


def _count(result: FigureResult) -> str:
    heads = result.proportion.heads_tall
    return "no count" if heads is None else f"{heads:.2f} heads tall"


def _top(result: FigureResult, pictured: Drawn | None) -> float:
    """Metres above the floor that the figure's picture needs."""
    if pictured is not None:
        return max(float(pictured.portrait.bounds[1][2]), 0.0)
    return max((height for height, _ in unit_levels(result.proportion)), default=0.0)


def _under(pictured: Drawn | None) -> float:
    return 0.0 if pictured is None else max(-float(pictured.portrait.bounds[0][2]), 0.0)


def _one(
    result: FigureResult, pictured: Drawn | None, scale: float, tallest: float, deepest: float
) -> str:
    across, body = 0.0, ""
    if pictured is not None:
        low, high = pictured.portrait.bounds
        across = 2.0 * max(abs(float(low[0])), abs(float(high[0]))) * scale
        factor = scale / pictured.scale
        body = f'<use class="body" href="#{pictured.mark}-front" transform="scale({factor:.5g})"/>'
    half = min(max(across, NARROWEST), WIDEST) / 2.0 + SIDE
    width, height = 2.0 * half, (tallest + deepest) * scale + ABOVE + BELOW
    inner = body + f'<path class="floor" d="M{-half:.0f} 0H{half:.0f}"/>'
    inner += units(result.proportion, scale, -half + SIDE - 6.0, half - 6.0, 12.0)
    return (
        f'<svg role="img" width="{width:.0f}" height="{height:.0f}" '
        f'viewBox="{-half:.0f} {-tallest * scale - ABOVE:.0f} {width:.0f} {height:.0f}" '
        f'aria-label="{words(result.name)}, {_count(result)}">{inner}</svg>'
    )
