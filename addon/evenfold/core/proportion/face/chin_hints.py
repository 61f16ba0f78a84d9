"""What weights and names say of the chin: the jaw bone's points, the face's skin, the end of the head's weight."""

from dataclasses import dataclass

import numpy as np

from ...findings import Reading
from ..fuse import Bracket
from ..head.region import Head
from ..middle import WITHIN_HALF, in_middle
from ..parts.body import FEWEST, Body
from .side_outline import cuts

MOSTLY = 0.5
"""What follows a bone by more than this share of its weight is that bone's."""

WEIGHT_END = "where the head's weight ends in front"
IN_FRONT = 0.6
"""The end of the head's weight is taken in front: what lies ahead of this share of it. Our choice."""
FAR_OVER = 0.12
"""An outline's chin further than this above both the head bone's start and the end of the head's weight, in
heads, may be a fringe or a nose: its range reaches down to where the weight ends. Our choice."""

JAW = Bracket(0.12, 0.08)
"""How far the chin may lie off the lowest place that follows the jaw bone. Our choice."""

FACE = Bracket(0.15, 0.2)
"""The same for what is named the face: it may end above the chin, or go on down the neck. Our choice."""
WIDE, TALL = 0.4, 0.25
"""What is named the face is at least so broad, in widths of the head, and so tall in the middle, in heads. Our choice."""
NO_FACE = 0.5
"""What is named so and lies further than this under the head, in heads, is no face. Our choice."""

ABOUT, ASIDE = 0.06, 0.15
"""A place's weights are looked at within the first up, down, before and behind it, in heads, and to both sides within the
second, in widths of the head. Our choice."""


@dataclass(frozen=True)
class Hints:
    """Heights that tell about where the chin is, None where unknown: the end of the head's weight in front (``rim``),
    the start of the head bone, the narrowest place of the neck; and what follows the jaw bone."""

    rim: float | None
    bone: float | None
    neck: float | None
    jaw: Reading | None

    @property
    def joined(self) -> bool:
        """True where the head goes on into the neck in one piece."""
        return self.rim is not None or self.neck is not None

    def leave_in_doubt(self, height: float, size: float) -> bool:
        """True where ``height`` lies far above both the head bone's start and the end of its weight."""
        return self.rim is not None and self.bone is not None and height > max(self.bone, self.rim) + FAR_OVER * size


def jaw_reading(body: Body, head: Head, size: float) -> Reading | None:
    """The lowest place in the middle that follows the jaw bone more than the others; None without one."""
    if not len(body.jaw):
        return None
    rows = (body.jaw > MOSTLY) & head.own & np.isin(head.piece, np.unique(head.piece[head.skull]))
    if rows.sum() < FEWEST:
        return None
    line = cuts(head.framed, head.faces_of(rows), head.side, head.width)
    if not len(line):
        return None
    return JAW.about("lowest place that follows the jaw bone", float(line[:, 2].min()), size)


def face_reading(body: Body, head: Head, size: float) -> Reading | None:
    """The lower end in the middle of what is named the face's skin; None where nothing is, or too little."""
    if not len(body.face):
        return None
    rows = body.face & (head.framed[:, 2] > head.low - NO_FACE * size)
    if rows.sum() < FEWEST or float(np.ptp(head.framed[rows][:, 0])) < WIDE * head.width:
        return None
    line = cuts(head.framed, head.faces_of(rows), head.side, head.width)
    if not len(line) or float(np.ptp(line[:, 2])) < TALL * size:
        return None
    return FACE.about("lower end of what is named the face", float(line[:, 2].min()), size)


def weight_end(body: Body, head: Head) -> float | None:
    """Height in front where the head's weight passes to the neck's; None for a head on its own."""
    share = (body.head > MOSTLY)[head.faces].sum(axis=1)
    mixed = head.faces[(share > 0) & (share < 3) & np.isin(head.piece[head.faces[:, 0]], np.unique(head.piece[head.skull]))]
    if not len(mixed):
        return None
    ring = head.framed[mixed].mean(axis=1)
    near = ring[in_middle(ring, head, WITHIN_HALF)]
    if not len(near):
        return None
    ahead = near[near[:, 1] >= np.quantile(near[:, 1], IN_FRONT)]
    return float(np.median(ahead[:, 2])) if len(ahead) else None


def head_share(body: Body, head: Head, height: float, forward: float, size: float) -> float:
    """The largest share of the head's weight about a place on the middle outline; 0 where no point is near."""
    off = np.abs(head.framed - [head.side, forward, height])
    near = (off[:, 0] < ASIDE * head.width) & (off[:, 1:] < ABOUT * size).all(axis=1) & ~body.worn
    return float(body.head[near].max(initial=0.0))
