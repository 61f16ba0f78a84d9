"""Weights that spill from the head over neck and body, as weights by distance do."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings
from figures.altered import carried, where, with_parts
from figures.clay.recipes import recipe
from figures.clay.sculpt import sculpt
from figures.people import Person, _ball, keeper

PERSON = Person(height=1.8, head=0.3, neck=0.1, build="separate")
SPILLED = "fold of the outline nearer to the start of the head bone"


def spilled(share, down_to, person=PERSON):
    """A keeper of pieces whose head follows its bone whole, and the body by ``share`` down to a height."""
    figure = with_parts(keeper(person), carried("Body", _ball((0, 0, 1.04), (0.2, 0.12, 0.38), 41), "Spine"))
    figure = where(figure, "Head", lambda at: np.ones(len(at)), ["Head"])
    return where(figure, "Head", lambda at: share * (at[:, 2] > down_to), ["Body"])


@pytest.mark.parametrize("share", [0.6, 0.9, 1.0])
@pytest.mark.parametrize("down_to", [0.9, 1.2, 1.4])
def test_pieces_of_the_body_that_follow_the_head_are_none_of_it(share, down_to):
    found = measure(spilled(share, down_to), Settings())
    assert found.heads_tall == pytest.approx(6.0, rel=0.005)
    assert found.low <= 6.0 <= found.high < 6.4


def test_a_body_in_one_skin_that_follows_the_head_leaves_its_fold_in_doubt():
    """A sculpted figure whose automatic weights let the whole body follow the head down to a fold under the belly."""
    made = sculpt(replace(recipe(86025), vertices=6000))
    found = measure(made.figure, Settings())
    assert SPILLED in [reading.method for reading in found.landmarks["chin"].readings]
    assert found.low <= made.heads <= found.high
    assert found.high - found.low > 0.3 * found.heads_tall


def test_a_beard_in_a_piece_of_its_own_hides_no_chin():
    """It lies lower than the head bone starts and follows the head whole."""
    beard = _ball((0, -0.12, 1.39), (0.07, 0.08, 0.19))
    figure = with_parts(keeper(Person(height=1.8, head=0.3, build="separate")), carried("Piece.1", beard, "Head"))
    found = measure(figure, Settings())
    assert found.heads_tall == pytest.approx(6.0, rel=0.005)
