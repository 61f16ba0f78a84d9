"""One displacement in many keys: the neutral shape was edited and the keys were left behind."""

from dataclasses import replace

import numpy as np

from ...figure import FloatArray, IntArray
from ...findings import Finding
from ..halves import shown
from .moves import Keys, Move

FEWEST = 3
SHARE = 0.5
"""In so many keys, and in more than this share of them, a displacement must stand. Our choice."""


def stale(keys: Keys, reference: str) -> tuple[Finding | None, Keys]:
    """The vertices left behind, and the keys' movements without that displacement."""
    moves = [one for one in keys.moves.values() if one.key.relative_to in ("", reference)]
    wanted = max(FEWEST, int(SHARE * len(moves)) + 1)
    tolerance = keys.limits.tolerance
    often = np.zeros(keys.count, np.int64)
    for move in moves:
        often[move.moved(tolerance)] += 1
    rows = np.flatnonzero(often >= wanted)
    if len(moves) < FEWEST or not len(rows):
        return None, keys
    stray, agree = _common(moves, rows, keys.count, tolerance)
    left = (agree.sum(axis=0) >= wanted) & (np.linalg.norm(stray, axis=1) > tolerance)
    if not left.any():
        return None, keys
    rows, stray = rows[left], stray[left]
    table = np.zeros((keys.count, 3))
    table[rows] = stray
    held = [move for move in moves if 2 * np.isin(rows, move.moved(tolerance)).sum() >= len(rows)]
    cleared = {move.name: _cleared(move, table, rows, tolerance) for move in moves}
    finding = _finding(keys, rows, stray, [move.name for move in held], len(moves))
    return finding, replace(keys, moves={**keys.moves, **cleared})


def _common(
    moves: list[Move], rows: IntArray, count: int, tolerance: float
) -> tuple[FloatArray, "np.ndarray[tuple[int, int], np.dtype[np.bool_]]"]:
    """(c, 3) the middle displacement of ``rows`` over all keys, and (k, c) which keys have it."""
    table = np.array([move.of(count)[rows].astype(np.float32) for move in moves])
    middle = np.median(table, axis=0).astype(np.float64)
    return middle, np.linalg.norm(table - middle, axis=2) <= tolerance


def _cleared(move: Move, table: FloatArray, rows: IntArray, tolerance: float) -> Move:
    """Less the stray displacement where the key moves at all; a key made later has none."""
    return move.without(table, np.intersect1d(rows, move.moved(tolerance)))


def _finding(keys: Keys, rows: IntArray, stray: FloatArray, names: list[str], total: int) -> Finding:
    matched = keys.halves.matched
    sizes = np.linalg.norm(stray, axis=1) * keys.limits.metres
    finding = matched.finding("key-stale", "vertex", rows, matched.partner[rows], sizes, "metres")
    advice = (
        f"{len(names)} of {total} keys pull these vertices back: {shown(names)}. "
        "Carry the edit of the neutral shape over to them."
    )
    return replace(finding, advice=advice)
