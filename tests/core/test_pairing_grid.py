"""The grid that pairs by place, against numpy's own order and scipy's KD-tree. All points are invented."""

import numpy as np
import pytest
from evenfold.core.pairing.grid import among, flipped, matches_in_cells, ranked, settle
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import cKDTree

REACH = 1e-3


@pytest.mark.parametrize("kind", ["quicksort", "stable"])
@pytest.mark.parametrize("top", [1, 1 << 38, (1 << 62) - 1])
@pytest.mark.parametrize("count", [0, 1, 2, 1000])
def test_ranked_is_a_stable_order(top, count, kind):
    keys = np.random.default_rng(count).integers(0, min(top, 300) + 1, count) * (max(top // 300, 1))
    keys = np.minimum(keys, top)
    values, order = ranked(keys.copy(), top, kind)
    expected = np.argsort(keys, kind="stable")
    assert np.array_equal(order, expected)
    assert np.array_equal(values, keys[expected])


@pytest.mark.parametrize("count", [0, 1, 2, 40])
def test_among_is_membership(count):
    rng = np.random.default_rng(count)
    keys, values = np.sort(rng.integers(0, 60, count)), rng.integers(-5, 70, 300)
    assert np.array_equal(among(keys, values), np.isin(values, keys))


def _sides(seed):
    """Points on both sides, some with a partner within reach, some further, some without."""
    rng = np.random.default_rng(seed)
    left = rng.uniform(0.001, 0.04, (60, 3))
    right = left[:40] * [-1, 1, 1] + rng.normal(size=(40, 3)) * REACH * rng.uniform(0, 2, (40, 1))
    points = np.concatenate([left, right[right[:, 0] < 0]])
    return points, np.arange(60), np.arange(60, len(points))


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([2.0, 4.0, 8.0, 32.0]))
def test_who_is_called_without_partner_has_none_within_reach(seed, cells):
    points, left, right = _sides(seed)
    one, other, lost = matches_in_cells(points, left, right, cells * REACH, (0.0, 0.5, 0.0), REACH)
    image = flipped(points.copy())
    to_right = cKDTree(points[right]).query(image)[0]
    to_left = cKDTree(points[left]).query(image)[0]
    nearest = np.where(np.arange(len(points)) < len(left), to_right, to_left)
    assert (nearest[lost] > REACH).all()
    assert not np.isin(np.concatenate([one, other]), lost).any()
    assert (nearest[one] <= REACH).all()


def test_some_are_called_without_partner():
    points, left, right = _sides(0)
    assert len(matches_in_cells(points, left, right, 8 * REACH, (0.0, 0.0, 0.0), REACH)[2]) > 5


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_settling_finds_what_the_tree_finds(seed):
    points, left, right = _sides(seed)
    partner = np.full(len(points), -1)
    settle(points, points, partner, REACH, ((8.0, 8), (4.0, 8), (2.0, 8), (1.0, 8), (0.5, 8)))
    image = flipped(points[left].copy())
    apart, at = cKDTree(points[right]).query(image)
    back = cKDTree(image).query(points[right])[1]
    mutual = (apart <= REACH / 10) & (back[at] == np.arange(len(left)))
    assert np.array_equal(partner[left[mutual]], right[at[mutual]])
    settled = np.flatnonzero(partner[left] >= 0)
    assert np.array_equal(partner[settled], right[at[settled]])
