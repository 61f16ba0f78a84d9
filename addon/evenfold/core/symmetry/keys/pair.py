"""A left key against its right one: exchanged, on one side twice, spilling over, or just unlike."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from ...face_shapes import one_sided
from ...figure import FloatArray, IntArray
from ...findings import Finding
from .moves import MIRROR, Keys, Move, muted_note
from .single import ONE_HALF

OWN, FOREIGN = 0.8, 0.2
"""Shares of a key's movement on its own half: from the one it is there, up to the other it is not.
Our choice."""

BLEND = 0.4
"""How far over the centre a one-sided key may reach, as a share of its reach on its own half. Our
choice: on an openly licensed head with 51 of the shapes, plain blends end at 0.38 (measured)."""

SIDEWAYS = 0.3
"""This share of a directional key's movement must go one way before its direction counts."""


@dataclass(frozen=True)
class _Two:
    """A pair of keys, with (n, 3) moves; ``left_share`` and ``right_share`` on the left half."""

    left: Move
    right: Move
    by_left: FloatArray
    by_right: FloatArray
    left_share: float
    right_share: float

    @property
    def subjects(self) -> tuple[str, str]:
        return self.left.name, self.right.name


def pair_keys(keys: Keys) -> Iterator[Finding]:
    """The findings on every pair of keys of which one moves anything."""
    for name, other in zip(keys.paired.left, keys.paired.right, strict=True):
        left, right = keys.moves[name], keys.moves[other]
        if keys.still(left) and keys.still(right):
            continue
        two = _two(keys, left, right)
        yield from _sided(keys, two) if _is_sided(keys, two) else _directional(keys, two)


def _two(keys: Keys, left: Move, right: Move) -> _Two:
    shares = keys.left_share(left), keys.left_share(right)
    return _Two(left, right, left.of(keys.count), right.of(keys.count), *shares)


def blend_of(keys: Keys, left: Move, right: Move) -> float | None:
    """How far over the centre a pair may reach, in scene units; None for keys that move both halves."""
    if not _is_sided(keys, _two(keys, left, right)):
        return None
    return max(_blend(keys, left, 1), _blend(keys, right, -1))


def _is_sided(keys: Keys, two: _Two) -> bool:
    """By the known names, else by where they move.

    A pair is one-sided where one of the two lives on one half; where each is its own mirror
    image, as copies never split are and no direction is; and where one of the two moves nothing,
    as the host's Symmetrize leaves them (it copies a left key's movement to the other half as it
    is, not mirrored: measured).
    """
    known = one_sided(two.left.name)
    if known is not None:
        return known
    moving = [
        (move, by, share)
        for move, by, share in (
            (two.left, two.by_left, two.left_share), (two.right, two.by_right, two.right_share),
        )
        if not keys.still(move)
    ]
    if len(moving) < 2 or any(share >= ONE_HALF or share <= 1.0 - ONE_HALF for _, _, share in moving):
        return True
    return all(_even(keys, move, by) for move, by, _ in moving)


def _even(keys: Keys, move: Move, by: FloatArray) -> bool:
    left, right, centre = keys.touched(move)
    apart = _lengths(by[left] * MIRROR - by[right]).max(initial=0.0)
    return bool(max(apart, np.abs(by[centre, 0]).max(initial=0.0)) <= keys.limits.tolerance)


def _sided(keys: Keys, two: _Two) -> Iterator[Finding]:
    if not (keys.still(two.left) or keys.still(two.right)):
        own_left, own_right = two.left_share, 1.0 - two.right_share
        if own_left <= FOREIGN and own_right <= FOREIGN:
            yield _swapped(keys, two)
            return
        if own_left >= OWN and own_right <= FOREIGN:
            yield _same_side(keys, two, two.right)
            return
        if own_right >= OWN and own_left <= FOREIGN:
            yield _same_side(keys, two, two.left)
            return
    blend = max(_blend(keys, two.left, 1), _blend(keys, two.right, -1))
    yield from _spill(keys, two.left, 1, blend)
    yield from _spill(keys, two.right, -1, blend)
    yield from _drifted(keys, two, blend)


def _blend(keys: Keys, move: Move, side: int) -> float:
    own = keys.x[move.moved(keys.limits.tolerance)] * side
    return max(BLEND * float(own.max(initial=0.0)), keys.limits.tolerance)


def _spill(keys: Keys, move: Move, side: int, blend: float) -> Iterator[Finding]:
    """What a one-sided key moves on the wrong half, beyond the blend at the centre."""
    rows = move.moved(keys.limits.tolerance)
    rows = rows[keys.x[rows] * side < -blend]
    if len(rows):
        yield _moved(keys, "key-spill", move, rows, (move.name,), "")


