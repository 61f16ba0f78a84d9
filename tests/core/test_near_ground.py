"""What hangs together near the ground, against scipy's labelling of connected cells (reference library)."""

import numpy as np
import pytest
from evenfold.core.proportion.ground.near_ground import CELLS_UP, lowest_parts
from scipy import ndimage

LOW, SLAB, SIZE = -1.0, 12.0, 3.0


def scattered(seed: int) -> np.ndarray:
    """Invented samples (n, 3): clumps, loose points and a bar, the lowest at LOW."""
    rng = np.random.default_rng(seed)
    cell = SIZE / CELLS_UP
    clumps = [rng.normal(0.0, spread * cell, (60, 3)) + rng.uniform(-25, 25, 3) * cell for spread in rng.uniform(0.3, 2.5, 12)]
    loose = rng.uniform(-40, 40, (200, 3)) * cell
    bar = np.linspace([-30, 3, 5], [10, 3, 5], 300) * cell
    samples = np.concatenate([*clumps, loose, bar])
    samples[:, 2] += LOW - samples[:, 2].min()
    return samples


def labelled(samples: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The samples below the slab's top and scipy's number of each."""
    cell = SIZE / CELLS_UP
    own = samples[samples[:, 2] < LOW + SLAB * cell]
    index = tuple(((own - own.min(axis=0)) / cell).astype(int).T)
    filled = np.zeros([rows.max() + 1 for rows in index], bool)
    filled[index] = True
    return own, ndimage.label(filled)[0][index]


@pytest.mark.parametrize("seed", range(8))
def test_parts_are_those_scipy_labels_with_their_boxes_and_middles(seed):
    samples = scattered(seed)
    parts = lowest_parts(samples, LOW, SLAB, SIZE)
    own, number = labelled(samples)
    expected = {frozenset(map(tuple, own[number == one])) for one in np.unique(number)}
    assert len(parts) == len(expected) > 10
    assert {frozenset(map(tuple, parts.own(one))) for one in range(len(parts))} == expected
    for one, centre in enumerate(parts.centres()):
        mine = parts.own(one)
        assert (parts.low[one] == mine.min(axis=0)).all() and (parts.high[one] == mine.max(axis=0)).all()
        assert (parts.extent[one] == np.ptp(mine, axis=0)).all()
        assert centre == pytest.approx(mine[:, :2].mean(axis=0))


def test_too_broad_a_ground_is_told_from_no_parts():
    samples = np.array([[0.0, 0.0, LOW], [5 * SIZE, 0.0, LOW]])
    assert lowest_parts(samples, LOW, SLAB, SIZE) is None


def test_the_lowest_sample_counts_where_a_cell_is_smaller_than_numbers_tell_apart():
    samples = np.array([[0.0, 0.0, 1e6], [1e-12, 0.0, 1e6], [0.0, 0.0, 1e6 + 1e-9]])
    parts = lowest_parts(samples, 1e6, 2.0, 1e-11)
    assert parts is not None and parts.low[:, 2].min() == 1e6
