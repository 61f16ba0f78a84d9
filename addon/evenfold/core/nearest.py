"""The small interface through which a KD-tree comes in: the host's inside, scipy's in tests."""

from typing import Protocol

from .figure import FloatArray, IntArray


class NearestFinder(Protocol):
    def query(self, points: FloatArray, k: int) -> tuple[FloatArray, IntArray]:
        """The k nearest of the stored points for each of (q, 3) points, nearest first.

        Returns (q, k) distances and (q, k) indices; where fewer than k exist, inf and -1.
        """
        ...


class Finder(Protocol):
    def __call__(self, points: FloatArray) -> NearestFinder:
        """Store (n, 3) finite points for queries."""
        ...
