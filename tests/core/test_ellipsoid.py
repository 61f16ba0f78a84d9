"""The top of an ellipsoid of which only a part is there, against its own formula. All shapes are invented."""

import numpy as np
import pytest
from evenfold.core.proportion.skull.ellipsoid import top_of_ellipsoid
from hypothesis import given, settings
from hypothesis import strategies as st

LENGTHS = st.floats(0.5, 2.0)


def band(radii, centre, lean, low, high, noise=0.0, seed=0):
    """Points of an ellipsoid of three ``radii`` about ``centre`` that leans ``lean`` forward for every unit up, between
    two shares of its half height."""
    rng = np.random.default_rng(seed)
    turn, share = rng.uniform(0, 2 * np.pi, 600), rng.uniform(low, high, 600)
    ring = np.sqrt(1 - share**2)
    at = np.stack([radii[0] * ring * np.sin(turn), radii[1] * ring * np.cos(turn), radii[2] * share], axis=1)
    at[:, 1] += lean * at[:, 2]
    return at * (1 + noise * rng.normal(size=(600, 1))) + centre


@settings(max_examples=60, deadline=None)
@given(LENGTHS, LENGTHS, LENGTHS, st.floats(-0.4, 0.4), st.floats(-0.2, 0.5), st.floats(0.001, 100.0))
def test_the_top_follows_from_the_band_under_it(wide, deep, tall, lean, low, scale):
    points = scale * band((wide, deep, tall), (0.3, -2.0, 5.0), lean, low, low + 0.35)
    top, off = top_of_ellipsoid(points, 0.3 * scale)
    assert top == pytest.approx(scale * (5.0 + tall), rel=1e-5)
    assert off < 1e-6


def test_how_far_off_they_are_is_told():
    _, off = top_of_ellipsoid(band((1, 1, 1), (0, 0, 0), 0, -0.2, 0.5, noise=0.02), 0.0)
    assert off == pytest.approx(0.04, rel=0.3)


@pytest.mark.parametrize("points", [
    np.zeros((200, 3)),
    np.random.default_rng(1).normal(size=(49, 3)),
    np.random.default_rng(1).normal(size=(500, 3)),
], ids=["one place", "too few", "a cloud"])
def test_what_is_no_ellipsoid_has_no_top(points):
    found = top_of_ellipsoid(points, 0.0)
    assert found is None or found[1] > 0.1
