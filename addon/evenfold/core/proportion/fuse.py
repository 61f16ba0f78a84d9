"""Several pieces of evidence for one height: the surest leads, and disagreement widens the range."""

from collections.abc import Sequence
from dataclasses import dataclass

from ..findings import Reading

PULL = 0.3
"""How far the range reaches towards evidence that disagrees, as a share of the way."""


@dataclass(frozen=True)
class Bracket:
    """How far a landmark may lie ``below`` and ``above`` a height that tells of it, in heads.

    It is told ``shift`` over that height.
    """

    below: float
    above: float
    shift: float = 0.0

    def about(self, method: str, height: float, size: float) -> Reading:
        """What a ``height`` tells in a head of ``size``."""
        return Reading(method, height + self.shift * size, height - self.below * size, height + self.above * size)


def fuse(readings: Sequence[Reading]) -> tuple[Reading, float, float]:
    """The leading reading and the range (low, high) of all.

    The reading with the narrowest bracket leads; of equally narrow ones the first. A reading
    whose bracket does not hold the leader's height draws the range towards its nearest edge by
    PULL of the way. Raises ValueError when there is no reading.
    """
    if not readings:
        raise ValueError("no readings")
    leader = min(readings, key=lambda reading: reading.high - reading.low)
    return leader, *widened(leader.low, leader.high, readings)


def widened(low: float, high: float, readings: Sequence[Reading]) -> tuple[float, float]:
    """The range (low, high) drawn towards readings that lie beyond it, by PULL of the way."""
    first, last = low, high
    for reading in readings:
        if reading.low > high:
            high = max(high, last + PULL * (reading.low - last))
        elif reading.high < low:
            low = min(low, first - PULL * (first - reading.high))
    return low, high


def moved(reading: Reading, zero: float, scale: float) -> Reading:
    """The reading measured from ``zero``, times ``scale``."""
    heights = (reading.height, reading.low, reading.high)
    return Reading(reading.method, *((height - zero) * scale for height in heights))
