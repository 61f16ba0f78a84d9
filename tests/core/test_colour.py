"""Colours in CIE L*a*b*, held against published values and the definition's own landmarks."""

import numpy as np
import pytest
from evenfold.core.colour import apart, lab

PRIMARIES = {
    "red": ((1, 0, 0), (53.24, 80.09, 67.20)),
    "green": ((0, 1, 0), (87.73, -86.18, 83.18)),
    "blue": ((0, 0, 1), (32.30, 79.19, -107.86)),
    "white": ((1, 1, 1), (100.0, 0.0, 0.0)),
    "black": ((0, 0, 0), (0.0, 0.0, 0.0)),
}
"""sRGB's primaries in L*a*b* under D65, as tables of colour conversion print them; the figures are from memory."""


@pytest.mark.parametrize("name", PRIMARIES)
def test_the_primaries_of_srgb_are_where_tables_put_them(name):
    linear, expected = PRIMARIES[name]
    np.testing.assert_allclose(lab(np.array([linear], float))[0], expected, atol=0.1)


def test_grey_of_eighteen_percent_is_half_as_light_as_white():
    """CIE 15: L* is 116 times the cube root of Y, less 16; 18.42 % gives 50."""
    np.testing.assert_allclose(lab(np.full((1, 3), 0.1842))[0], [50, 0, 0], atol=0.02)


def test_the_straight_line_below_meets_the_root():
    """CIE 15: L* is 903.3 times Y below 0.008856."""
    knee = 216 / 24389
    np.testing.assert_allclose(lab(np.full((1, 3), knee * 0.5))[0, 0], 903.296 * knee * 0.5, atol=1e-3)
    below, above = lab(np.full((1, 3), knee * (1 - 1e-9)))[0], lab(np.full((1, 3), knee * (1 + 1e-9)))[0]
    np.testing.assert_allclose(below, above, atol=1e-5)


def test_what_is_not_known_stays_unknown_and_what_is_too_bright_is_white():
    found = lab(np.array([[np.nan, 0.5, 0.5], [3.0, 3.0, 3.0]]))
    assert np.isnan(found[0]).all()
    np.testing.assert_allclose(found[1], [100, 0, 0], atol=0.05)


def test_differences_are_distances():
    """CIE 1976: the Euclidean distance."""
    np.testing.assert_allclose(apart(np.array([[50.0, 3.0, 4.0]]), np.array([50.0, 0.0, 0.0])), [5.0])
