"""UV maps and seams: mirrored across a line of the map, stacked, or free."""

from collections.abc import Iterator

from ..findings import Finding
from .matched import Limits, Matched

CODES = ("uv-drifted", "seam-unmatched")


def check(matched: Matched, limits: Limits) -> Iterator[Finding]:
    """The findings of this layer on one matched object; none without layers read."""
    del matched, limits
    yield from ()
