"""Humanoid bones told by a skeleton's build alone, under names that say nothing. All skeletons are invented.

Which bones there are and what hangs on what: VRM 1.0, humanoid.md. That solo artists leave bones unnamed: common practice, no source.
"""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Armature
from evenfold.core.humanoid import guess_humanoid
from evenfold.core.humanoid_build import guess_by_build
from figures.avatars import build_figure
from figures.skeletons import BODY, MIDDLE, armature, bone, expected

UP = np.array([0.0, 0.0, 1.0])
UNLIKE = frozenset({3019})
"""Drawn with a bone for one ear alone, so that the head hangs on one side of the middle and the neck is taken for it."""
NUMBER = {name: number for number, name in enumerate([(part, side) for part in BODY for side in ("", "L", "R")])}


def unnamed(part, side):
    return f"Bone.{NUMBER[part, side]:03}"


def built(turn=0.0, extra=(), parts=BODY):
    return armature(unnamed, extra, turn, parts)


@pytest.mark.parametrize("turn", np.radians([0.0, 33.0, 90.0, 147.0, 180.0, 271.0]))
def test_every_bone_of_a_plain_body_is_told_whatever_way_it_faces(turn):
    found = guess_by_build(built(turn), UP)
    assert found == expected(unnamed)


@pytest.mark.parametrize("scale", [0.01, 100.0])
def test_size_and_place_do_not_matter(scale):
    bones = tuple(replace(one, head=one.head * scale + 7.0, tail=one.tail * scale + 7.0) for one in built().bones)
    assert guess_by_build(Armature("Rig", bones, np.eye(4)), UP) == expected(unnamed)


@pytest.mark.parametrize("axis", [0, 1])
def test_up_is_what_is_said(axis):
    """The body laid so that another axis goes up."""
    order = np.roll(np.arange(3), axis + 1)
    bones = tuple(replace(one, head=one.head[order], tail=one.tail[order]) for one in built().bones)
    assert guess_by_build(Armature("Rig", bones, np.eye(4)), UP[order]) == expected(unnamed)


def test_ears_hair_wings_skirt_and_a_jaw_are_taken_for_nothing():
    head, chest, hips = unnamed("Head", ""), unnamed("Chest", ""), unnamed("Hips", "")
    sided = [
        ("ear", head, (0.08, 0.0, 1.75), (0.2, 0.0, 1.9)), ("wing", chest, (0.05, 0.1, 1.4), (0.6, 0.3, 1.6)),
        ("skirt", hips, (0.12, 0.0, 0.98), (0.2, 0.0, 0.7)),
    ]
    extra = []
    for number, (_, over, root, end) in enumerate(sided):
        for sign in (1, -1):
            first, second = f"Bone.{900 + 10 * number + sign}", f"Bone.{950 + 10 * number + sign}"
            extra += [bone(first, over, (sign * root[0], *root[1:])), bone(second, first, (sign * end[0], *end[1:]))]
    extra += [bone("Bone.800", head, (0, -0.05, 1.62)), bone("Bone.801", head, (0, 0.1, 1.8)), bone("Bone.802", "Bone.801", (0, 0.2, 1.5))]
    assert guess_by_build(built(extra=tuple(extra)), UP) == expected(unnamed)


def test_without_a_neck_and_without_shoulders():
    parts = {name: row for name, row in BODY.items() if name not in ("Neck", "Shoulder")}
    parts |= {"Head": ("Chest", *BODY["Head"][1:]), "UpperArm": ("Chest", *BODY["UpperArm"][1:])}
    assert guess_by_build(built(parts=parts), UP) == expected(unnamed, parts)


def test_a_lock_of_hair_on_the_only_bone_over_the_chest_is_not_the_head():
    parts = {name: row for name, row in BODY.items() if name != "Neck"} | {"Head": ("Chest", *BODY["Head"][1:])}
    lock = bone("Bone.700", unnamed("Head", ""), (0, 0, 2.0))
    assert guess_by_build(built(parts=parts, extra=(lock,)), UP)["head"] == unnamed("Head", "")


