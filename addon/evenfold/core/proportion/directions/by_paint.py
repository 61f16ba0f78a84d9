"""What the paint says of front and back: over a face hair ends higher than over a nape, and there are eyes and a mouth."""

from dataclasses import dataclass

import numpy as np

from ...colour import apart
from ...figure import FloatArray, IntArray
from ..parts.body import Body
from ..parts.painted import ALIKE, Painted, main_colour, painted_of, seen_along

ROWS = 180
"""A figure is looked at in so many cells to its height."""
UPPER, BESIDE = 0.45, 0.14
"""Over the first share of the height and within the second of it from the middle lies the face, or what is worn in front. Our choice."""
MOST_APART = 40.0
"""Colours further apart than this count no more: a white eye beside a dark one is one edge."""
SHADING = 2.0
"""Less than this between neighbours is shading. Our choice."""
FEWEST_PAIRS = 40
"""Fewer pairs of cells than this tell nothing. Our choice."""
SAYS_ALL = 0.6
"""A side says all it can where its edges are so much more than the other's, of both together. Our choice."""
BARE = 0.6
"""Where edges on both sides together are less than this on average there is hardly any paint. Our choice."""
WIDE = 4 * ROWS
"""Cells are numbered by column and row, so many to a column."""
MIDDLE, RUN = 8, 5
"""Where the top's colour ends is looked for within so many columns of the middle; so many cells of another end it."""
ONE_COLOUR = 0.7
"""The top has a colour where so much of it is that. Our choice."""
DEEPER = (1.5, 2.0)
"""Hair reaches further down behind than in front by the second, which says all there is to say; a hat by less than the
first. Our choice."""


@dataclass(frozen=True)
class View:
    """What is seen from one side: ``cells`` (k,) in order, and their colours ``lab`` (k, 3)."""

    cells: IntArray
    lab: FloatArray


def upper_paint(body: Body, up: FloatArray) -> Painted | None:
    """The painted surface over the figure's middle, all that is worn included; None without paint."""
    if not len(body.colour):
        return None
    height = body.points @ up
    kept = ~body.worn
    low, high = (float(height[kept].min()), float(height[kept].max())) if kept.any() else (0.0, 0.0)
    rows = height > low + UPPER * (high - low)
    return painted_of(body, body.points, rows, (high - low) / (2 * ROWS)) if high > low else None


def vote_of_paint(painted: Painted, up: FloatArray, forward: FloatArray) -> float:
    """From -1 to 1: how much the paint speaks for the way ``forward`` (3,) as the front, below zero for the back."""
    side, deep, height = np.stack([np.cross(up, forward), forward, up]) @ painted.spots.T
    size = float(np.ptp(height)) / (1 - UPPER)
    away = side - np.median(side)
    if not size > 0:
        return 0.0
    column = np.floor(away / size * ROWS).astype(int) + ROWS
    row = np.floor((height - height.min()) / size * ROWS).astype(int)
    cells = np.where(np.abs(away) < BESIDE * size, column * WIDE + row, -1)
    front, back = (_seen(painted.lab, cells, way) for way in (deep, -deep))
    return float(np.clip(_ends_higher(front, back, painted.lab, cells, height) + _richer(front, back), -1, 1))


def _seen(lab: FloatArray, cells: IntArray, near: FloatArray) -> View:
    rows = seen_along(cells, near)
    return View(cells[rows], lab[rows])


def _ends_higher(front: View, back: View, lab: FloatArray, cells: IntArray, height: FloatArray) -> float:
    """From -1 to 1: what covers the top goes on so much further down behind than in front."""
    columns = cells // WIDE
    middle = np.where((cells >= 0) & (np.abs(columns - ROWS) <= MIDDLE), columns, -1)
    highest = seen_along(middle, height)
    colour = main_colour(lab[highest], ONE_COLOUR)
    if colour is None:
        return 0.0
    first, second = _end_of(front, colour), _end_of(back, colour)
    if first is None or second is None:
        return 0.0
    ahead, behind = (max(float(np.median(cells[highest] % WIDE)) - end, 1.0) for end in (first, second))
    deeper = np.clip((max(ahead, behind) / min(ahead, behind) - DEEPER[0]) / (DEEPER[1] - DEEPER[0]), 0, 1)
    return float(np.sign(behind - ahead) * deeper)


def _end_of(view: View, colour: FloatArray) -> float | None:
    """The row at which the ``colour`` of the top ends, in the middle of the columns; None without columns."""
    found = []
    column, row = np.divmod(view.cells, WIDE)
    for one in range(ROWS - MIDDLE, ROWS + MIDDLE + 1):
        mine = np.flatnonzero(column == one)[::-1]
        if len(mine) <= RUN:
            continue
        other = apart(view.lab[mine], colour) >= ALIKE
        runs = np.lib.stride_tricks.sliding_window_view(other, RUN).all(axis=1)
        found.append(row[mine[int(np.argmax(runs))]] if runs.any() else row[mine[-1]] - 1)
    return float(np.median(found)) if found else None


def _richer(front: View, back: View) -> float:
    """From -1 to 1: how much more the colours change from cell to cell in front than behind."""
    ahead, behind = _changes(front), _changes(back)
    if ahead is None or behind is None or ahead + behind < BARE:
        return 0.0
    return float(np.clip((ahead - behind) / (ahead + behind) / SAYS_ALL, -1, 1))


def _changes(view: View) -> float | None:
    """How much colours change from cell to cell on average; None where there are too few."""
    place, changes = view.cells, []
    for way in (1, WIDE):
        at = np.minimum(np.searchsorted(place, place + way), len(place) - 1)
        is_next = place[at] == place + way
        changes.append(apart(view.lab[is_next], view.lab[at[is_next]]))
    found = np.concatenate(changes)
    return float(np.where(found > SHADING, np.minimum(found, MOST_APART), 0.0).mean()) if len(found) >= FEWEST_PAIRS else None
