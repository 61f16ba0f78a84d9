"""Vertex weights, left and right groups exchanged."""

from collections.abc import Iterator

from ..findings import Finding
from .matched import Limits, Matched

CODES = ("weight-drifted", "group-unpaired")


def check(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """The findings of this layer on one matched object; none without layers read."""
    del matched, limits
    yield from ()
