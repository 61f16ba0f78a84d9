"""A face that goes on below where the head's weight ends: automatic weights give chin and cheeks to the neck or the chest."""

import numpy as np

from ...figure import FloatArray
from ..face.chin_hints import WEIGHT_END
from ..face.side_outline import cuts
from ..parts.body import Body, BoolArray
from ..spot import Spot
from .outline import ROWS, outline_of
from .region import Head, head_of

BROAD, NARROW = 0.6, 0.7
"""Where the weight ends on a face, the head is still as broad as the first share of its broadest, and the neck below is
narrower than the second share of that. Our choice."""
LOWER = 0.15
"""The neck lies further below the end of the weight than this share of what is above. Our choice."""
BEYOND = 0.12
"""A chin further than this under the end of the head's weight, in shares of what is above, was found on a face that goes on. Our choice."""
NEARER = 0.03
"""Less further down than this, in heads, the chin was found before. Our choice."""
END = 0.03
"""A skin that goes on below the neck by less than this share of the head ends there. Our choice."""
DEEPEST, MARGIN = 1.6, 0.1
"""The neck is looked for so far down, in heights of what is above; the faces that are cut there begin no further below
than the second share of all of it. Our choice."""
BELOW, BEHIND = 0.08, 0.06
"""Further below a chin than the first, what lies no further behind it than the second, in heads, is the face that goes on. Our choice."""
WIDENS, LEVEL = 1.2, 0.02
"""Below the neck the body is broader than the neck by this factor; rows within the share LEVEL of each other are as broad. Our choice."""


def neck_under(body: Body, head: Head, chin: Spot, crown: float, start: float | None) -> float | None:
    """The height of the neck where the face of ``head`` goes on below what was found for its ``chin``; None where it ends there.

    Weight that ends under the ``start`` of the head bone, where that is known, leaves nothing of the face out.
    """
    ends = [reading.height for reading in chin.readings if reading.method == WEIGHT_END]
    if not ends or (start is not None and ends[0] < start):
        return None
    on, rim = _skin(body, head), max(chin.height, ends[0])
    low = max(float(head.framed[on][:, 2].min()), rim - DEEPEST * (crown - rim))
    samples = head.samples(on & (head.framed[:, 2] > low - MARGIN * (crown - low)), (crown - low) / ROWS)
    samples = samples[(samples[:, 2] >= low) & (samples[:, 2] <= crown)]
    if not crown > rim > low or not len(samples):
        return None
    outline = outline_of(samples, np.ones(len(samples), bool), low, crown - low, head.side)
    breadth = np.sqrt(outline.width * outline.depth)
    at = int(np.searchsorted(outline.levels, rim))
    neck = _narrowest_below(breadth, at)
    if neck is None or breadth[at] < BROAD * breadth[at:].max() or breadth[neck] > NARROW * breadth[at]:
        return None
    level = float(outline.levels[neck])
    beyond = chin.evidence == WEIGHT_END or chin.height < rim - BEYOND * (crown - rim)
    goes_on = beyond or _reaches_forward(head, on, chin, level, crown)
    return level if goes_on and rim - level > LOWER * (crown - rim) else None


def down_to(body: Body, head: Head, neck: float, crown: float) -> tuple[Head, float | None]:
    """The head with all of its skin over the ``neck``, and the neck; None for a head whose skin ends there."""
    on = _skin(body, head)
    own = head.own | (on & (head.framed[:, 2] > neck))
    if float(head.framed[on][:, 2].min()) < neck - END * (crown - neck):
        return head_of(body, head.framed, head.piece, own, neck), neck
    return head_of(body, head.framed, head.piece, head.own | on), None


def _skin(body: Body, head: Head) -> BoolArray:
    """(n,) the pieces of the skull, with what of them goes on below the head."""
    return np.isin(head.piece, np.unique(head.piece[head.skull])) & ~body.worn


def _reaches_forward(head: Head, on: BoolArray, chin: Spot, neck: float, crown: float) -> bool:
    """True where what is between ``neck`` and ``chin`` comes about as far forward as the chin: that was a nose or a lip."""
    size = crown - chin.height
    line = cuts(head.framed, head.faces_of(on), head.side, head.width)
    below = line[(line[:, 2] > neck) & (line[:, 2] < chin.height - BELOW * size)]
    return bool(len(below) and below[:, 1].max() > chin.point[1] - BEHIND * size)


def _narrowest_below(breadth: FloatArray, at: int) -> int | None:
    """The row of the first narrow place under the row ``at``: below it the skin gets broader again, or ends."""
    neck = at
    for row in range(at - 1, -1, -1):
        if breadth[row] <= 0 or breadth[row] > WIDENS * breadth[neck]:
            break
        if breadth[row] < (1 - LEVEL) * breadth[neck]:
            neck = row
    return neck if neck < at else None
