"""What automatic weights leave out or take too much of: chins, collars, shoes; rigs without a head; where bones end.

The outside check is geometry's: crown, chin and sole follow from how the invented figures are built.
"""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Weights
from evenfold.core.humanoid import guess_humanoid
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings
from figures.altered import carried, where, with_bones, with_parts
from figures.clay.recipes import recipe
from figures.clay.sculpt import sculpt
from figures.people import Person, _ball, _loft, keeper, moved

NECKED = Person(height=1.8, head=0.6, neck=0.12, build="separate")
CHIN = NECKED.height - NECKED.head


def cut_off(share, bone="Neck", person=NECKED):
    """A keeper the lower ``share`` of whose face follows ``bone`` instead of the head's."""
    return where(keeper(person), bone, lambda at: at[:, 2] < CHIN + share * person.head, ["Head"])


@pytest.mark.parametrize("share", [0.2, 0.3, 0.4, 0.5])
@pytest.mark.parametrize("bone", ["Neck", "Spine"])
def test_a_face_goes_on_below_where_the_heads_weight_ends(share, bone):
    found = measure(cut_off(share, bone), Settings())
    assert found.heads_tall == pytest.approx(3.0, rel=0.01)
    assert found.low <= 3.0 <= found.high < 3.2


@pytest.mark.parametrize("share", [0.2, 0.35])
@pytest.mark.parametrize("build", ["separate", "merged"])
def test_so_does_a_ball_on_the_body(share, build):
    person = Person(height=1.2, head=0.5, build=build)
    part = "Head" if build == "separate" else "Mesh"
    figure = where(keeper(person), "Spine", lambda at: (at[:, 2] < 0.7 + share * 0.5) & (at[:, 2] > 0.69), [part])
    found = measure(figure, Settings())
    assert found.heads_tall == pytest.approx(2.4, rel=0.01)
    assert found.low <= 2.4 <= found.high


@pytest.mark.parametrize("share", [0.3, 0.45])
@pytest.mark.parametrize("shape", ["nose", "glasses"])
def test_a_nose_over_the_end_of_the_weight_is_no_chin(share, shape):
    level = CHIN + (share + 0.05) * NECKED.head
    form = _ball((0, -0.27, level + 0.03), (0.03, 0.05, 0.03) if shape == "nose" else (0.2, 0.012, 0.03))
    found = measure(with_parts(cut_off(share), carried("Piece.3", form, "Head")), Settings())
    assert found.heads_tall == pytest.approx(3.0, rel=0.01)


def test_weights_that_end_at_the_chin_change_nothing():
    whole, again = measure(keeper(NECKED), Settings()), measure(cut_off(0.02), Settings())
    assert again.heads_tall == pytest.approx(whole.heads_tall, rel=0.005)
    assert again.low <= 3.0 <= again.high


@pytest.mark.parametrize("down", [0.08, 0.11])
def test_a_collar_that_follows_the_head_is_no_skull(down):
    """Its lower rim follows the neck, as a face's does that goes on below; it reaches a little over the bone's start."""
    rim = CHIN + 0.06 * NECKED.head
    collar = _loft([(rim - down, 0.26, 0.26, 0.0), (rim - 0.4 * down, 0.27, 0.27, 0.0), (rim + 0.12, 0.28, 0.28, 0.0)])
    figure = where(keeper(NECKED), "Head", lambda at: np.ones(len(at)), ["Head"])
    figure = with_parts(figure, carried("Mesh.012", collar, "Head"))
    figure = where(figure, "Neck", lambda at: at[:, 2] < rim - 0.9 * down, ["Mesh.012"])
    found = measure(figure, Settings())
    assert found.heads_tall == pytest.approx(3.0, rel=0.01)
    assert found.low <= 3.0 <= found.high


def shod(thick):
    """A keeper on soles of their own, ``thick``, that follow no bone."""
    soles = []
    for side in (1, -1):
        points, faces = _loft([(-thick, 0.06, 0.15, -0.06), (0.01, 0.06, 0.14, -0.06)])
        soles.append(carried(f"Sole{side}", (points + np.array([0.12 * side, 0, 0]), faces), None))
    return with_parts(keeper(Person(height=1.8, head=0.6, build="separate")), *soles)


