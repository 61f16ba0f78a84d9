"""Shape keys: centre keys, left and right pairs, and what the neutral shape left behind."""

from collections.abc import Iterator

from ..findings import Finding
from .matched import Limits, Matched

CODES = ("key-lopsided", "key-pair-drifted", "key-unpaired", "key-spill", "key-swapped", "key-same-side", "key-off-centre", "key-stale")


def check(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """The findings of this layer on one matched object; none without layers read."""
    del matched, limits
    yield from ()
