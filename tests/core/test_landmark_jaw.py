"""The jaw bone: which bone it is, and what it says of a chin over a throat or a collar."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.findings import Reading
from evenfold.core.proportion import measure
from evenfold.core.proportion.face.chin import _doubted
from evenfold.core.proportion.face.chin_hints import Hints
from evenfold.core.proportion.parts.named_bones import jaw_bones
from evenfold.core.settings import Settings
from figures.altered import where, with_bones, with_head
from figures.avatars import build_figure
from figures.people import Person, keeper

PERSON = Person(height=1.8, head=0.3, neck=0.1)
CHIN = 1.5
JAW = ("Head", (0, -0.02, 1.55), (0, -0.1, 1.5))
METHOD = "lowest place that follows the jaw bone"


def rigged(*names, parent="Head"):
    return with_bones(keeper(PERSON), *((name, parent, *JAW[1:]) for name in names))


@pytest.mark.parametrize("name", ["Jaw", "jaw_master", "Bip-Jaw", "c_jawbone", "Mandible", "Chin", "rig:jaw", "あご", "下顎", "アゴ先"])
def test_the_jaw_bone_is_known_by_its_english_or_japanese_name(name):
    assert jaw_bones(rigged(name), "Head") == {name}


def test_the_jaw_bone_is_known_by_the_avatar_standard_whatever_its_name():
    figure = replace(rigged("Bone.017"), humanoid={"head": "Head", "jaw": "Bone.017"})
    assert jaw_bones(figure, "Head") == {"Bone.017"}


@pytest.mark.parametrize("name", ["Jaw.L", "jaw_r", "左顎", "Left Chin", "Jawline2nd", "Jawbreaker", "Machine", "Head"])
def test_bones_of_one_side_and_other_words_are_no_jaw(name):
    figure = keeper(PERSON) if name == "Head" else rigged(name)
    assert jaw_bones(figure, "Head") == frozenset()


@pytest.mark.parametrize("parent", ["Neck", "Spine", "Foot.L", None])
def test_a_jaw_that_hangs_on_no_head_is_none(parent):
    assert jaw_bones(replace(rigged("Jaw", parent=parent), humanoid={"jaw": "Jaw"}), "Head") == frozenset()


def test_without_a_rig_or_a_head_bone_there_is_no_jaw():
    assert jaw_bones(replace(rigged("Jaw"), armature=None), "Head") == frozenset()
    assert jaw_bones(rigged("Jaw"), None) == frozenset()


def throated(notch, ahead, drop):
    """A throat or collar in one skin with the head, as far forward as the face and ``drop`` heads under the chin;
    between them the outline goes back to ``ahead``, ``notch`` heads under the chin."""
    below = [(0.34, 0.16, 0.16, 0.12), (drop, 0.2, 0.32, 0.0), (drop - 0.02, 0.2, 0.32, 0.0), (notch, 0.18, 0.16, 0.16 - ahead)]
    return with_bones(with_head(PERSON, below), ("Jaw", *JAW))


def lower_face(at):
    return (at[:, 2] < CHIN + 0.08) & (at[:, 2] > CHIN - 0.002) & (at[:, 1] < 0)


def jawed(figure):
    return where(figure, "Jaw", lower_face)


@pytest.mark.parametrize(("notch", "ahead", "drop"), [(0.02, 0.1, 0.06), (0.02, 0.16, 0.06), (0.02, 0.16, 0.1), (0.03, 0.1, 0.1)])
def test_over_a_throat_as_far_forward_as_the_face_the_jaw_bone_tells_the_chin(notch, ahead, drop):
    figure = throated(notch, ahead, drop)
    misled, told = measure(figure, Settings()), measure(jawed(figure), Settings())
    assert misled.landmarks["chin"].point[2] < CHIN - 0.1 * PERSON.head
    assert told.landmarks["chin"].point[2] == pytest.approx(CHIN, abs=0.01 * PERSON.head)
    assert told.heads_tall == pytest.approx(6.0, rel=0.01)
    assert told.low <= 6.0 <= told.high
    (reading,) = [one for one in told.landmarks["chin"].readings if one.method == METHOD]
    assert reading.height == pytest.approx(CHIN, abs=0.001)


@pytest.mark.parametrize("drop", [0.06, 0.1])
def test_a_jaw_bone_that_carries_nothing_changes_nothing(drop):
    figure = throated(0.02, 0.16, drop)
    bare = replace(figure, armature=replace(figure.armature, bones=tuple(bone for bone in figure.armature.bones if bone.name != "Jaw")))
    assert figure.armature.by_name["Jaw"] and "Jaw" not in bare.armature.by_name
    one, other = measure(figure, Settings()), measure(bare, Settings())
    assert (one.heads_tall, one.low, one.high) == (other.heads_tall, other.low, other.high)
    assert [mark.readings for mark in one.landmarks.values()] == [mark.readings for mark in other.landmarks.values()]


def test_a_jaw_that_moves_a_few_points_only_is_no_evidence():
    figure = throated(0.02, 0.16, 0.1)
    few = where(figure, "Jaw", lambda at: lower_face(at) & (np.cumsum(lower_face(at)) < 5))
    assert METHOD in [reading.method for reading in measure(jawed(figure), Settings()).landmarks["chin"].readings]
    assert METHOD not in [reading.method for reading in measure(few, Settings()).landmarks["chin"].readings]


@pytest.mark.parametrize("neck", [0.04, 0.1])
def test_on_a_plain_face_the_jaw_bone_agrees_and_narrows_nothing_wrongly(neck):
    figure = with_bones(keeper(replace(PERSON, neck=neck)), ("Jaw", *JAW))
    plain, told = measure(figure, Settings()), measure(jawed(figure), Settings())
    assert told.heads_tall == pytest.approx(plain.heads_tall, rel=0.002) == pytest.approx(6.0, rel=0.005)
    assert told.low <= 6.0 <= told.high


@pytest.mark.parametrize(("rim", "over", "reaches"), [(1.5, 1.515, True), (1.495, 1.53, True), (1.5, 1.508, False), (1.55, 1.52, False)])
def test_an_outline_far_over_both_jaw_and_weight_may_be_a_muzzles(rim, over, reaches):
    """The jaw ends at 1.5, the head is 0.3 high."""
    hints = Hints(rim, None, None, Reading(METHOD, 1.5, 1.46, 1.52))
    seen = Reading("outline of the chin", over, over - 0.003, over + 0.003)
    told = _doubted(seen, over, hints, 0.3)
    assert (told.low < 1.5) == reaches
    assert told.height == over and told.high == seen.high


def test_no_body_that_follows_the_head_hides_the_jaw_bones_chin():
    """An invented figure whose head's skin goes down to a collar without a seam: its shape alone looked like a head of twice the size."""
    built = build_figure(180033, "rigged")
    found = measure(built.figure, Settings())
    assert found.heads_tall == pytest.approx(built.heads, rel=0.015)
    assert found.landmarks["chin"].point[2] == pytest.approx(built.chin[2], abs=0.015 * float(built.crown[2] - built.chin[2]))
