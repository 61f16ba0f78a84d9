"""Shape keys: centre keys, left and right pairs, and what the neutral shape left behind."""

from collections.abc import Iterator

from ..findings import Finding
from .keys.across import across
from .keys.moves import own_keys
from .keys.pair import pair_keys
from .keys.single import centre_keys, under_a_mirror, unpaired
from .keys.stale import stale
from .keys.twins import with_twins
from .matched import Limits, Matched

CODES = (
    "key-lopsided", "key-pair-drifted", "key-unpaired", "key-spill", "key-swapped",
    "key-same-side", "key-off-centre", "key-stale",
)


def check(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """The findings of this layer on one matched object; none without layers read.

    A displacement told as ``key-stale`` is taken out before the keys are compared. Half a model
    under a live Mirror modifier is only asked whether its keys keep the open edge on the plane.
    """
    here, there = matched.here.layers, matched.there.layers
    if here is None or there is None or (here.keys is None and there.keys is None):
        return
    if not matched.itself:
        yield from across(matched, limits)
        return
    if here.keys is None:
        return
    keys = own_keys(matched, limits)
    left_behind, keys = stale(keys, here.keys.reference)
    if left_behind is not None:
        yield left_behind
    if keys.halves.half:
        yield from under_a_mirror(keys)
        return
    keys = with_twins(keys)
    yield from unpaired(keys)
    yield from centre_keys(keys)
    yield from pair_keys(keys)
