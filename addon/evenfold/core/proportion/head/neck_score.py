"""How much speaks for a place in the outline as the neck. All weights here are our choice."""

from dataclasses import dataclass

import numpy as np

from .arms import spread_beyond_trunk
from .outline import ROWS, Outline

LOWEST = 0.2
"""No neck lies further down than this share of the figure's height."""
MOST_OF_ARMS = 0.7
"""Arms below and none above speak for a neck by how far they reach out, in widths of the trunk, but by no more than this."""
NARROWNESS = 1.2
"""A narrow place speaks for a neck by so much per share that it is narrower than what is above and below."""
WIDER, MOST_WIDER = 0.4, 0.8
"""What is wider above speaks for it by the first per share that it is so, which counts up to the second."""
STEP_OUT, MOST_OF_LEDGE = 5, 0.6
"""A chin's ledge speaks for it by the first per share of the head, but by no more than the second."""
LEDGE_REACH, FEWEST_ROWS = 0.12, 2
"""The ledge is looked for over the first share of the head above the neck, and over so many rows at least."""
NOSE = 4
"""How much a place speaks for a neck by lying behind the face, per share of the head; as much speaks against a mouth."""
FACE, AS_FAR_BACK = (0.1, 0.7), 0.05
"""The face lies between the first shares of the head; a neck lies behind it by more than the second."""
IN_FRONT, BEHIND = 0.8, 0.3
"""A place in front of the face speaks against a neck by no more than the first, one behind it for a neck by no more than the second."""
DEEPER, MOST_DEEPER = 0.05, 0.4
"""A neck lies no further forward than the first share of the head ahead of what is below it; more counts up to the second."""
JUST_BELOW = 0.75
"""A jaw under a mouth reaches down no further than this share of what is over the mouth."""
FLATTEST, TALLEST = 0.75, 1.5
"""Heights to widths beyond which a head gets unlikely."""
TOO_FLAT = 2
"""A head that is too flat is unlikelier by this factor than one as much too tall."""


@dataclass(frozen=True)
class Place:
    """A ``row`` of the outline that may be the neck's, under a head that ends in the row ``top``.

    ``narrow`` against what is above and below it, what is above so many times ``wider``, and the ``ledge`` in front
    over it, in heights of the head.
    """

    row: int
    top: int
    narrow: float
    wider: float
    ledge: float

    @property
    def high(self) -> int:
        """Rows of the head."""
        return self.top - self.row


def score_of(outline: Outline, place: Place, *, raised: bool) -> float:
    """How much speaks for the place: arms below and none above (unless they are ``raised``), narrowness, the ledge of a
    chin, a face before it and no jaw below it, and a head as tall as heads are."""
    row, top, high = place.row, place.top, place.high
    arms = 0.0 if raised else spread_beyond_trunk(outline, max(0, row - high), row) - spread_beyond_trunk(outline, row + 1, top + 1)
    score = float(np.clip(arms, -MOST_OF_ARMS, MOST_OF_ARMS))
    score = score + NARROWNESS * (1 - place.narrow) + WIDER * min(place.wider - 1, MOST_WIDER) + min(STEP_OUT * place.ledge, MOST_OF_LEDGE)
    ratio = high * outline.cell / max(float(outline.width[row + 1 : top + 1].max()), outline.cell)
    return score + (_set_back(outline, place) - _in_the_face(outline, place) - _unlike_a_head(ratio))


def ledge_over(outline: Outline, row: int, high: int) -> float:
    """How far the outline in front comes forward just above a row, in shares of the ``high`` rows above it."""
    reach = max(round(LEDGE_REACH * high), FEWEST_ROWS)
    near = outline.front[row : row + reach + 1]
    if not np.isfinite(near).all():
        return 0.0
    return float(near.max() - near[0]) / (high * outline.cell)


def _set_back(outline: Outline, place: Place) -> float:
    """What speaks for a neck that lies behind the face over it, and against the underside of a nose."""
    row, high = place.row, place.high
    first, last = (round(share * high) for share in FACE)
    face = outline.front[row + first : row + last + 1]
    face = face[np.isfinite(face)]
    if not len(face) or not np.isfinite(outline.front[row]):
        return 0.0
    behind = float(np.median(face) - outline.front[row]) / (high * outline.cell)
    return float(np.clip(NOSE * (behind - AS_FAR_BACK), -IN_FRONT, BEHIND))


def _in_the_face(outline: Outline, place: Place) -> float:
    """What speaks against a place with something still further back close below it, as a mouth over a jaw has."""
    row, high = place.row, place.high
    below = outline.front[max(row - round(JUST_BELOW * high), int(LOWEST * ROWS)) : row]
    below = below[np.isfinite(below)]
    if not len(below) or not np.isfinite(outline.front[row]):
        return 0.0
    deeper = float(outline.front[row] - below.min()) / (high * outline.cell)
    return NOSE * min(max(deeper - DEEPER, 0.0), MOST_DEEPER)


def _unlike_a_head(ratio: float) -> float:
    """What a height to width of ``ratio`` speaks against a head."""
    return TOO_FLAT * max(FLATTEST - ratio, 0.0) + max(ratio - TALLEST, 0.0)
