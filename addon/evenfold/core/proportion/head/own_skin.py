"""Which skin is the head's own: what hair pulls along belongs to it, what weights spilled to does not."""

from dataclasses import replace

import numpy as np

from ...extents import extent_of
from ...figure import FloatArray, IntArray
from ..parts.body import FEWEST, Body, BoolArray
from ..points.islands import boxes_of
from .region import Head, head_of

HARDLY = 0.15
"""With less than this share of what follows it a head's skin has hardly anything left. Our choice."""
LARGE = 0.5
"""A skull reaches over this share of all that follows the head. Our choice."""
SHORT, UNDER = 0.25, 0.5
"""A piece that rises over the start of the head bone by less than the first share of what follows the head and rises
furthest, and reaches under it by the second of its own rise, is not the skull. Our choice."""


def with_own_skin(body: Body, framed: FloatArray, piece: IntArray, start: float | None) -> tuple[Body, Head]:
    """The head, with the skin of the skull's own piece that only the bones of separate hair pull along.

    ``start`` is the height at which the head bone starts, where known.
    """
    low = np.zeros(len(body.head), bool) if start is None else _low_pieces(body, framed[:, 2], piece, start)
    own = body.follows_head & ~(low & _in_part(body, piece))
    back = _scalp_of_ears(body, framed, piece) if len(body.beside) else np.zeros(len(own), bool)
    if body.pulled.any():
        whole = replace(body, worn=body.worn & ~body.pulled)
        skull = head_of(whole, framed, piece, own & ~whole.worn, barred=low).skull
        back |= body.pulled & np.isin(piece, np.unique(piece[skull]))
    body = replace(body, worn=body.worn & ~back)
    return body, head_of(body, framed, piece, own & ~body.worn, barred=low)


def _low_pieces(body: Body, height: FloatArray, piece: IntArray, start: float) -> BoolArray:
    """(n,) pieces that follow the head and hardly rise over the ``start`` of its bone: beards, collars, and what weights spilled to."""
    follows = body.follows_head
    if body.head_how != "weights" or not follows.any():
        return np.zeros(len(follows), bool)
    low, top = np.full(int(piece.max()) + 1, np.inf), np.full(int(piece.max()) + 1, -np.inf)
    np.minimum.at(low, piece, height)
    np.maximum.at(top, piece[follows], height[follows])
    short = (top < start + SHORT * (top[np.isfinite(top)].max() - start)) & (low < start - UNDER * (top - start))
    found = short[piece]
    return found if (follows & ~body.worn & ~found).sum() >= FEWEST else np.zeros(len(found), bool)


def _in_part(body: Body, piece: IntArray) -> BoolArray:
    """(n,) pieces that go on into what does not follow the head."""
    return np.asarray((np.bincount(piece[~body.follows_head & ~body.worn], minlength=int(piece.max()) + 1) > 0)[piece], bool)


def _scalp_of_ears(body: Body, framed: FloatArray, piece: IntArray) -> BoolArray:
    """(n,) what follows ears and horns, in a skin that goes on into the body, or is as large as a head, and would keep no head without it."""
    count = int(piece.max()) + 1
    follows = body.follows_head
    heads, kept = np.bincount(piece[follows], minlength=count), np.bincount(piece[follows & ~body.worn], minlength=count)
    bodies = np.bincount(piece[~follows & ~body.worn], minlength=count)
    bald = (heads >= FEWEST) & (kept < HARDLY * heads) & ((bodies >= FEWEST) | _as_large_as_a_head(framed, piece, follows))
    return np.asarray(body.beside & bald[piece], bool)


def _as_large_as_a_head(framed: FloatArray, piece: IntArray, follows: BoolArray) -> BoolArray:
    """(k,) pieces that reach over most of what ``follows`` the head, all three ways: no ears, and no band with ears on it."""
    low, high = boxes_of(framed[follows], piece[follows], int(piece.max()) + 1)
    whole = extent_of(framed[follows]) if follows.any() else np.ones(3)
    return np.asarray((high - low > LARGE * whole).all(axis=1), bool)
