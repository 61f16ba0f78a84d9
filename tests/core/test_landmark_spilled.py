"""Weights that spill from the head over neck and body, as weights by distance do."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings
from figures.altered import carried, where, with_bones, with_parts
from figures.clay.recipes import recipe
from figures.clay.sculpt import sculpt
from figures.people import Person, _ball, _head, _loft, keeper

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


def blurred(share, to=("Neck", "Spine", "Leg.L", "Leg.R")):
    """A keeper of pieces whose head follows its bone by ``share`` only, and the others by the rest."""
    figure = where(keeper(PERSON), "Head", lambda at: np.full(len(at), share), ["Head"])
    rest = (1 - share) / len(to)
    for number, bone in enumerate(to):
        figure = where(figure, bone, lambda at, n=number: np.full(len(at), rest / (share + rest * (n + 1))), ["Head"])
    return figure


@pytest.mark.parametrize("share", [0.35, 0.42, 0.49])
def test_where_nothing_follows_the_head_by_half_what_it_leads_does(share):
    """So automatic weights leave it where the head bone is a stub."""
    found = measure(blurred(share), Settings())
    assert found.landmarks["crown"].how == "weights"
    assert found.heads_tall == pytest.approx(6.0, rel=0.005)
    assert found.low <= 6.0 <= found.high < 6.4


def test_what_another_bone_leads_is_none_of_the_head():
    found = measure(blurred(0.42, ("Neck",)), Settings())
    assert found.landmarks["crown"].how != "weights"


def test_sharp_weights_are_taken_as_they_are():
    """A little that the head only leads, on a body, is left to the body."""
    figure = where(keeper(PERSON), "Head", lambda at: np.full(len(at), 0.36), ["Body"])
    assert measure(figure, Settings()).heads_tall == pytest.approx(6.0, rel=0.005)


def boxed(name):
    """A figure with a box for a head, whose top alone follows the bone ``name`` and its bottom the neck's, as in the plainest rigs."""
    box = _loft([(1.5, 0.14, 0.14, 0.0), (1.8, 0.14, 0.14, 0.0)])
    neck = carried("Mesh.003", _loft([(1.38, 0.05, 0.05, 0.0), (1.52, 0.05, 0.05, 0.0)]), "Bone.006")
    head = where(with_parts(keeper(PERSON), carried("Head", box, "Bone.006")), name, lambda at: at[:, 2] > 1.7, ["Head"])
    figure = with_bones(with_parts(head, neck), ("Bone.006", "Spine", (0, 0, 1.4), (0, 0, 1.5)), (name, "Bone.006", (0, 0, 1.52), (0, 0, 1.7)))
    kept = tuple(bone for bone in figure.armature.bones if bone.name not in ("Head", "Neck"))
    return replace(figure, armature=replace(figure.armature, bones=kept), humanoid={"head": name})


def test_under_a_bone_that_is_called_no_head_the_face_goes_on_as_its_shape_does():
    found = measure(boxed("Bone.007"), Settings())
    assert found.heads_tall == pytest.approx(6.0, rel=0.01)
    assert found.low <= 6.0 <= found.high
    assert found.high > 1.5 * found.heads_tall


def test_a_bone_the_artist_calls_the_head_is_taken_at_its_word():
    """Where its weight ends is told, half-way up the box."""
    figure = replace(boxed("Bone.007"), head_bone="Bone.007")
    assert measure(figure, Settings()).landmarks["chin"].how == "weights"
    assert measure(boxed("Head.001"), Settings()).landmarks["chin"].how == "weights"


@pytest.mark.parametrize("down_to", [1.36, 1.39])
@pytest.mark.parametrize("wide", [0.04, 0.052])
def test_a_long_neck_that_follows_the_head_leaves_no_doubt_about_the_chin(down_to, wide):
    """So automatic weights leave it where the head bone starts at the nape; a face would be no narrower down there."""
    person = Person(height=1.8, head=0.3, neck=0.16, build="separate")
    column = [(z, wide, wide, 0.036) for z in np.linspace(1.34, 1.505, 12)]
    figure = with_parts(keeper(person), carried("Head", _loft([*column, *_head(person)[2:]]), "Neck"))
    figure = where(figure, "Head", lambda at: (at[:, 2] > down_to).astype(float), ["Head"])
    figure = with_bones(figure, ("Head", "Neck", (0.0, 0.02, down_to + 0.01), (0.0, 0.02, 1.8)))
    found = measure(figure, Settings())
    assert found.landmarks["chin"].evidence == "outline of the chin"
    assert found.heads_tall == pytest.approx(6.0, rel=0.01)
    assert found.high - found.low < 0.13 * found.heads_tall
