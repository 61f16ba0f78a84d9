"""Where the head ends and the body begins when nothing but the shape can say it."""

from dataclasses import dataclass

import numpy as np

from ...figure import FloatArray, IntArray
from ..parts.body import Body, BoolArray
from ..points.sample import dense_near
from .region import shown_from_front

ROWS = 150
NARROW = 0.97
"""A neck is narrower than this share of what is above it and of what is below it."""
FLATTEST, TALLEST = 0.75, 1.5
"""Heights to widths beyond which a head gets unlikely."""
NOSE = 4.0
"""How much a place speaks for a neck by lying behind the face, per share of the head. Our choice."""
DEEPER = 0.05
"""A neck lies no further forward than this share of the head ahead of what is below it. Our choice."""
LEDGE = 0.05
"""A chin stands forward over the neck by at least this share of the head."""
WIDEST = 20 * ROWS
"""Further than so many cells from the middle nothing is told apart: 20 heights, which bounds the memory."""


@dataclass(frozen=True)
class Neck:
    """``height`` of the narrowest place, how narrow it is, and how much speaks for it (``score``)."""

    height: float
    narrow: float
    top: float
    score: float = 0.0


@dataclass(frozen=True)
class Outline:
    """Rows (ROWS,) from the feet up: ``levels``, the trunk's ``width`` and ``depth``, full ``spread``."""

    levels: FloatArray
    width: FloatArray
    depth: FloatArray
    spread: FloatArray
    front: FloatArray


def _run(filled: BoolArray, middle: int) -> IntArray:
    """(ROWS,) cells filled without a gap to both sides of the column ``middle``."""
    right = np.argmin(np.pad(filled[:, middle:], ((0, 0), (0, 1))), axis=1)
    left = np.argmin(np.pad(filled[:, middle::-1], ((0, 0), (0, 1))), axis=1)
    return np.asarray(np.maximum(right + left - 1, 0), np.int64)


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
    near = trunk & (np.abs(samples[:, 0] - side) < 0.25 * np.maximum(width, 2 * cell)[row] + cell)
    front, back = np.full(ROWS, -np.inf), np.full(ROWS, np.inf)
    np.maximum.at(front, row[near], samples[near, 1])
    np.minimum.at(back, row[near], samples[near, 1])
    depth = np.where(front >= back, front - back, 0.0)
    levels = np.asarray(low + (np.arange(ROWS) + 0.5) * cell, float)
    return Outline(levels, np.asarray(width, float), np.asarray(depth, float), spread, front)


