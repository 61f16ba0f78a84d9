"""Rows taken together column by column give what numpy gives along the short axis, to the bit."""

import numpy as np
import pytest
from evenfold.core.extents import (
    all_of,
    cells_of,
    count_of,
    extent_of,
    high_of,
    least_of,
    lengths_of,
    low_of,
)

SHAPES = [(1, 3), (2, 1), (7, 2), (1000, 3)]


@pytest.fixture(params=SHAPES, ids=str)
def points(request):
    return np.random.default_rng(sum(request.param)).normal(0.0, 40.0, request.param)


def test_extents_are_numpys(points):
    assert np.array_equal(low_of(points), points.min(axis=0))
    assert np.array_equal(high_of(points), points.max(axis=0))
    assert np.array_equal(extent_of(points), np.ptp(points, axis=0))


def test_extents_of_whole_numbers_stay_whole(points):
    whole = points.astype(np.int64)
    assert high_of(whole).dtype == whole.dtype
    assert np.array_equal(low_of(whole), whole.min(axis=0))
    assert np.array_equal(least_of(whole), whole.min(axis=1))


def test_lengths_are_numpys(points):
    assert np.array_equal(lengths_of(points), np.linalg.norm(points, axis=1))


def test_truths_are_counted_as_numpy_does(points):
    rows = points > -10.0
    assert np.array_equal(all_of(rows), rows.all(axis=1))
    assert np.array_equal(count_of(rows), rows.sum(axis=1))


def test_every_point_lies_in_its_cell(points):
    cell = cells_of(points, 0.7)
    from_corner = points - points.min(axis=0)
    assert (cell.min(axis=0) == 0).all()
    assert (np.abs(from_corner - (cell + 0.5) * 0.7) <= 0.35 + 1e-9).all()


@pytest.mark.parametrize("of", [low_of, high_of, extent_of, lambda none: cells_of(none, 1.0)])
def test_of_no_points_no_extent_is_made_up(of):
    with pytest.raises(ValueError, match="zero-size"):
        of(np.zeros((0, 3)))
