"""A figure's outline row by row: how wide and deep its trunk is, how far its front reaches, and how far all of it spreads."""

from dataclasses import dataclass

import numpy as np

from ...figure import FloatArray, IntArray
from ..parts.body import Body, BoolArray
from ..points.sample import dense_near
from .from_front import shown_from_front

ROWS = 150
"""Rows to the figure's height."""
WIDEST = 20 * ROWS
"""Further than so many cells from the middle nothing is told apart: 20 heights, which bounds the memory."""
NEAR, LEAST_WIDTH = 0.25, 2
"""Front and back are those of what lies within the first share of the trunk's width from the middle, and a cell; the
trunk is taken to be so many cells wide at least. Our choice."""
ACROSS, SHOWS = 0.04, 0.02
"""A piece of the trunk makes up more than the second share of what shows from the front within the first from the middle,
in heights. Our choice."""


@dataclass(frozen=True)
class Outline:
    """Rows (ROWS,) from the feet up: ``levels``, the trunk's ``width`` and ``depth``, full ``spread``, the trunk's ``front``."""

    levels: FloatArray
    width: FloatArray
    depth: FloatArray
    spread: FloatArray
    front: FloatArray

    @property
    def cell(self) -> float:
        """The height of a row."""
        return float(self.levels[1] - self.levels[0])


def outline_of(samples: FloatArray, trunk: BoolArray, low: float, span: float, side: float) -> Outline:
    """Rows of the figure; ``trunk`` (n,) are the samples of pieces that show in the middle."""
    cell = span / ROWS
    row = np.clip(((samples[:, 2] - low) / cell).astype(int), 0, ROWS - 1)
    column = np.clip(np.round((samples[:, 0] - side) / cell), -WIDEST, WIDEST).astype(int)
    reach = int(np.abs(column).max()) + 2
    spread = np.zeros(ROWS)
    np.maximum.at(spread, row, 2 * np.abs(samples[:, 0] - side))
    filled = np.zeros((ROWS, 2 * reach + 1), bool)
    filled[row[trunk], column[trunk] + reach] = True
    width = _run(filled, reach) * cell
    near = trunk & (np.abs(samples[:, 0] - side) < NEAR * np.maximum(width, LEAST_WIDTH * cell)[row] + cell)
    front, back = np.full(ROWS, -np.inf), np.full(ROWS, np.inf)
    np.maximum.at(front, row[near], samples[near, 1])
    np.minimum.at(back, row[near], samples[near, 1])
    depth = np.where(front >= back, front - back, 0.0)
    levels = np.asarray(low + (np.arange(ROWS) + 0.5) * cell, float)
    return Outline(levels, np.asarray(width, float), np.asarray(depth, float), spread, front)


def _run(filled: BoolArray, middle: int) -> IntArray:
    """(ROWS,) cells filled without a gap to both sides of the column ``middle``."""
    right = np.argmin(np.pad(filled[:, middle:], ((0, 0), (0, 1))), axis=1)
    left = np.argmin(np.pad(filled[:, middle::-1], ((0, 0), (0, 1))), axis=1)
    return np.asarray(np.maximum(right + left - 1, 0), np.int64)


def trunk_pieces(body: Body, framed: FloatArray, piece: IntArray, side: float) -> BoolArray:
    """(pieces,) which pieces show from the front near the middle: not arms, not what hangs behind."""
    faces = body.triangles[~body.worn[body.triangles].any(axis=1)]
    count = int(piece.max()) + 1
    owner = piece[faces[:, 0]]
    own = framed[~body.worn]
    span = (float(own[:, 2].min()), float(own[:, 2].max()))
    seen, _, _ = shown_from_front(framed, faces, owner, side, ACROSS * (span[1] - span[0]), span)
    total = np.bincount(seen, minlength=count)
    return total > SHOWS * total.sum()


def surface_samples(body: Body, framed: FloatArray, step: float) -> tuple[FloatArray, IntArray]:
    """Points all over what is not worn, and for each a vertex it is near."""
    faces = body.triangles[~body.worn[body.triangles].any(axis=1)]
    if not len(faces):
        rows = np.flatnonzero(~body.worn)
        return framed[rows], rows
    used, compact = np.unique(faces, return_inverse=True)
    samples, near = dense_near(framed[used], compact.reshape(-1, 3), step)
    return samples, used[near]
