"""Keys by themselves: centre keys, vertices that leave the plane, keys without a counterpart."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from ...figure import IntArray
from ...findings import Finding
from ...sides import asks_for_counterpart, counterpart
from .moves import MIRROR, Keys, Move, muted_note

ONE_HALF = 0.9
"""With so much of its movement on one half a key counts as one-sided. Our choice."""


def centre_keys(keys: Keys) -> Iterator[Finding]:
    """``key-lopsided`` and ``key-off-centre`` of every key that is neither left nor right."""
    for move in keys.moves.values():
        if move.name in keys.paired.partner or lonely(keys, move):
            continue
        yield from _lopsided(keys, move)
        yield from off_centre(keys, move, keys.limits.tolerance, "")


def _lopsided(keys: Keys, move: Move) -> Iterator[Finding]:
    table = move.of(keys.count)
    left, right, _ = keys.touched(move)
    apart = np.linalg.norm(table[left] * MIRROR - table[right], axis=1)
    off = apart > keys.limits.tolerance
    if off.any():
        finding = keys.halves.matched.finding(
            "key-lopsided", "vertex", left[off], right[off],
            apart[off] * keys.limits.metres, "metres", move.name,
        )
        yield replace(finding, advice=muted_note(move))


def off_centre(keys: Keys, move: Move, bound: float, words: str) -> Iterator[Finding]:
    """Centre vertices that this key takes as far as ``bound`` off the plane, or further."""
    rows = keys.halves.centre
    start = np.nan_to_num(keys.halves.matched.points[rows, 0])
    by = move.of(keys.count)[rows, 0]
    place = np.where(np.abs(start) >= bound, by, start + by)
    off = (np.abs(place) >= bound) & (by != 0.0)
    if off.any():
        finding = keys.halves.matched.finding(
            "key-off-centre", "vertex", rows[off], rows[off],
            np.abs(place[off]) * keys.limits.metres, "metres", move.name,
        )
        yield replace(finding, advice=" ".join(filter(None, (words, muted_note(move)))))


def under_a_mirror(keys: Keys) -> Iterator[Finding]:
    """Half a model under a live Mirror modifier: what leaves the plane splits, in any key."""
    surface = keys.halves.matched.here
    scale = [float(np.linalg.norm(surface.to_world[:3, one.axis])) for one in surface.mirrors]
    limits = [
        one.merge_limit * size / 2.0
        for one, size in zip(surface.mirrors, scale, strict=True)
        if one.merge_limit is not None
    ]
    bound = min(limits, default=keys.limits.tolerance)
    words = (
        "The halves will split here: the Mirror modifier joins only what lies within "
        f"{bound * keys.limits.metres * 1000:.3g} mm of the plane."
    )
    for move in keys.moves.values():
        yield from off_centre(keys, move, bound, words)


def lonely(keys: Keys, move: Move) -> bool:
    """True for a left or right key without its counterpart."""
    if move.name in keys.paired.partner or counterpart(move.name) is None:
        return False
    share = keys.left_share(move)
    return asks_for_counterpart(move.name) or share >= ONE_HALF or share <= 1.0 - ONE_HALF


def unpaired(keys: Keys) -> Iterator[Finding]:
    """``key-unpaired`` of every left or right key whose counterpart is missing."""
    for move in keys.moves.values():
        if lonely(keys, move):
            advice = f"There is no {counterpart(move.name)}."
            yield missing(keys, move.name, move.moved(keys.limits.tolerance), advice)


def missing(keys: Keys, name: str, vertices: IntArray, advice: str) -> Finding:
    """One key without a counterpart, with the vertices it moves."""
    return Finding(
        "key-unpaired", np.zeros(1, np.int64), np.full(1, -1), np.full(1, np.nan), name,
        hidden=keys.halves.hidden(vertices), kind="key", names=(name,), partner_names=(None,),
        vertices=np.sort(vertices), advice=advice,
    )
