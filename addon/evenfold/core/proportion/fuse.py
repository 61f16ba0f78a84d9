"""Several pieces of evidence for one height: the surest leads, and disagreement widens the range."""

from collections.abc import Sequence

from ..findings import Reading

PULL = 0.3
"""How far the range reaches towards evidence that disagrees, as a share of the way."""


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
