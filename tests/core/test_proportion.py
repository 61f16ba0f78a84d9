"""Heads tall against figures built to known counts, published canons, and laws."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from evenfold.core.figure import Armature, Bone, Figure, Part, Pin, Weights, Worn
from evenfold.core.proportion import measure
from evenfold.core.proportion.parts.words import side_of, worn_word
from evenfold.core.settings import Settings
from figures.people import Person, keeper, moved
from hypothesis import given, settings
from hypothesis import strategies as st

CANONS = [
    ("Vitruvius, De architectura III.1.2: head an eighth of the height", 8.0),
    ("Drillis and Contini 1966: head 0.130 of stature", 1 / 0.130),
    ("NAVEDTRA 14262: adult as drawn", 8.0),
    ("NAVEDTRA 14262: average adult", 7.5),
    ("NAVEDTRA 14262: child of 1 year", 4.5),
    ("NAVEDTRA 14262: child of 8 years", 6.25),
    ("NAVEDTRA 14262: child of 12 years", 7.0),
]


def count(figure, **more):
    result = measure(figure, Settings(**more))
    assert result.refusal is None, result.refusal
    return result


@pytest.mark.parametrize(("source", "heads"), CANONS)
def test_published_canons(source, heads):
    person = Person(height=1.8, head=1.8 / heads, neck=0.6 / heads)
    result = count(keeper(person))
    assert result.heads_tall == pytest.approx(heads, rel=0.01)
    assert result.low <= heads <= result.high


@pytest.mark.parametrize(
    "more",
    [{}, {"hair": "bone"}, {"hair": "object"}, {"hat": True}, {"ears": "bone"}, {"ponytail": True}],
)
def test_one_and_a_half_heads_whatever_grows_on_top(more):
    result = count(keeper(Person(**more)), target_heads=1.5)
    assert result.heads_tall == pytest.approx(1.5, abs=0.001)
    assert result.within_target
    if more.get("hair"):
        assert result.full_height == pytest.approx(0.90 + 0.25, abs=0.001)
        assert any("Hair" in sentence for sentence in result.guesses)


@pytest.mark.parametrize(("height", "heads"), [(0.924, 1.48), (0.900, 1.44)])
def test_a_grown_head_misses_the_target(height, heads):
    result = count(keeper(Person(height=height, head=0.624)), target_heads=1.5, target_band=0.01)
    assert round(result.heads_tall, 2) == heads
    assert result.within_target is False


def random_person(rng):
    heads = rng.uniform(1.5, 8)
    head = rng.uniform(0.1, 0.7)
    return Person(
        height=heads * head,
        head=head,
        neck=0.0 if heads < 2.5 else rng.uniform(0.1, 0.3) * head,
        wide=rng.uniform(0.38, 0.5),
        deep=rng.uniform(0.38, 0.5),
        slope=rng.uniform(0, 0.2),
        build=rng.choice(["merged", "separate"]),
        hair=rng.choice(["", "bone", "object"]),
        ears=rng.choice(["", "bone"]),
        ponytail=bool(rng.random() < 0.3),
        hat=bool(rng.random() < 0.3),
    )


def test_most_invented_figures_are_right_within_a_hundredth():
    rng = np.random.default_rng(7)
    close = inside = 0
    for _ in range(200):
        person = random_person(rng)
        figure = moved(
            keeper(person), rng.uniform(0, 6.3), rng.uniform(0.01, 100), rng.uniform(-5, 5, 3)
        )
        result = count(figure)
        heads = person.height / person.head
        close += abs(result.heads_tall / heads - 1) <= 0.01
        inside += result.low <= heads <= result.high
    assert close >= 190
    assert inside >= 190


@cache
def standing(person):
    return count(keeper(person))


@settings(max_examples=40, deadline=None)
@given(
    st.floats(0, 6.28),
    st.floats(0.01, 100),
    st.tuples(*[st.floats(-50, 50)] * 3),
    st.sampled_from(
        [Person(), Person(height=1.7, head=0.25, neck=0.06), Person(hair="bone", ears="bone")]
    ),
)
def test_turning_scaling_and_moving_change_no_count(turn, scale, by, person):
    first = standing(person)
    second = count(moved(keeper(person), turn, scale, np.array(by) * scale))
    assert second.heads_tall == pytest.approx(first.heads_tall, rel=2e-3)
    assert second.height == pytest.approx(first.height * scale, rel=2e-3)


def test_unnamed_spikes_do_not_raise_the_crown():
    result = count(keeper(Person(height=1.2, ears="plain")))
    assert result.heads_tall == pytest.approx(2.0, rel=0.02)
    assert result.low <= 2.0 <= result.high


def test_pins_are_exact_and_come_first():
    pins = tuple(
        Pin(name, np.array([0.0, 0, z]))
        for name, z in (("crown", 3.0), ("chin", 2.0), ("sole", 0.0))
    )
    result = count(replace(keeper(Person()), pins=pins))
    assert (result.low, result.heads_tall, result.high) == (3.0, 3.0, 3.0)
    assert {mark.how for mark in result.landmarks.values()} == {"pinned"}


def test_units_and_another_up_axis():
    figure = keeper(Person(height=1.2))
    parts = tuple(
        replace(part, points=part.points[:, [0, 2, 1]] * [1, 1, -1]) for part in figure.parts
    )
    bones = tuple(
        replace(
            bone, head=bone.head[[0, 2, 1]] * [1, 1, -1], tail=bone.tail[[0, 2, 1]] * [1, 1, -1]
        )
        for bone in figure.armature.bones
    )
    tipped = replace(
        figure,
        parts=parts,
        armature=replace(figure.armature, bones=bones),
        up=(0.0, 1.0, 0.0),
        metres_per_unit=0.01,
    )
    result = count(tipped)
    assert result.heads_tall == pytest.approx(2.0, rel=0.002)
    assert result.height == pytest.approx(0.012, rel=0.002)


def test_the_artist_overrules_a_guess():
    figure = keeper(Person(height=1.2, hair="object"))
    named = replace(figure, worn=(Worn("object", "Hair", excluded=False),))
    assert count(named).heads_tall < count(figure).heads_tall - 0.1
    assert not any("Hair" in sentence for sentence in count(named).guesses)


def test_a_head_that_is_all_hat_is_kept_and_said():
    figure = keeper(Person(height=1.2))
    all_hat = replace(figure, parts=tuple(replace(part, name="Hat") for part in figure.parts))
    result = count(all_hat)
    assert result.heads_tall == pytest.approx(2.0, rel=0.01)
    assert any("nothing of the head" in sentence for sentence in result.guesses)


def test_without_weights_the_range_is_wide_and_holds_the_truth():
    heads = 6.0
    result = count(keeper(Person(height=1.8, head=0.3, neck=0.12, rigged=False)))
    assert result.low <= heads <= result.high
    assert result.high - result.low > 0.3


def test_an_empty_figure_a_bust_and_a_dog_are_refused():
    assert measure(Figure("Nobody", (), ()), Settings()).refusal
    figure = keeper(Person(height=1.8, head=0.3, neck=0.1, build="separate"))
    top = tuple(part for part in figure.parts if part.name in ("Head", "Body"))
    bones = tuple(
        bone for bone in figure.armature.bones if not bone.name.startswith(("Leg", "Foot", "Toe"))
    )
    bust = measure(
        replace(figure, parts=top, armature=Armature("Rig", bones, np.eye(4))), Settings()
    )
    assert bust.heads_tall is None
    assert "sole" in bust.refusal
    places = {
        "Pelvis": (0, 1, 1),
        "Head": (0, -1, 1.3),
        "FrontLeg": (0, -0.8, 0.5),
        "HindLeg": (0, 0.8, 0.5),
    }
    dog = Armature(
        "Dog",
        tuple(
            Bone(name, None, np.array(at, float), np.array(at, float), np.eye(3))
            for name, at in places.items()
        ),
        np.eye(4),
    )
    part = Part(
        "Dog", np.random.default_rng(1).random((50, 3)), np.zeros((0, 3), np.int64), Weights.none()
    )
    result = measure(Figure("Dog", (), (part,), dog), Settings())
    assert result.heads_tall is None
    assert "four legs" in result.refusal


@pytest.mark.parametrize(
    "name",
    [
        "Hair",
        "hair_01",
        "J_Sec_Hair1",
        "leftEar",
        "Ear.L",
        "PonyTail",
        "髪前",
        "StormHat",
        "ねこ耳",
    ],
)
def test_worn_words(name):
    assert worn_word(name)


@pytest.mark.parametrize(
    "name", ["Bear", "Shear", "Chair", "Elbow", "Forearm", "Heart", "Capsule", "That"]
)
def test_words_that_only_hold_one(name):
    assert worn_word(name) is None


def test_sides():
    assert [side_of(name) for name in ("Arm.L", "LeftArm", "arm_r", "Upright", "Spine")] == [
        1,
        1,
        -1,
        0,
        0,
    ]


@pytest.mark.parametrize("points", [1, 4, 5, 12, 60])
def test_scraps_of_mesh_get_an_ordered_range_or_a_refusal(points):
    armature = keeper(Person()).armature
    names = tuple(bone.name for bone in armature.bones)
    rng = np.random.default_rng(points)
    for _ in range(10):
        places, triangles = rng.random((points, 3)), rng.integers(0, points, (points, 3))
        groups = rng.integers(0, len(names), points)
        weights = Weights(names, np.arange(points), groups, np.ones(points))
        result = measure(
            Figure("Scrap", (), (Part("Scrap", places, triangles, weights),), armature), Settings()
        )
        if result.heads_tall is None:
            assert result.refusal.endswith(".")
        else:
            assert result.low <= result.heads_tall <= result.high


def test_a_bare_ball_is_refused():
    ball = keeper(Person(build="separate", rigged=False)).parts[0]
    assert measure(Figure("Ball", (), (replace(ball, name="Ball"),)), Settings()).heads_tall is None


def test_a_prefix_of_every_material_names_nothing_worn():
    figure = keeper(Person(height=1.2))
    part = figure.parts[0]
    half = (np.arange(len(part.triangles)) % 2).astype(np.int64)
    named = replace(part, materials=("FaceCapSkin", "FaceCapCloth"), triangle_material=half)
    result = count(replace(figure, parts=(named,)))
    assert result.guesses == ()
    assert result.heads_tall == pytest.approx(2.0, rel=0.01)


def test_a_chin_pinned_below_the_sole_asks_for_the_pin():
    figure = replace(keeper(Person()), pins=(Pin("chin", np.array([0.0, 0.0, -0.2])),))
    assert measure(figure, Settings()).refusal == "Crown, chin and sole do not lie above each other; take a wrong pin away, or set it anew."
