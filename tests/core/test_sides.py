"""Left and right in names. The table of the host's own answers was measured in 5.2.3."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Armature, Bone
from evenfold.core.readiness.names import names_readiness
from evenfold.core.report.wording import IN_MOTION, WORDS
from evenfold.core.sides import (
    _readings,
    asks_for_counterpart,
    counterpart,
    host_flip,
    host_flips,
    pairs,
    side_of,
)
from evenfold.core.symmetry import ARMATURE_LAYERS, SURFACE_LAYERS
from figures.layered import layered
from figures.records import figure_of

PAIRED = """
Bone.L|Bone.R Bone_l|Bone_r Bone-L|Bone-R L_Bone|R_Bone l.bone|r.bone L-Bone|R-Bone LeftArm|RightArm
ArmLeft|ArmRight arm_Left|arm_Right ARM_LEFT|ARM_RIGHT left_arm|right_arm Bone.L.001|Bone.R.001
Bone.L.001.002|Bone.R.001.002 J_L_UpperArm|J_R_UpperArm Upper_L_Arm|Upper_R_Arm Hand.L_end|Hand.R_end
Hair_L_01|Hair_R_01 ns:LeftArm|ns:RightArm ns:L_Arm|ns:R_Arm X_L_twist|X_R_twist skirt_left_02|skirt_right_02
mouthSmileLeft|mouthSmileRight eyeBlink_L|eyeBlink_R jawLeft|jawRight leftarm|rightarm upperarmleft|upperarmright
左腕|右腕 腕_左|腕_右 前左|前右 左前髪|右前髪 ひだりて|みぎて てひだり|てみぎ 腕L|腕R 腕Ｌ|腕Ｒ Left|Right éle_L|éle_R side_fin.L.001|side_fin.R.001
""".split()
SPACED = ["Bone L|Bone R", "leg left thigh|leg right thigh", "L Bone|R Bone"]
LIKELY = ["ArmL|ArmR", "LArm|RArm", "lArm|rArm", "handL|handR", "Hair_L01|Hair_R01"]
NEITHER = (
    "Eye_Bright Upright Leftover cleft Bottle bright Bright alright leftover x.LL Ball toil eyebright copyright tail "
    "L R 左右 前後 Äl_x LR Spine.001 Head target lip roll_all Lantern Ribbon fright"
).split()


@pytest.mark.parametrize("both", [*PAIRED, *SPACED, *LIKELY])
def test_sides_are_read_and_turned_both_ways(both):
    left, right = both.split("|")
    assert (side_of(left), side_of(right)) == ("left", "right")
    assert (counterpart(left), counterpart(right)) == (right, left)
    assert asks_for_counterpart(left) is asks_for_counterpart(right) is (both not in LIKELY)
    found = pairs([right, "Spine", left])
    assert (found.left, found.right, found.singles) == ((left,), (right,), ())


@pytest.mark.parametrize("name", NEITHER)
def test_other_names_have_no_side(name):
    assert side_of(name) is None and counterpart(name) is None and not asks_for_counterpart(name)
    assert pairs([name]).singles == ()


HOST = """
Bone.L Bone.R|Bone_l Bone_r|Bone-R Bone-L|L_Bone R_Bone|r.bone l.bone|LeftArm RightArm|ArmRight ArmLeft|ARM_LEFT ARM_RIGHT
Bone.L.001 Bone.R.001|Bone.L.001.002 Bone.L.001.002|Left Left|right right|L L|.L .L|_R _R|handL handL|Larm Larm|x.LL x.LL
J_L_UpperArm J_L_UpperArm|Hand.L_end Hand.L_end|Hair_L_01 Hair_L_01|Hair_L01 Hair_L01|bright bleft|Bright Bleft|alright alleft
leftover rightover|Leftover Rightover|mouthSmileLeft mouthSmileRight|eyeBlink_L eyeBlink_R|RiGht_a Left_a|Ball Ball|toil toil
""".strip().replace("\n", "|").split("|")


@pytest.mark.parametrize("row", HOST)
def test_the_hosts_own_rule_is_known(row):
    name, turned = row.split(" ")
    assert host_flip(name) == turned
    assert host_flips(name) == (name != turned)


def test_a_pair_needs_both_names():
    found = pairs(["Arm.L", "Leg.R", "Spine", "Eye.L", "Eye.R"])
    assert (found.left, found.right, found.singles) == (("Eye.L",), ("Eye.R",), ("Arm.L", "Leg.R"))
    assert pairs(["Eye_Bright", "Upright"]).left == ()


def test_what_only_the_host_reads_counts_where_both_names_exist():
    assert pairs(["Eye_Bright", "Eye_Bleft"]).partner == {"Eye_Bleft": "Eye_Bright", "Eye_Bright": "Eye_Bleft"}


def test_of_several_sides_all_turn_unless_only_one_reading_exists():
    four = pairs(["lookLeft_L", "lookLeft_R", "lookRight_L", "lookRight_R"])
    assert four.partner["lookLeft_L"] == "lookRight_R" and four.partner["lookLeft_R"] == "lookRight_L"
    assert pairs(["lookLeft_L", "lookLeft_R"]).left == ("lookLeft_L",)


@pytest.mark.parametrize("count", [7, 12, 18])
def test_names_full_of_sides_have_few_readings_and_still_find_their_pairs(count):
    name = "_".join("L" * count) + "_Arm.L"
    assert len(list(_readings(name))) <= count + 3
    every = name.replace("L", "R")
    last, inner = name[:-1] + "R", "L_R" + name[3:]
    assert pairs([name, every]).partner == {name: every, every: name}
    assert pairs([name, last]).partner == {name: last, last: name}
    assert pairs([name, inner]).partner == {name: inner, inner: name}
    assert pairs([last, name, every]).partner == {name: every, every: name}
    assert pairs([name, "R_R" + name[3:]]).partner == {}


def test_of_six_sides_any_may_turn():
    found = pairs(["L_L_L_L_L_Arm.L", "R_R_L_L_R_Arm.L"])
    assert (found.left, found.right) == (("L_L_L_L_L_Arm.L",), ("R_R_L_L_R_Arm.L",))


@pytest.mark.parametrize("end", [".L", ".R"])
def test_a_pair_that_ends_alike_is_told_by_the_side_that_differs(end):
    found = pairs(["Arm_R_x" + end, "Arm_L_x" + end])
    assert (found.left, found.right) == (("Arm_L_x" + end,), ("Arm_R_x" + end,))


def test_names_the_host_will_not_mirror_are_told():
    found = pairs(["J_L_Arm", "J_R_Arm", "Leg.L", "Leg.R"])
    assert found.unflipped == ("J_L_Arm",)
    (note,) = found.notes
    assert "Blender itself will not mirror" in note and "J_L_Arm" in note and "Leg" not in note


@pytest.mark.parametrize("seed", range(20))
def test_turning_twice_gives_the_name_back_and_pairs_are_one_to_one(seed):
    rng = np.random.default_rng(seed)
    pieces = ["L", "R", "left", "Right", "LEFT", "_", ".", "-", " ", "arm", "Eye", "001", "左", "みぎ", ":", "up"]
    names = {"".join(rng.choice(pieces, rng.integers(1, 7)).tolist()) for _ in range(300)}
    for name in names:
        other = counterpart(name)
        if other is not None:
            assert counterpart(other) == name
            assert {side_of(name), side_of(other)} == {"left", "right"}
    whole = sorted(names | {counterpart(name) or name for name in names})
    found = pairs(whole)
    assert len(set(found.left + found.right)) == 2 * len(found.left)
    assert not found.singles
    assert all(counterpart(one) is None for one in set(whole) - set(found.partner))


@pytest.mark.parametrize(("left", "right"), [
    ("Arm_lft", "Arm_rgt"), ("LFT_arm", "RGT_arm"), ("hand lt", "hand rt"), ("Lt.Hand.002", "Rt.Hand.002"),
    ("lf_leg", "rt_leg"), ("rig:lf_leg_01", "rig:rt_leg_01"),
])
def test_short_side_words_count_only_where_both_names_exist(left, right):
    found = pairs((right, "Spine", left))
    assert (found.left, found.right, found.singles) == ((left,), (right,), ())
    for one in (left, right):
        assert pairs((one, "Spine")).partner == {} and not asks_for_counterpart(one)
        assert counterpart(one) is None and side_of(one) is None


def test_a_short_word_that_answers_two_names_pairs_with_none():
    assert pairs(("lt_arm", "lf_arm", "rt_arm")).partner == {}
    assert pairs(("salt_arm", "sart_arm", "alt", "art", "Bolt", "Bort")).partner == {}
    assert pairs(("lt_grey", "dk_grey", "rt")).partner == {}


def test_every_code_has_its_words():
    layers = {code for layer in (*SURFACE_LAYERS.values(), *ARMATURE_LAYERS.values()) for code in layer.CODES}
    surface = {"drifted", "off-centre", "unpaired", "doubled", "ambiguous", "near-miss"}
    assert layers | surface <= set(WORDS) == set(IN_MOTION)
    assert all(text.endswith(".") and len(text) < 100 for text in IN_MOTION.values())


def test_names_blender_reads_otherwise_are_notes_told_once():
    zero = np.zeros(3)
    names = ("Spine", "J_L_Arm", "J_R_Arm", "Leg.L", "Leg.R", "Eye_Bright")
    armature = Armature("Rig", tuple(Bone(name, None, zero, zero, np.eye(3)) for name in names), np.eye(4))
    plain = layered(0).surface
    weights = replace(plain.layers.weights, names=("J_L_Arm", "J_R_Arm", "前左", "前右"))
    figure = figure_of(replace(plain, layers=replace(plain.layers, weights=weights)), armature=armature)
    told = [(one.code, one.level, one.subject, one.message) for one in names_readiness(figure)]
    assert [one[:3] for one in told] == [("ready-names", "note", "Rig"), ("ready-names", "note", "Rig"), ("ready-names", "note", "Body")]
    assert "J_L_Arm" in told[0][3] and "Eye_Bright" in told[1][3] and "Leg" not in told[0][3]
    assert "前左" in told[2][3] and "J_L_Arm" not in told[2][3]
    assert names_readiness(figure_of(plain)) == []
