"""A muzzle that is a piece of its own, before a head with a neck. All figures are invented."""

import numpy as np
import pytest
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings
from figures.altered import carried, with_parts
from figures.people import Person, _ball, keeper

MUZZLE = "lowest point of the muzzle"
CHIN = 1.5


def snouted(lowest, reach, rigged=True, bone="Head", aside=0.0):
    """A keeper of 1.8 with its jaw at 1.5 and a ball before it that ends at ``lowest`` and ``reach`` ahead of the face."""
    figure = keeper(Person(height=1.8, head=0.3, neck=0.1, build="separate", rigged=rigged))
    (head,) = [part for part in figure.parts if part.name == "Head"]
    front = float(head.points[head.points[:, 2] > CHIN][:, 1].min())
    deep = (reach + 0.06) / 2
    ball = _ball((aside, front - reach + deep, lowest + 0.05), (0.06, deep, 0.05))
    return with_parts(figure, carried("Mesh.003", ball, bone if rigged else None))


@pytest.mark.parametrize("rigged", [True, False])
@pytest.mark.parametrize("drop", [0.008, 0.02, 0.035])
def test_it_ends_the_face_where_it_hangs_lower_than_the_jaw(drop, rigged):
    found = measure(snouted(CHIN - drop, 0.1, rigged), Settings())
    chin = found.landmarks["chin"]
    assert chin.evidence.startswith(MUZZLE)
    assert chin.point[2] == pytest.approx(CHIN - drop, abs=1e-6)
    assert found.heads_tall == pytest.approx(1.8 / (0.3 + drop), rel=0.005)
    assert found.low <= 1.8 / (0.3 + drop) and found.high >= 6.0 * 0.99, "the jaw behind it may be meant"


@pytest.mark.parametrize("changes", [
    {"lowest": CHIN + 0.01, "reach": 0.1},
    {"lowest": CHIN - 0.035, "reach": 0.03},
    {"lowest": CHIN - 0.035, "reach": 0.1, "aside": 0.1},
], ids=["higher than the jaw", "hanging like a beard", "beside the face"])
def test_what_is_no_muzzle_leaves_the_jaw(changes):
    found = measure(snouted(**changes), Settings())
    assert found.landmarks["chin"].evidence.startswith(MUZZLE) is False
    assert found.heads_tall == pytest.approx(6.0, rel=0.005)


def test_what_does_not_follow_the_head_leaves_the_jaw():
    assert measure(snouted(CHIN - 0.02, 0.1, bone="Spine"), Settings()).landmarks["chin"].evidence.startswith(MUZZLE) is False


@pytest.mark.parametrize("bad", [np.nan, np.inf])
def test_a_place_that_is_no_number_stops_nothing(bad):
    figure = snouted(CHIN - 0.02, 0.1)
    (ball,) = [part for part in figure.parts if part.name == "Mesh.003"]
    ball.points[3] = bad
    assert measure(figure, Settings()).heads_tall == pytest.approx(1.8 / 0.32, rel=0.01)