@pytest.mark.parametrize("thick", [0.03, 0.09])
def test_it_stands_on_soles_that_follow_no_bone(thick):
    found = measure(shod(thick), Settings())
    assert found.heads_tall == pytest.approx((1.8 + thick) / 0.6, rel=0.003)


def test_a_floor_that_follows_no_bone_is_no_sole():
    floor = _loft([(-0.09, 0.7, 0.7, 0.0), (-0.02, 0.7, 0.7, 0.0)])
    figure = with_parts(keeper(Person(height=1.8, head=0.6, build="separate")), carried("Mesh.009", floor, None))
    assert measure(figure, Settings()).heads_tall == pytest.approx(3.0, rel=0.003)


def headless(top):
    """A keeper's body whose rig has arms and legs and no head, up to ``top`` over where the arms begin."""
    figure = keeper(Person(height=1.8, head=0.6, neck=0.1, build="separate"))
    kept = tuple(part for part in figure.parts if part.name not in ("Head", "Body"))
    waist = _loft([(0.5, 0.2, 0.14, 0.0), (0.66, 0.11, 0.09, 0.02), (0.8, 0.2, 0.14, 0.0), (1.0 + top, 0.16, 0.12, 0.0)])
    arms = [carried(f"Arm{side}", _ball((0.32 * side, 0, 0.95), (0.16, 0.05, 0.05)), f"UpperArm.{hand}") for side, hand in ((1, "L"), (-1, "R"))]
    figure = with_parts(replace(figure, parts=kept), carried("Trunk", waist, "Spine"), *arms)
    rows = [(f"UpperArm.{hand}", "Spine", (0.16 * side, 0, 0.95), (0.3 * side, 0, 0.95)) for side, hand in ((1, "L"), (-1, "R"))]
    legs = [(f"UpperLeg.{hand}", "Root", (0.1 * side, 0, 0.54), (0.1 * side, 0, 0.1)) for side, hand in ((1, "L"), (-1, "R"))]
    figure = with_bones(figure, *rows, *legs)
    bones = tuple(bone for bone in figure.armature.bones if bone.name not in ("Head", "Neck", "Hair01", "Ear.L", "Ear.R"))
    armature = replace(figure.armature, bones=bones)
    return replace(figure, armature=armature, humanoid=guess_humanoid(armature))


def test_no_head_is_made_up_beside_the_arms_of_a_rig_without_one():
    figure = headless(0.04)
    assert {"leftUpperArm", "leftUpperLeg"} <= set(figure.humanoid) and "head" not in figure.humanoid
    found = measure(figure, Settings())
    assert found.heads_tall is None and "crown" not in found.landmarks
    assert "rig" in found.refusal


def test_a_head_over_the_arms_of_such_a_rig_is_counted_by_its_shape():
    figure = headless(0.04)
    head = _ball((0, 0, 1.4), (0.25, 0.24, 0.3))
    neck = _loft([(0.98, 0.06, 0.06, 0.04), (1.2, 0.06, 0.06, 0.04)])
    found = measure(with_parts(figure, carried("Piece.1", head, "Spine"), carried("Piece.2", neck, "Spine")), Settings())
    assert found.low <= 1.7 / 0.6 <= found.high


@pytest.mark.parametrize("seed", [100111, 99133])
def test_the_head_bones_end_leads_under_a_hat_or_hair_far_thicker_than_they_show(seed):
    made = sculpt(replace(recipe(seed), vertices=12000))
    found = measure(made.figure, Settings())
    assert found.heads_tall == pytest.approx(made.heads, rel=0.01)
    assert found.landmarks["crown"].evidence == "end of the head bone"
    assert found.low <= made.heads <= found.high


@pytest.mark.parametrize("seed", [101013, 99099])
def test_it_leads_under_hair_that_hardly_shows_and_the_range_holds_the_bare_dome(seed):
    made = sculpt(replace(recipe(seed), vertices=min(recipe(seed).vertices, 15000)))
    found = measure(made.figure, Settings())
    crown = found.landmarks["crown"]
    assert crown.evidence == "end of the head bone" and crown.high > crown.height + 0.03 * found.head_height
    assert found.heads_tall == pytest.approx(made.heads, rel=0.01)
    assert found.low <= made.heads <= found.high


