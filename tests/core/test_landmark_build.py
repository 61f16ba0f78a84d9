"""Heads of no common build widen the range, and an open mouth is not the chin. All figures are invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Figure
from evenfold.core.proportion import measure
from evenfold.core.proportion.head.build import (
    AS_FLAT,
    AS_TALL,
    FLAT,
    MOST_OFF,
    TALL,
    doubted_by_build,
)
from evenfold.core.proportion.spot import Spot
from evenfold.core.settings import Settings
from figures.altered import carried
from figures.people import Person, _loft, keeper

HEAD = 0.4
BASE = Person(height=1.2, head=HEAD, rigged=True, build="separate")


def chin_at(height):
    return Spot(height, np.array([0.0, -0.1, height]), "shape", height - 0.01, height + 0.01, "outline of the chin")


@pytest.mark.parametrize("tall", [FLAT + 0.01, 1.0, 1.3, TALL - 0.01])
def test_heads_of_common_build_are_not_doubted(tall):
    chin = chin_at(1.0 - 0.2 * tall)
    assert doubted_by_build(chin, 1.0, 0.2) is chin


@pytest.mark.parametrize(("tall", "other"), [(1.9, AS_TALL), (1.8, AS_TALL), (4.0, 4.0 / MOST_OFF), (0.5, AS_FLAT), (0.3, 0.3 * MOST_OFF)])
def test_the_range_reaches_to_a_head_of_common_build(tall, other):
    chin = chin_at(1.0 - 0.2 * tall)
    found = doubted_by_build(chin, 1.0, 0.2)
    usual = 1.0 - 0.2 * other
    assert (found.low, found.high) == pytest.approx((min(chin.low, usual), max(chin.high, usual)))
    assert (found.height, found.evidence) == (chin.height, chin.evidence)
    assert found.readings[-1].height == pytest.approx(usual)


def test_a_head_without_a_width_is_not_doubted():
    chin = chin_at(0.5)
    assert doubted_by_build(chin, 1.0, 0.0) is chin


def with_head(*rings) -> Figure:
    """The figure with a head of its own (height from the chin, half width, half depth, forward), all that
    follows the head bone."""
    base = keeper(BASE)
    head = carried("Head", _loft([(BASE.height - HEAD + z, wide, deep, ahead) for z, wide, deep, ahead in rings]), "Head")
    return replace(base, parts=tuple(head if part.name == "Head" else part for part in base.parts))


def test_a_collar_that_follows_the_head_is_told_by_its_build():
    """A head on a long stem in one piece, as a robot's with its collar may be."""
    stem, skull = 0.14, HEAD - 0.14
    neck = [(0.0, 0.07, 0.07, 0.0), (stem + 0.01, 0.07, 0.07, 0.0)]
    ball = [(stem + skull / 2 * (1 - np.cos(t)), 0.11 * np.sin(t), 0.11 * np.sin(t), 0.0) for t in np.linspace(0.6, np.pi, 20)]
    found = measure(with_head(*neck, *ball), Settings())
    assert found.low <= BASE.height / skull <= found.high


def mouth_open(jaw):
    """A face with lips that part above a jaw that reaches ``jaw`` of the face's depth forward."""
    deep, back = 0.16, 0.16
    forward = 2 * deep * jaw - back
    middle, half = (back - forward) / 2, (forward + back) / 2
    rings = [
        (0.0, 0.12, half, middle), (0.08, 0.14, half, middle), (0.085, 0.1, 0.1, 0.06), (0.1, 0.1, 0.1, 0.06),
        (0.105, 0.17, deep, 0.0), (0.25, 0.18, deep, 0.0),
    ]
    rings += [(0.25 + 0.15 * np.sin(t), 0.18 * np.cos(t), deep * np.cos(t), 0.0) for t in np.linspace(0.1, np.pi / 2, 12)]
    return with_head(*rings)


@pytest.mark.parametrize("jaw", [0.86, 0.95])
def test_under_an_open_mouth_the_jaw_is_the_chin(jaw):
    found = measure(mouth_open(jaw), Settings())
    assert found.heads_tall == pytest.approx(BASE.height / HEAD, rel=0.01)
    assert found.landmarks["chin"].evidence == "lowest point in front of the head's own piece"


@pytest.mark.parametrize("neck", [0.6, 0.65])
def test_a_neck_in_one_piece_with_the_head_stays_below_the_chin(neck):
    """The same rings, with a neck that reaches less far forward."""
    found = measure(mouth_open(neck), Settings())
    assert found.landmarks["chin"].evidence == "outline of the chin"
    assert found.heads_tall == pytest.approx(BASE.height / (HEAD - 0.105), rel=0.02)


@pytest.mark.parametrize("name", ["hat_maker", "Cap Boy", "hood girl"])
def test_a_word_in_every_objects_name_is_the_figures_own(name):
    base = keeper(BASE)
    parts = tuple(replace(part, name=f"{name}_{part.name}") for part in base.parts)
    found = measure(replace(base, parts=parts), Settings())
    assert found.heads_tall == pytest.approx(measure(base, Settings()).heads_tall)
    assert not [guess for guess in found.guesses if "left out" in guess]


def test_a_word_in_one_objects_name_is_heard():
    base = keeper(replace(BASE, hat=True))
    found = measure(base, Settings())
    assert "The object 'StormHat' is left out of the body because its name says 'hat'." in found.guesses


def test_the_name_of_a_sole_object_is_the_figures():
    person = replace(BASE, rigged=False, build="merged", neck=0.06)
    (mesh,) = keeper(person).parts
    found = measure(replace(keeper(person), parts=(replace(mesh, name="Hood girl"),)), Settings())
    assert found.heads_tall == pytest.approx(BASE.height / HEAD, rel=0.02)


def test_an_object_called_by_such_a_word_alone_is_what_it_says():
    (mesh,) = keeper(replace(BASE, rigged=False, build="merged")).parts
    figure = replace(keeper(replace(BASE, rigged=False)), parts=(replace(mesh, name="Hat"),), armature=None)
    assert measure(figure, Settings()).refusal == "Everything here is named as worn; say which object is the body."
