"""The keys of a left object against those of the right one that is its mirror image."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ...findings import Finding
from ...sides import counterpart
from ..matched import Limits, Matched
from ..paired_rows import paired_rows
from .moves import MIRROR, Keys, Move, keys_of, moves_of, muted_note
from .single import missing


def across(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """Each key here against its counterpart there, or against the one of the same name."""
    keys = keys_of(paired_rows(matched), limits, moves_of(matched.here, limits))
    there = {move.name: move for move in moves_of(matched.there, limits)}
    used = set()
    for move in keys.moves.values():
        twin = there.get(counterpart(move.name) or move.name) or there.get(move.name)
        if twin is None and not keys.still(move):
            advice = f"{matched.there.name} has no {counterpart(move.name) or move.name}."
            yield missing(keys, move.name, move.moved(limits.tolerance), advice)
        elif twin is not None:
            used.add(twin.name)
            yield from _drifted(keys, move, twin)
    for name, move in there.items():
        if name not in used and not keys.still(move):
            advice = f"Only {matched.there.name} has it."
            yield missing(keys, name, np.zeros(0, np.int64), advice)


def _drifted(keys: Keys, move: Move, twin: Move) -> Iterator[Finding]:
    halves, matched = keys.halves, keys.halves.matched
    mine = move.of(keys.count)[halves.left]
    its = twin.of(len(matched.there.positions))[halves.right]
    size = np.linalg.norm(mine * MIRROR - its, axis=1)
    off = size > keys.limits.tolerance
    if not off.any():
        return
    alike = move.name == twin.name
    finding = matched.finding(
        "key-lopsided" if alike else "key-pair-drifted", "vertex", halves.left[off],
        halves.right[off], size[off] * keys.limits.metres, "metres",
        subjects=(move.name,) if alike else (move.name, twin.name),
    )
    yield replace(finding, advice=muted_note(move, twin))
