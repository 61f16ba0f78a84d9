"""Small rings and belts one half of which was built again: partners are true or unknown. Invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.pairing import State, pair_points
from figures.shapes import joined, lumpy_ball, mesh_of
from oracles.finder import ScipyFinder

TOLERANCE = 1e-3


def belt(seed, shared=True):
    """A belt around the plane, its left half jittered by up to a fifth of an edge and cut otherwise.

    Returns (mesh, truth); with ``shared`` two columns lie on the plane, else none does.
    """
    rng = np.random.default_rng(seed)
    around, rings = 2 * int(rng.integers(4, 13)), int(rng.integers(2, 6))
    turn = 2.0 * np.pi * (np.arange(around) + (0.0 if shared else 0.5)) / around
    edge = 2.0 * np.sin(np.pi / around)
    points = np.stack(
        np.broadcast_arrays(np.sin(turn), np.cos(turn), edge * np.arange(rings)[:, None]), axis=2
    ).reshape(-1, 3)
    mirror = (-np.arange(around)) % around if shared else around - 1 - np.arange(around)
    truth = (np.arange(rings)[:, None] * around + mirror).ravel()
    points[truth == np.arange(len(truth)), 0] = 0.0
    left = points[:, 0] > 1e-9
    points[truth[left]] = points[left] * [-1, 1, 1]
    by = rng.normal(size=points.shape)
    by *= (rng.uniform(0.0, 0.2 * edge, len(by)) / np.linalg.norm(by, axis=1))[:, None]
    points[left] += by[left]
    faces = []
    for ring in range(rings - 1):
        for step in range(around):
            a, b = ring * around + step, ring * around + (step + 1) % around
            c, d = b + around, a + around
            faces += [[a, b, c], [a, c, d]] if rng.random() < 0.5 else [[a, b, d], [b, c, d]]
    return mesh_of(points, faces), truth


@pytest.mark.parametrize("shared", [True, False])
@pytest.mark.parametrize("seed", range(60))
def test_a_belt_is_never_paired_shifted(seed, shared):
    mesh, truth = belt(seed, shared)
    found = pair_points(mesh, TOLERANCE, ScipyFinder)
    known = np.flatnonzero(found.partner >= 0)
    assert np.array_equal(found.partner[found.partner[known]], known)
    assert np.array_equal(found.partner[known], truth[known])
    assert len(known) >= 0.9 * len(truth)


def test_a_patch_slid_by_nearly_a_place_keeps_its_partners():
    mesh, truth = lumpy_ball(24, 48, seed=2, shuffle=False)
    ring = np.arange(7, 16)[:, None] * 48
    patch = (ring + np.arange(8, 15)).ravel()
    points = mesh.points.copy()
    points[patch] += 0.9 * (mesh.points[patch + 1] - mesh.points[patch])
    found = pair_points(replace(mesh, points=points), TOLERANCE, ScipyFinder)
    assert np.array_equal(found.partner, truth)


def test_a_tip_far_from_the_plane_is_no_centre():
    """A lock of hair in the middle, its tip beside the plane by more than its edges are long."""
    ball, truth = lumpy_ball(seed=4)
    lock = mesh_of(
        [[0, 0, 2.0], [0.1, 0, 2.0], [-0.1, 0, 2.0], [0.3, 0, 1.9], [0.05, 0.0, 2.3]],
        [[0, 1, 4], [2, 0, 4], [1, 3, 4]],
    )
    found = pair_points(joined(ball, lock), TOLERANCE, ScipyFinder)
    tip = len(truth) + 3
    assert found.state[tip] == State.UNPAIRED and found.partner[tip] == -1
    assert np.array_equal(found.partner[: len(truth)], truth)
