"""Edges and faces: what is joined on one side is joined on the other."""

from collections.abc import Iterator

from ..findings import Finding
from .matched import Limits, Matched

CODES = ("edge-unmatched", "face-unmatched", "diagonal-unmatched")


def check(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """The findings of this layer on one matched object; none without layers read."""
    del matched, limits
    yield from ()
