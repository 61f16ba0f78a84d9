"""A muzzle of its own piece: it ends the face below where it hangs lower than the jaw behind it."""

import numpy as np

from ...findings import Reading
from ..head.region import Head
from ..points.islands import boxes_of
from .chin_touch import CLEAR

JUTS = 0.06
"""A muzzle reaches ahead of the face behind it by this share of the head at least. Our choice."""
DROP, STEEP = 0.15, 0.6
"""It hangs no lower than the jaw by the first share of the head, nor by the second of how far it reaches ahead; a beard
does. Our choice."""
HIGHEST, SMALLER = 0.7, 0.75
"""It ends below the first share of the way from chin to crown, and is smaller than the second of the head. Our choice."""
ASIDE = 0.08
"""Its middle lies no further to the side than this share of the head's width. Our choice."""


def muzzle_reading(head: Head, chin: float, size: float, *, weighted: bool) -> Reading | None:
    """The lowest point of a muzzle that hangs lower than a ``chin`` behind it, in a head of ``size``; None where there is none.

    Where the head is told by weights (``weighted``), it follows the head.
    """
    shown = head.own.copy()
    if not weighted:
        shown[head.faces] = True
    rest = shown & ~np.isin(head.piece, np.unique(head.piece[head.skull]))
    face = head.framed[head.skull & (head.framed[:, 2] > chin) & (head.framed[:, 2] < chin + HIGHEST * size)]
    if not rest.any() or not len(face) or not size > 0:
        return None
    number = np.unique(head.piece[rest], return_inverse=True)[1]
    low, high = boxes_of(head.framed[rest], number, int(number.max()) + 1)
    ahead = high[:, 1] - float(face[:, 1].max())
    drop = chin - low[:, 2]
    on_face = (low[:, 1] < face[:, 1].max()) & (high[:, 2] > chin) & (high[:, 2] < chin + HIGHEST * size)
    amid = np.abs((low[:, 0] + high[:, 0]) / 2 - head.side) < ASIDE * head.width
    small = ((high - low) < SMALLER * size).all(axis=1)
    hangs = (drop > 0) & (drop < DROP * size) & (drop < STEEP * ahead)
    found = np.flatnonzero(on_face & amid & small & hangs & (ahead > JUTS * size))
    if not len(found):
        return None
    return CLEAR.about("lowest point of the muzzle", float(low[found, 2].min()), size)
