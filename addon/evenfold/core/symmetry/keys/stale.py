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

ROUNDING = 8.0 * float(np.finfo(np.float32).eps)
"""A share of the object's size below which two movements are the same as stored."""

FAIR, FAIR_FROM = 1.0 / 3.0, 5
"""Next to vertices that are sure, this share of at least so many keys tells enough. Our choice."""


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
    rows, stray = _with_fair(keys, moves, rows[left], stray[left])
    table = np.zeros((keys.count, 3))
    table[rows] = stray
    cleared = {move.name: _cleared(move, table, rows, tolerance) for move in moves}
    held = [move for move in moves if _holds(move, rows, tolerance)]
    finding = _finding(keys, rows, stray, [move.name for move in held], len(moves))
    return finding, replace(keys, moves={**keys.moves, **cleared})


def _with_fair(
    keys: Keys, moves: list[Move], rows: IntArray, stray: FloatArray
) -> tuple[IntArray, FloatArray]:
    """What is left behind (k,), (k, 3), and the vertices beside it where fewer keys tell it.

    There the other keys also move by themselves.
    """
    held = [move for move in moves if _holds(move, rows, keys.limits.tolerance)]
    if len(held) < FAIR_FROM:
        return rows, stray
    often = np.zeros(keys.count, np.int64)
    for move in held:
        often[move.rows] += 1
    more = np.setdiff1d(np.flatnonzero(often == len(held)), rows)
    if not len(more):
        return rows, stray
    size = float(np.nanmax(np.abs(keys.halves.matched.here.world), initial=0.0))
    told, agreeing = most_told(np.array([move.of(keys.count)[more] for move in held]), ROUNDING * size)
    fair = (agreeing >= max(2.0, FAIR * len(held))) & (np.linalg.norm(told, axis=1) > keys.limits.tolerance)
    both = np.concatenate([rows, more[fair]])
    sure = np.arange(len(both)) < len(rows)
    kept = sure | _around(keys, both, np.ones(len(both), bool), sure)
    order = np.argsort(both[kept])
    return both[kept][order], np.concatenate([stray, told[fair]])[kept][order]


def _holds(move: Move, rows: IntArray, tolerance: float) -> bool:
    """True for a key that moves at least half of these vertices."""
    return bool(2 * np.isin(rows, move.moved(tolerance)).sum() >= len(rows))


def most_told(table: FloatArray, near: float) -> tuple[FloatArray, IntArray]:
    """Of (keys, k, 3) movements the one most keys share at each vertex, and how many do."""
    told, most = np.zeros(table.shape[1:]), np.zeros(table.shape[1], np.int64)
    for one in table:
        alike = np.linalg.norm(table - one, axis=2) <= near
        count = alike.sum(axis=0)
        better = count > most
        mean = (table * alike[:, :, None]).sum(axis=0) / count[:, None]
        told[better], most[better] = mean[better], count[better]
    return told, most


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
