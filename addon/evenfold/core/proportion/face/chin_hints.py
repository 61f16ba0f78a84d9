"""What weights and names say of the chin: the jaw bone's points, the face's skin, the end of the head's weight."""

import numpy as np

from ...findings import Reading
from ..head.region import Head
from ..parts.body import FEWEST, Body
from .side_outline import cuts

WEIGHT_END = "where the head's weight ends in front"
JAW = (0.12, 0.08)
"""So far below and above the lowest place that follows the jaw bone a chin may lie, in heads. Our choice."""
FACE = (0.15, 0.2)
"""The same for what is named the face: it may end above the chin, or go on down the neck. Our choice."""
NEAR = 0.06
"""How near a place its weights are looked at, in heads. Our choice."""
WIDE = 0.4
"""What is named the face is at least so broad, in widths of the head."""


def jaw_reading(body: Body, head: Head, size: float) -> Reading | None:
    """The lowest place in the middle that follows the jaw bone more than the others; None without one."""
    if not len(body.jaw):
        return None
    rows = (body.jaw > 0.5) & head.own & np.isin(head.piece, np.unique(head.piece[head.skull]))
    if rows.sum() < FEWEST:
        return None
    line = cuts(head.framed, head.faces_of(rows), head.side, head.width)
    if not len(line):
        return None
    lowest = float(line[:, 2].min())
    return Reading("lowest place that follows the jaw bone", lowest, lowest - JAW[0] * size, lowest + JAW[1] * size)


def face_reading(body: Body, head: Head, size: float) -> Reading | None:
    """The lower end in the middle of what is named the face's skin; None where nothing is, or too little."""
    if not len(body.face):
        return None
    rows = body.face & (head.framed[:, 2] > head.low - 0.5 * size)
    if rows.sum() < FEWEST or float(np.ptp(head.framed[rows][:, 0])) < WIDE * head.width:
        return None
    line = cuts(head.framed, head.faces_of(rows), head.side, head.width)
    if not len(line) or float(np.ptp(line[:, 2])) < 0.25 * size:
        return None
    lowest = float(line[:, 2].min())
    return Reading("lower end of what is named the face", lowest, lowest - FACE[0] * size, lowest + FACE[1] * size)


def weight_end(body: Body, head: Head) -> float | None:
    """Height in front where the head's weight passes to the neck's; None for a head on its own."""
    share = (body.head > 0.5)[head.faces].sum(axis=1)
    mixed = head.faces[(share > 0) & (share < 3) & np.isin(head.piece[head.faces[:, 0]], np.unique(head.piece[head.skull]))]
    if not len(mixed):
        return None
    ring = head.framed[mixed].mean(axis=1)
    near = ring[np.abs(ring[:, 0] - head.side) < 0.25 * head.width]
    if not len(near):
        return None
    ahead = near[near[:, 1] >= np.quantile(near[:, 1], 0.6)]
    return float(np.median(ahead[:, 2])) if len(ahead) else None


def head_share(body: Body, head: Head, height: float, forward: float, size: float) -> float:
    """The largest share of the head's weight about a place on the middle outline; 0 where no point is near."""
    off = np.abs(head.framed - [head.side, forward, height])
    near = (off[:, 0] < 0.15 * head.width) & (off[:, 1:] < NEAR * size).all(axis=1) & ~body.worn
    return float(body.head[near].max(initial=0.0))
