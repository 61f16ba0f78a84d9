"""Rows of a few columns taken together column by column: numpy takes many times as long along the short axis."""

from functools import reduce
from typing import TypeVar

import numpy as np

from .figure import FloatArray, IntArray
from .layers import BoolArray

Numbers = TypeVar("Numbers", FloatArray, IntArray)


def low_of(points: Numbers) -> Numbers:
    """(m,) lowest coordinates of points (n, m). Raises ValueError where there are none."""
    return np.array([column.min() for column in points.T])


def high_of(points: Numbers) -> Numbers:
    """(m,) highest coordinates of points (n, m). Raises ValueError where there are none."""
    return np.array([column.max() for column in points.T])


def extent_of(points: Numbers) -> Numbers:
    """(m,) how far points (n, m) reach along each axis. Raises ValueError where there are none."""
    return np.array([np.ptp(column) for column in points.T])


def cells_of(points: FloatArray, step: float) -> IntArray:
    """(n, m) the cell of side ``step`` that each of points (n, m) lies in, counted from their lowest coordinates."""
    return np.floor((points - low_of(points)) / step).astype(np.int64)


def lengths_of(vectors: FloatArray) -> FloatArray:
    """(n,) lengths of vectors (n, m)."""
    return np.sqrt(reduce(np.add, (column * column for column in vectors.T)))


def least_of(rows: IntArray) -> IntArray:
    """(n,) the lowest number of each row (n, m)."""
    return np.asarray(reduce(np.minimum, rows.T))


def all_of(rows: BoolArray) -> BoolArray:
    """(n,) true for rows (n, m) that are true all along."""
    return np.asarray(reduce(np.logical_and, rows.T))


def count_of(rows: BoolArray) -> IntArray:
    """(n,) how many of each row (n, m) are true."""
    return np.asarray(reduce(np.add, (column.astype(np.int64) for column in rows.T)))
