"""One displacement in many keys: the neutral shape was edited and the keys were left behind."""

from dataclasses import replace

import numpy as np

from ...face_shapes import one_sided
from ...figure import FloatArray, IntArray
from ...findings import Finding
from ...layers import BoolArray
from ...pairing.islands import components
from ..paired_rows import shown
from .moves import Keys, Move

FEWEST = 3
SHARE = 0.5
"""In so many keys, and in more than this share of them, a displacement must stand. Our choice."""

ENOUGH, NEARLY_ALL = 6, 0.9
"""Somewhere it must stand in this share of all keys that move anything, and in so many of them.
Fewer are enough where a left and a right key both hold it on both halves. Our choice: vowels share
a jaw drop and expressions a blink."""


def stale(keys: Keys, reference: str) -> tuple[Finding | None, Keys]:
    """The vertices left behind, and the keys' movements without that displacement.

    Nothing is told where a key moves nothing but what nearly all keys move, unless a left and a right key
    prove that the displacement is neither's own: then such a key was empty before.
    """
    tolerance = keys.limits.tolerance
    moves = [
        one for one in keys.moves.values()
        if one.key.relative_to in ("", reference) and not keys.still(one)
    ]
    wanted = max(FEWEST, int(SHARE * len(moves)) + 1)
    often = np.zeros(keys.count, np.int64)
    for move in moves:
        often[move.moved(tolerance)] += 1
    nearly_all = NEARLY_ALL * len(moves)
    rows = np.flatnonzero(often >= max(wanted, nearly_all))
    if len(moves) < FEWEST or not len(rows):
        return None, keys
    stray, agree = _common(moves, rows, keys.count, tolerance)
    agreeing = agree.sum(axis=0)
    left = (agreeing >= wanted) & (np.linalg.norm(stray, axis=1) > tolerance)
    proof = _proof(keys, moves, rows[left], agree[:, left])
    if not proof:
        left &= _around(keys, rows, left, agreeing >= nearly_all)
    if not left.any() or not (proof or len(moves) >= ENOUGH):
        return None, keys
    if not proof and any(np.isin(move.moved(tolerance), rows).all() for move in moves):
        return None, keys
    rows, stray = rows[left], stray[left]
    table = np.zeros((keys.count, 3))
    table[rows] = stray
    cleared = {move.name: _cleared(move, table, rows, tolerance) for move in moves}
    held = [move for move in moves if 2 * np.isin(rows, move.moved(tolerance)).sum() >= len(rows)]
    finding = _finding(keys, rows, stray, [move.name for move in held], len(moves))
    return finding, replace(keys, moves={**keys.moves, **cleared})


def _around(keys: Keys, rows: IntArray, left: BoolArray, sure: BoolArray) -> BoolArray:
    """Which of ``rows`` hang together, over those that are ``left``, with one that is sure."""
    inside = np.zeros(keys.count, bool)
    inside[rows[left]] = True
    edges = keys.halves.matched.here.edges.reshape(-1, 2)
    label = components(keys.count, edges[inside[edges].all(axis=1)])[rows]
    return np.isin(label, label[left & sure])


def _proof(keys: Keys, moves: list[Move], rows: IntArray, agree: BoolArray) -> bool:
    """True where a one-sided left key and its right one hold the same on both halves, and more besides."""
    place = {move.name: number for number, move in enumerate(moves)}
    for name, other in zip(keys.paired.left, keys.paired.right, strict=True):
        if name not in place or other not in place or one_sided(name) is False:
            continue
        both = agree[place[name]] & agree[place[other]]
        x = keys.x[rows[both]]
        more = all(
            len(np.setdiff1d(moves[place[one]].moved(keys.limits.tolerance), rows))
            for one in (name, other)
        )
        if more and (x > 0.0).any() and (x < 0.0).any():
            return True
    return False


def _common(
    moves: list[Move], rows: IntArray, count: int, tolerance: float
) -> tuple[FloatArray, BoolArray]:
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