def _moved(
    keys: Keys, code: str, move: Move, rows: IntArray, subjects: tuple[str, ...], advice: str
) -> Finding:
    matched = keys.halves.matched
    size = np.linalg.norm(move.of(keys.count)[rows], axis=1) * keys.limits.metres
    finding = matched.finding(code, "vertex", rows, matched.partner[rows], size, "metres", subjects=subjects)
    return replace(finding, advice=_joined(advice, muted_note(move)))


def _apart(keys: Keys, two: _Two, blend: float, exchanged: bool = False) -> tuple[IntArray, IntArray, FloatArray]:
    """Pairs of vertices, then the centre, with how far the left key is from the right one mirrored.

    On the half where the left key has nothing to do it counts within ``blend`` of the plane.
    """
    here, there, centre = keys.touched(two.left, two.right)
    left, right = (here, there) if keys.sign > 0 else (there, here)
    one, other = (two.by_right, two.by_left) if exchanged else (two.by_left, two.by_right)
    own = _lengths(one[left] * MIRROR - other[right])
    over = _lengths(one[right] * MIRROR - other[left])
    near = np.maximum(np.abs(keys.x[left]), np.abs(keys.x[right])) <= blend
    size = np.maximum(own, np.where(near, over, 0.0))
    middle = _lengths(one[centre] * MIRROR - other[centre])
    return (
        np.concatenate([here, centre]),
        np.concatenate([there, centre]),
        np.concatenate([size, middle]),
    )


def _lengths(vectors: FloatArray) -> FloatArray:
    return np.sqrt(np.einsum("ij,ij->i", vectors, vectors))


def _drifted(keys: Keys, two: _Two, blend: float) -> Iterator[Finding]:
    mine, its, size = _apart(keys, two, blend)
    off = size > keys.limits.tolerance
    if not off.any():
        return
    still = [move.name for move in (two.left, two.right) if keys.still(move)]
    advice = f"{still[0]} moves nothing." if still else ""
    yield _pair_finding(keys, two, "key-pair-drifted", mine[off], its[off], size[off], advice)


def _pair_finding(
    keys: Keys, two: _Two, code: str, mine: IntArray, its: IntArray, size: FloatArray, advice: str
) -> Finding:
    finding = keys.halves.matched.finding(
        code, "vertex", mine, its, size * keys.limits.metres, "metres", subjects=two.subjects
    )
    return replace(finding, advice=_joined(advice, _ranges(two), muted_note(two.left, two.right)))


def _ranges(two: _Two) -> str:
    one, other = two.left.key, two.right.key
    if (one.low, one.high) == (other.low, other.high):
        return ""
    return f"Their ranges differ: {one.low:g} to {one.high:g} and {other.low:g} to {other.high:g}."


def _swapped(keys: Keys, two: _Two) -> Finding:
    """One finding for the pair: every pair of vertices that either key moves."""
    mine, its, rest = _apart(keys, two, np.inf, exchanged=True)
    by = (two.by_left[mine], two.by_left[its], two.by_right[mine], two.by_right[its])
    both = np.stack([_lengths(one) for one in by]).max(axis=0)
    advice = "Exchange their names."
    if rest.max(initial=0.0) > keys.limits.tolerance:
        worst = rest.max() * keys.limits.metres * 1000
        advice += f" Exchanged, they still differ by up to {worst:.3g} mm."
    off = both > keys.limits.tolerance
    return _pair_finding(keys, two, "key-swapped", mine[off], its[off], both[off], advice)


def _same_side(keys: Keys, two: _Two, wrong: Move) -> Finding:
    """The vertices of the other half that the wrong one of the two keys moves."""
    side = 1 if wrong is two.right else -1
    rows = wrong.moved(keys.limits.tolerance)
    rows = rows[keys.x[rows] * side > 0.0]
    advice = f"{wrong.name} moves the other side."
    return _moved(keys, "key-same-side", wrong, rows, two.subjects, advice)


def _directional(keys: Keys, two: _Two) -> Iterator[Finding]:
    """Keys that move both halves sideways: each the mirror image of the other, everywhere."""
    left, right = _direction(keys, two.left), _direction(keys, two.right)
    if left == -1 and right == 1 and one_sided(two.left.name) is False:
        yield _swapped(keys, two)
        return
    yield from _drifted(keys, two, np.inf)


def _direction(keys: Keys, move: Move) -> int:
    """+1 towards the half called left, -1 away from it, 0 where it is not clear."""
    total = float(move.size.sum())
    share = float(move.by[:, 0].sum()) * keys.sign / total if total > 0.0 else 0.0
    return 0 if abs(share) < SIDEWAYS else int(np.sign(share))


def _joined(*parts: str) -> str:
    return " ".join(filter(None, parts))