@pytest.mark.parametrize("under", [0.04, 0.1])
def test_on_a_bald_head_with_a_brow_and_eyes_a_short_bone_moves_no_crown(under):
    brow = _ball((0, -0.2, 1.56), (0.16, 0.06, 0.03))
    eyes = [carried(f"Eye{side}", _ball((0.09 * side, -0.24, 1.5), (0.04, 0.02, 0.05)), "Head") for side in (1, -1)]
    figure = with_parts(keeper(NECKED), carried("Brow", brow, "Head"), *eyes)
    figure = with_bones(figure, ("Head", "Neck", (0, 0.02, 1.24), (0, 0.02, 1.8 - under * 0.6)))
    found = measure(figure, Settings())
    assert found.heads_tall == pytest.approx(3.0, rel=0.005)


def with_eyes(turn, sides=(1, -1), names=("eye_L", "eye_R"), person=None):
    """A round-headed keeper without a rig, turned by ``turn`` radians, with eyes and a wing on one side of it alone."""
    figure = keeper(person or Person(height=1.5, head=0.7, build="separate", rigged=False))
    feet = {part.name for part in figure.parts if "Shoe" in part.name}
    figure = replace(figure, parts=tuple(part for part in figure.parts if part.name not in feet))
    eyes = [carried(name, _ball((0.12 * side, -0.26, 1.15), (0.05, 0.02, 0.06)), None) for side, name in zip(sides, names, strict=True)]
    wing = carried("Mesh.004", _loft([(0.5, 0.01, 0.3, 0.3), (1.1, 0.01, 0.3, 0.5)]), None)
    return moved(with_parts(figure, *eyes, replace(wing, points=wing.points + np.array([0.3, 0, 0]))), turn=turn)


def facing(figure):
    return np.asarray(measure(figure, Settings()).forward, float)


@pytest.mark.parametrize("turn", [0.0, 0.5, np.pi / 2, 2.5, np.pi])
@pytest.mark.parametrize("names", [("eye_L", "eye_R"), ("Eyeball.001", "Eyeball.002"), ("左目", "右目")])
def test_named_eyes_tell_the_facing_whatever_stands_beside_the_figure(turn, names):
    expected = np.array([np.sin(turn), -np.cos(turn), 0.0])
    assert facing(with_eyes(turn, names=names)) @ expected == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize(("sides", "names"), [((1,), ("eye",)), ((1, -1), ("eyebrow_L", "eyepatch_R")), ((1, -1), ("glass_L", "eye_shadow"))])
def test_one_eye_or_what_lies_about_eyes_tells_no_facing(sides, names):
    plain, said = with_eyes(0.5, sides, tuple(f"Mesh.01{n}" for n in range(len(sides)))), with_eyes(0.5, sides, names)
    assert facing(said) == pytest.approx(facing(plain), abs=1e-9)


@pytest.mark.parametrize("build", ["merged", "separate"])
def test_a_group_called_head_on_eyes_alone_holds_no_head(build):
    """Without a rig: the group is left from elsewhere, or holds what is to be selected together."""
    figure = keeper(Person(height=1.5, head=0.5, neck=0.06, build=build, rigged=False))
    plain = measure(figure, Settings())
    eyes = []
    for hand in (1, -1):
        points, faces = _ball((hand * 0.08, -0.2, 1.2), (0.03, 0.03, 0.04))
        eyes.append(carried(f"Sphere.00{hand + 1}", (points, faces), "Head"))
    found = measure(with_parts(figure, *eyes), Settings())
    assert found.heads_tall == pytest.approx(plain.heads_tall, rel=0.01) == pytest.approx(3.0, rel=0.02)
    held = []
    for part in figure.parts:
        rows = np.flatnonzero(part.points[:, 2] > 1.0)
        held.append(replace(part, weights=Weights(("Head",), rows, np.zeros(len(rows), int), np.ones(len(rows)))))
    whole = measure(replace(figure, parts=tuple(held)), Settings())
    assert whole.landmarks["chin"].how == "weights", "a group that holds the head is heard"