def find_necks(outline: Outline) -> list[Neck]:
    """Places under which a head may stand, the likeliest neck first.

    Each is narrower than what is above and below it, or lies under a ledge in front. Arms below
    and none above, narrowness and the ledge of a chin speak for a neck.
    """
    size = np.sqrt(np.maximum(outline.width, 0) * np.maximum(outline.depth, 0))
    smooth = np.convolve(np.pad(size, 1, mode="edge"), np.ones(3) / 3, "valid")
    if not (outline.spread > 0).any():
        return []
    top = _top_row(outline)
    raised = _arms_raised(outline)
    cell = float(outline.levels[1] - outline.levels[0])
    found: list[tuple[float, Neck]] = []
    for index in range(int(0.2 * ROWS), top - int(0.09 * ROWS)):
        if smooth[index] <= 0:
            continue
        high = top - index
        above = float(smooth[index + 1 : top + 1].max())
        below = float(smooth[max(0, index - max(high // 2, 6)) : index].max())
        narrow = float(smooth[index] / max(min(above, below), 1e-12))
        lowest = smooth[index] <= smooth[max(index - 4, 0) : index + 5].min() * 1.0001
        ledge = _ledge_over(outline, index, high)
        if not (lowest and narrow <= NARROW) and (ledge < LEDGE or narrow > 1.15):
            continue
        arms = 0.0 if raised else _arms(outline, max(0, index - high), index) - _arms(outline, index + 1, top + 1)
        wider = min(above / smooth[index] - 1, 0.8)
        score = float(np.clip(arms, -0.7, 0.7)) + 1.2 * (1 - narrow) + 0.4 * wider + min(5 * ledge, 0.6)
        score += _set_back(outline, index, top) - _in_the_face(outline, index, high) - _unlike_a_head(high * cell / max(float(outline.width[index + 1 : top + 1].max()), cell))
        found.append((score, Neck(float(outline.levels[index]), narrow, float(outline.levels[top]), score)))
    return [neck for _, neck in sorted(found, key=lambda entry: -entry[0])]


def _ledge_over(outline: Outline, index: int, high: int) -> float:
    """How far the outline in front comes forward just above a row, in shares of what is above it."""
    reach = max(round(0.12 * high), 2)
    near = outline.front[index : index + reach + 1]
    if not np.isfinite(near).all():
        return 0.0
    return float(near.max() - near[0]) / (high * float(outline.levels[1] - outline.levels[0]))


def _set_back(outline: Outline, index: int, top: int) -> float:
    """What speaks for a neck that lies behind the face over it, and against the underside of a nose."""
    high = top - index
    face = outline.front[index + round(0.1 * high) : index + round(0.7 * high) + 1]
    face = face[np.isfinite(face)]
    if not len(face) or not np.isfinite(outline.front[index]):
        return 0.0
    behind = float(np.median(face) - outline.front[index]) / (high * float(outline.levels[1] - outline.levels[0]))
    return float(np.clip(NOSE * (behind - 0.05), -0.8, 0.3))


def _top_row(outline: Outline) -> int:
    """The highest row of the trunk; of all where the trunk is lost on the way."""
    highest = int(np.flatnonzero(outline.spread > 0)[-1])
    trunk = np.flatnonzero(outline.width > 0)
    return int(trunk[-1]) if len(trunk) and trunk[-1] > 0.75 * highest else highest


def _in_the_face(outline: Outline, index: int, high: int) -> float:
    """What speaks against a place with something still further back close below it, as a mouth over a jaw has."""
    below = outline.front[max(index - round(0.75 * high), int(0.2 * ROWS)) : index]
    below = below[np.isfinite(below)]
    if not len(below) or not np.isfinite(outline.front[index]):
        return 0.0
    deeper = float(outline.front[index] - below.min()) / (high * float(outline.levels[1] - outline.levels[0]))
    return NOSE * min(max(deeper - DEEPER, 0.0), 0.4)


def _unlike_a_head(ratio: float) -> float:
    """What a height to width of ``ratio`` speaks against a head. Our choice."""
    return 2.0 * max(FLATTEST - ratio, 0.0) + max(ratio - TALLEST, 0.0)


def _arms_raised(outline: Outline) -> bool:
    """True when the lowest things beside the trunk join it at their lower end."""
    beside = (outline.spread > 1.3 * outline.width) & (outline.width > 0)
    beside[: int(0.12 * ROWS)] = False
    edges = np.flatnonzero(np.diff(np.concatenate([[0], beside.astype(int), [0]])))
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        if last - first >= 5:
            below = float(outline.width[max(first - 3, 0) : first].max(initial=0.0))
            above = float(outline.width[last : last + 3].max(initial=0.0))
            return below > 1.15 * above or _leans_out(outline.spread[first:last], below)
    return False


def _leans_out(spread: FloatArray, below: float) -> bool:
    """True for arms that begin at a trunk as wide as ``below`` and reach further out the higher."""
    starts, ends = float(np.median(spread[:3])), float(np.median(spread[-3:]))
    return starts < 1.5 * below and max(ends, float(np.percentile(spread, 90))) > 1.3 * starts and ends > starts


def _arms(outline: Outline, first: int, last: int) -> float:
    """How far the figure spreads beyond its trunk in these rows, in widths of the trunk."""
    width = outline.width[first:last]
    if not (width > 0).any():
        return 0.0
    trunk = float(np.median(width[width > 0]))
    return float(np.percentile(outline.spread[first:last], 97)) / trunk - 1


def trunk_pieces(body: Body, framed: FloatArray, piece: IntArray, side: float) -> BoolArray:
    """(pieces,) which pieces show from the front near the middle: not arms, not what hangs behind."""
    faces = body.triangles[~body.worn[body.triangles].any(axis=1)]
    count = int(piece.max()) + 1
    owner = piece[faces[:, 0]]
    own = framed[~body.worn]
    span = (float(own[:, 2].min()), float(own[:, 2].max()))
    seen, _ = shown_from_front(framed, faces, owner, side, 0.04 * (span[1] - span[0]), span)
    total = np.bincount(seen, minlength=count)
    return total > 0.02 * total.sum()


def surface_samples(body: Body, framed: FloatArray, step: float) -> tuple[FloatArray, IntArray]:
    """Points all over what is not worn, and for each a vertex it is near."""
    faces = body.triangles[~body.worn[body.triangles].any(axis=1)]
    if not len(faces):
        rows = np.flatnonzero(~body.worn)
        return framed[rows], rows
    used, compact = np.unique(faces, return_inverse=True)
    samples, near = dense_near(framed[used], compact.reshape(-1, 3), step)
    return samples, used[near]