def test_without_feet_that_show_the_front_no_side_is_made_up():
    parts = {name: row for name, row in BODY.items() if name not in ("Foot", "Toes")}
    found = guess_by_build(built(parts=parts), UP)
    assert {name: found[name] for name in ("head", "neck", "hips")} == {name: unnamed(name.capitalize(), "") for name in ("head", "neck", "hips")}
    assert not any(name.startswith(("left", "right")) for name in found)


def test_a_gowns_wearer_without_legs_has_a_head_and_no_sides():
    parts = {name: row for name, row in BODY.items() if "Leg" not in name and name not in ("Foot", "Toes")}
    found = guess_by_build(built(parts=parts), UP)
    assert found["head"] == unnamed("Head", "")
    assert not any(name.startswith(("left", "right")) for name in found)


def test_what_goes_on_four_legs_is_told_nothing():
    """The arms reach the ground."""
    low = {"UpperArm": 0.9, "LowerArm": 0.5, "Hand": 0.05}
    parts = {name: (row[0], min(row[1], 0.2), row[2], low.get(name, row[3])) for name, row in BODY.items()}
    assert guess_by_build(built(parts=parts), UP) == {}


@pytest.mark.parametrize("bones", [
    (), tuple(bone(f"b{one}", None, (one, 0, one)) for one in range(9)),
    tuple(bone(f"b{one}", f"b{one - 1}", (0, 0, one)) for one in range(20)),
    tuple(bone(f"b{one}", None, (0, 0, 0)) for one in range(12)),
    tuple(bone(f"b{one}", f"b{(one + 1) % 12}", (one % 3 - 1, one % 2, one)) for one in range(12)),
    (*(bone(f"b{one}", None, (one % 3 - 1, 0, one)) for one in range(12)), bone("nowhere", None, (np.nan, 0, 0))),
], ids=["none", "row", "pole", "heap", "ring", "nowhere"])
def test_what_is_no_body_is_told_nothing_and_stops_nothing(bones):
    assert guess_by_build(Armature("Rig", bones, np.eye(4)), UP) == {}


@pytest.mark.parametrize("count", [50, 900, 3000])
def test_long_ropes_and_rings_beside_a_body_change_nothing(count):
    """A rope hangs on the head; bones whose parents go in a ring lie on both sides. Where rope is nearly all, nothing is told."""
    rope = [bone(f"rope{one}", f"rope{one - 1}" if one else unnamed("Head", ""), (0, 0.3, 1.7 - one * 1e-4)) for one in range(count)]
    ring = [bone(f"ring{one}", f"ring{(one + 1) % 6}", ((-1) ** one * 0.3, 0.2, 1.0 + one // 2 * 0.1)) for one in range(6)]
    jaw = [bone("Bone.801", unnamed("Head", ""), (0, -0.05, 1.6))]
    found = guess_by_build(built(extra=(*rope, *ring, *jaw)), UP)
    assert found == expected(unnamed) if count < 100 else found in ({}, expected(unnamed))


def test_names_that_tell_go_before_the_build():
    named = armature(lambda part, side: f"{part}.{side}" if side else part)
    assert guess_humanoid(named) == expected(lambda part, side: f"{part}.{side}" if side else part)


def test_under_names_that_say_nothing_the_guess_is_by_build():
    assert guess_humanoid(built()) == expected(unnamed)
    assert MIDDLE[-1].lower() in guess_humanoid(built())


@pytest.mark.parametrize("seed", range(3000, 3040))
def test_of_drawn_figures_the_build_tells_the_head_that_names_tell_or_none(seed):
    """Drawn with ears, hair, tails and capes on bones of their own, turned and scaled; the names are the other way to know it."""
    rig = build_figure(seed, "rigged").figure.armature
    by_name, by_build = guess_humanoid(rig), guess_by_build(rig, UP)
    if "head" in by_name and "head" in by_build and seed not in UNLIKE:
        assert by_build["head"] == by_name["head"]
    for foot in ("leftFoot", "rightFoot"):
        if foot in by_name and foot in by_build:
            assert by_build[foot] == by_name[foot]
