"""German names of bones and objects. Spellings: common practice, no source; which bones there are: VRM 1.0, humanoid.md."""

from dataclasses import replace

import pytest
from evenfold.core.humanoid import guess_humanoid
from evenfold.core.in_english import in_english, spelled_out
from evenfold.core.name_words import words_of
from evenfold.core.proportion import measure
from evenfold.core.proportion.parts.words import side_of, worn_word
from evenfold.core.settings import Settings
from evenfold.core.sides import asks_for_counterpart, counterpart, pairs
from figures.people import Person, keeper
from figures.skeletons import armature, expected

PARTS = {
    "Hips": "Hüfte", "Spine": "Wirbelsäule", "Chest": "Brust", "Neck": "Hals", "Head": "Kopf", "Shoulder": "Schulter",
    "UpperArm": "Oberarm", "LowerArm": "Unterarm", "Hand": "Hand", "UpperLeg": "Oberschenkel", "LowerLeg": "Unterschenkel",
    "Foot": "Fuß", "Toes": "Zehen",
}
SIDES = {"L": "links", "R": "rechts"}


def behind(part, side):
    return f"{PARTS[part]}_{SIDES[side]}" if side else PARTS[part]


def before(part, side):
    return f"{SIDES[side].capitalize()}{PARTS[part]}" if side else PARTS[part]


def letter(part, side):
    return f"{spelled_out(PARTS[part])}.{side}" if side else spelled_out(PARTS[part])


@pytest.mark.parametrize("spell", [behind, before, letter])
def test_every_bone_of_a_body_is_told(spell):
    assert guess_humanoid(armature(spell)) == expected(spell)


@pytest.mark.parametrize(("name", "said"), [
    ("Fuß_links", ("foot", "left")), ("OberArm.L", ("upperarm", "l")), ("Müetze", ("mueetze",)), ("HÜFTE", ("hips",)), ("Fu\u0308hler", ("antennae",)), ("ÄRMEL_R", ("sleeve", "r")), ("Kopfhörer", ("headphones",)), ("Kopf", ("head",)),
])
def test_words_are_put_into_english(name, said):
    assert words_of(name) == said


@pytest.mark.parametrize("name", ["Mütze", "Haare.001", "Flügel_L", "Hut", "Ohr.R", "Umhang", "Zöpfe", "Ober_Zopf"])
def test_what_is_worn_or_grown_is_known(name):
    assert worn_word(name)


@pytest.mark.parametrize("name", ["Hüttenwirt", "Haarlem", "Koerper", "Bart", "Rock", "Kopf", "Hutmacherin"])
def test_other_words_are_not(name):
    """A skirt and a rock, a beard and a name are spelled alike."""
    assert worn_word(name) is None


def test_english_words_stay():
    assert in_english(["left", "hand", "chest", "links"]) == ["left", "hand", "chest", "left"]


def test_sides_are_paired_and_ask_for_nothing():
    found = pairs(["Arm_links", "Arm_rechts", "LINKES Ohr", "RECHTES Ohr", "Chain_Links", "obenRechts"])
    assert dict(zip(found.left, found.right, strict=True)) == {"Arm_links": "Arm_rechts", "LINKES Ohr": "RECHTES Ohr"}
    assert found.singles == ()
    assert set(found.unflipped) == set(found.left)
    assert counterpart("Knie_rechts") == "Knie_links" and side_of("Knie_rechts") == -1
    assert not asks_for_counterpart("Chain_Links")


@pytest.mark.parametrize("name", ["linksum", "rechtens", "Unlinked", "rechteck"])
def test_parts_of_other_words_are_no_sides(name):
    assert counterpart(name) is None


def test_a_figure_counts_alike_under_german_names():
    """By weights: the bones of a keeper called in German."""
    figure = keeper(Person(height=1.8, head=0.3, neck=0.1, ears="bone"))
    called = {"Head": "Kopf", "Neck": "Hals", "Leg.L": "Bein_links", "Leg.R": "Bein_rechts", "Foot.L": "Fuß_links", "Foot.R": "Fuß_rechts",
              "Spine": "Wirbelsäule", "Hair01": "Haare", "Ear.L": "Ohr_links", "Ear.R": "Ohr_rechts"}
    bones = tuple(replace(one, name=called.get(one.name, one.name), parent=called.get(one.parent, one.parent)) for one in figure.armature.bones)
    parts = tuple(replace(part, weights=replace(part.weights, names=tuple(called.get(name, name) for name in part.weights.names))) for part in figure.parts)
    german = replace(figure, armature=replace(figure.armature, bones=bones), parts=parts)
    assert measure(german, Settings()).heads_tall == measure(figure, Settings()).heads_tall == pytest.approx(6.0, rel=0.01)
    assert measure(german, Settings()).landmarks["chin"].how == "weights"
