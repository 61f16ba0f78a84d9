"""The humanoid bone table, and guessing the bones in many spellings. All armatures are invented.

Facts on the table: VRM 1.0, humanoid.md: 55 bones, 7 in the middle and 24 a side, 15 required.
Facts on the older names: VRM 0.x, vrm.humanoid.bone.schema.json: they differ in the thumb alone.
"""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Armature
from evenfold.core.humanoid import guess_humanoid
from evenfold.core.humanoid_table import BONES, BY_NAME, label, newer_names, troubles
from figures.skeletons import BODY, armature, bone, expected, standard

REQUIRED = {
    "hips", "spine", "head", *(f"{side}{part}" for side in ("left", "right") for part in (
        "UpperLeg", "LowerLeg", "Foot", "UpperArm", "LowerArm", "Hand"))
}


def test_the_table_is_the_published_one():
    assert len(BONES) == len(BY_NAME) == 55
    assert {entry.name for entry in BONES if entry.required} == REQUIRED and len(REQUIRED) == 15
    sided = [sum(entry.name.startswith(side) for entry in BONES) for side in ("left", "right")]
    assert sided == [24, 24]
    assert {entry.name for entry in BONES if entry.needs_parent} >= {"upperChest", "leftThumbProximal", "rightLittleDistal"}
    assert sum(entry.needs_parent for entry in BONES) == 1 + 2 * 10
    parents = {"hips": None, "neck": "upperChest", "leftShoulder": "upperChest", "leftUpperArm": "leftShoulder", "leftEye": "head",
               "jaw": "head", "rightToes": "rightFoot", "leftRingProximal": "leftHand", "rightThumbProximal": "rightThumbMetacarpal"}
    assert {name: BY_NAME[name].parent for name in parents} == parents


def test_the_table_is_its_own_mirror_image():
    def other(name):
        if name is None:
            return None
        return name.replace("left", "RIGHT").replace("right", "left").replace("RIGHT", "right")

    for entry in BONES:
        assert BY_NAME[other(entry.name)] == replace(entry, name=other(entry.name), parent=other(entry.parent))


def test_every_parent_stands_before_its_child():
    seen = set()
    for entry in BONES:
        assert entry.parent is None or entry.parent in seen
        seen.add(entry.name)


def test_older_thumbs_get_their_newer_names_and_newer_ones_stay():
    older = {"leftThumbProximal": "a", "leftThumbIntermediate": "b", "leftThumbDistal": "c", "head": "h"}
    newer = {"leftThumbMetacarpal": "a", "leftThumbProximal": "b", "leftThumbDistal": "c", "head": "h"}
    assert newer_names(older) == newer == newer_names(newer)
    assert newer_names({"tail": "t"}) == {}


SPELLINGS = {
    "standard": standard,
    "suffix .L": lambda part, side: part + ("." + side if side else ""),
    "suffix _l, snake case": lambda part, side: {"UpperArm": "upper_arm", "LowerArm": "forearm", "UpperLeg": "thigh", "LowerLeg": "shin"}.get(part, part.lower()) + ("_" + side.lower() if side else ""),
    "prefix L_": lambda part, side: (side + "_" if side else "") + {"Shoulder": "Clavicle", "LowerLeg": "Calf"}.get(part, part),
    "namespace, words in front": lambda part, side: "staff:" + {"L": "Left", "R": "Right", "": ""}[side] + {
        "UpperArm": "Arm", "LowerArm": "ForeArm", "UpperLeg": "UpLeg", "LowerLeg": "Leg", "Toes": "ToeBase"}.get(part, part),
    "tokens in front": lambda part, side: f"J_Bip_{side or 'C'}_{part}",
    "words at the end": lambda part, side: part + {"L": "Left", "R": "Right", "": ""}[side],
    "lower case run together": lambda part, side: {"L": "left", "R": "right", "": ""}[side] + part.lower(),
    "single letter glued": lambda part, side: side + part,
    "side in the middle": lambda part, side: f"cook_{side}_{part}_jnt" if side else f"cook_{part}_jnt",
    "joint words": lambda part, side: {"UpperArm": "Shoulder", "Shoulder": "Collar", "LowerArm": "Elbow", "Hand": "Wrist", "UpperLeg": "Hip",
                                       "LowerLeg": "Knee", "Foot": "Ankle", "Toes": "Toe", "Hips": "Pelvis"}.get(part, part) + ("_" + side if side else ""),
    "numbered": lambda part, side: {"UpperArm": "arm.01", "LowerArm": "arm.02", "Hand": "arm.03", "UpperLeg": "leg.01", "LowerLeg": "leg.02",
                                    "Foot": "leg.03", "Toes": "toe"}.get(part, part.lower()) + ("." + side if side else ""),
    "with a name in front of all": lambda part, side: f"apprentice_rig_{part}" + ("_" + side if side else ""),
    "Japanese": lambda part, side: {"L": "左", "R": "右", "": ""}[side] + {
        "Hips": "センター", "Spine": "上半身", "Chest": "上半身2", "Neck": "首", "Head": "頭", "Shoulder": "肩", "UpperArm": "腕", "LowerArm": "ひじ",
        "Hand": "手首", "UpperLeg": "足", "LowerLeg": "ひざ", "Foot": "足首", "Toes": "つま先"}[part],
}


@pytest.mark.parametrize("turn", [0.0, np.pi, 1.2])
@pytest.mark.parametrize("name", SPELLINGS)
def test_usual_spellings_are_understood_whichever_way_the_figure_faces(name, turn):
    spell = SPELLINGS[name]
    rig = armature(spell, turn=turn)
    assert guess_humanoid(rig) == expected(spell)
    assert troubles(guess_humanoid(rig), rig) == ()


def test_order_of_bones_does_not_matter():
    spell = SPELLINGS["numbered"]
    rig = armature(spell)
    for seed in range(5):
        order = np.random.default_rng(seed).permutation(len(rig.bones))
        assert guess_humanoid(replace(rig, bones=tuple(rig.bones[n] for n in order))) == expected(spell)


def helpers():
    return [
        bone("UpperArm_Twist.L", "UpperArm.L", (0.3, 0, 1.45)), bone("Hand_IK.L", None, (0.7, 0, 1.43)), bone("Foot_ctrl.R", None, (-0.1, 0, 0.08)),
        bone("Head_end", "Head", (0, 0, 1.9)), bone("Knee_pole.L", None, (0.1, -0.6, 0.5)), bone("LegRoll.R", "UpperLeg.R", (-0.1, 0, 0.9)),
        bone("MCH-Hand.L", None, (0.7, 0, 1.43)), bone("Hair_Head", "Head", (0, 0.1, 1.9)), bone("Breast.L", "Chest", (0.1, -0.1, 1.3)),
        bone("Eyebrow.L", "Head", (0.03, -0.1, 1.7)), bone("Shoulder_Pad.L", "Shoulder.L", (0.2, 0, 1.5)),
    ]


def test_helpers_and_other_things_are_never_taken():
    spell = SPELLINGS["suffix .L"]
    assert guess_humanoid(armature(spell, helpers())) == expected(spell)
    assert guess_humanoid(Armature("Rig", tuple(helpers()), np.eye(4))) == {}


def test_bones_that_deform_are_preferred():
    spell = SPELLINGS["suffix .L"]
    rig = armature(spell)
    doubles = tuple(replace(one, name="def_" + one.name, parent="def_" + one.parent if one.parent else None) for one in rig.bones)
    steering = tuple(replace(one, deform=False) for one in rig.bones)
    found = guess_humanoid(Armature("Rig", steering + doubles, np.eye(4)))
    assert found == {part: "def_" + name for part, name in expected(spell).items()}


def test_a_name_on_the_wrong_side_is_not_taken():
    spell = SPELLINGS["suffix .L"]
    wrong = bone("UpperArm.L.001", "Shoulder.R", (-0.2, 0, 1.45))
    swapped = tuple(one for one in armature(spell).bones if one.name != "UpperArm.L")
    assert wrong.name not in guess_humanoid(Armature("Rig", (*swapped, wrong), np.eye(4))).values()
    right = replace(wrong, parent="Shoulder.L", head=np.array([0.2, 0, 1.45]))
    assert guess_humanoid(Armature("Rig", (*swapped, right), np.eye(4)))["leftUpperArm"] == wrong.name


def test_of_two_bones_of_one_name_the_one_in_the_chain_is_taken():
    spell = SPELLINGS["suffix .L"]
    loose = [bone("ForeArm.L", None, (0.45, 0, 1.44)), bone("Calf.R", None, (-0.1, 0, 0.5))]
    assert guess_humanoid(armature(spell, loose)) == expected(spell)


def test_a_loose_bone_called_head_alone_is_not_the_head_of_a_chain_whose_own_has_a_longer_name():
    """By a ready model: a bone called head stood under its feet, without a parent and without weights."""
    spell = SPELLINGS["suffix .L"]
    renamed = [replace(one, name="Keeper Head") if one.name == "Head" else one for one in armature(spell).bones]
    loose = bone("Head", None, (0, 0, -0.1))
    for bones in ((loose, *renamed), (*renamed, loose)):
        assert guess_humanoid(Armature("Rig", bones, np.eye(4)))["head"] == "Keeper Head"
    without = [one for one in renamed if one.name != "Keeper Head"]
    assert guess_humanoid(Armature("Rig", (*without, loose), np.eye(4)))["head"] == "Head"


def test_a_hand_that_carries_its_own_arm_is_not_taken():
    rig = armature(SPELLINGS["suffix .L"])
    bones = [replace(one, name="Hand.L", parent="Chest") if one.name == "Shoulder.L" else one for one in rig.bones if one.name != "Hand.L"]
    bones = [replace(one, parent="Hand.L") if one.name == "UpperArm.L" else one for one in bones]
    found = guess_humanoid(Armature("Rig", tuple(bones), np.eye(4)))
    assert "leftHand" not in found and found["leftUpperArm"] == "UpperArm.L"


def test_wide_letters_are_read_like_narrow_ones():
    steering = [bone("左足ＩＫ", None, (0.1, 0, 0.1)), bone("右足ＩＫ", None, (-0.1, 0, 0.1)), bone("左ひじＩＫ", None, (0.4, 0, 1))]
    assert guess_humanoid(Armature("Rig", tuple(steering), np.eye(4))) == {}


@pytest.mark.parametrize("word", ["Metacarpal", "Palm"])
def test_the_bone_in_the_palm_is_no_finger_but_the_thumbs(word):
    chain = [f"Index{word}.L", "Index1.L", "Index2.L", "Index3.L"]
    extra = [bone(name, "Hand.L" if not n else chain[n - 1], (0.72 + 0.03 * n, 0, 1.43)) for n, name in enumerate(chain)]
    found = guess_humanoid(armature(SPELLINGS["suffix .L"], extra))
    assert [found[f"leftIndex{link}"] for link in ("Proximal", "Intermediate", "Distal")] == chain[1:]


@pytest.mark.parametrize("turn", [0.0, 0.5])
def test_sides_come_from_the_place_when_names_have_none(turn):
    parts = {key: row for key, row in BODY.items() if key not in ("Shoulder", "UpperArm", "LowerArm", "Hand")}

    def spell(part, side):
        return part + {"L": "", "R": ".001", "": ""}[side]

    assert guess_humanoid(armature(spell, turn=turn, parts=parts)) == expected(spell, parts)


def test_a_spine_of_numbers_ends_in_the_head():
    names = ["spine", "spine.001", "spine.002", "spine.003", "spine.004", "spine.005", "spine.006"]
    heights = (1.0, 1.15, 1.3, 1.45, 1.6, 1.7, 1.8)
    column = [bone(name, names[n - 1] if n else None, (0, 0, height)) for n, (name, height) in enumerate(zip(names, heights, strict=True))]
    over = {"Shoulder": "spine.003", "UpperLeg": "spine"}
    limbs = [replace(one, parent=over.get(one.name.split(".")[0], one.parent)) for one in armature(SPELLINGS["suffix .L"]).bones if "." in one.name]
    found = guess_humanoid(Armature("Rig", (*column, *limbs), np.eye(4)))
    trunk = {part: found.get(part) for part in ("hips", "spine", "chest", "upperChest", "neck", "head")}
    assert trunk == {"hips": "spine", "spine": "spine.001", "chest": "spine.002", "upperChest": "spine.003", "neck": "spine.004", "head": "spine.006"}


def test_hips_are_where_the_legs_and_the_spine_fork_even_if_another_bone_is_called_so():
    spell = SPELLINGS["suffix .L"]
    bones = []
    for one in armature(spell).bones:
        if one.name == "Hips":
            bones += [bone("Body", None, (0, 0, 0.9)), replace(one, parent="Body")]
        else:
            bones.append(replace(one, parent="Body") if one.name.startswith("UpperLeg") else one)
    assert guess_humanoid(Armature("Rig", tuple(bones), np.eye(4)))["hips"] == "Body"
    rooted = tuple(replace(one, name="root") if one.name == "Body" else replace(one, parent="root") if one.parent == "Body" else one for one in bones)
    assert guess_humanoid(Armature("Rig", rooted, np.eye(4)))["hips"] == "Hips"


FINGERS = {
    "words and numbers": lambda finger, link, side: f"{side}Hand{ {'Little': 'Pinky'}.get(finger, finger) }{link}",
    "links by name": lambda finger, link, side: f"{finger}{('Metacarpal', 'Proximal', 'Distal')[link - 1] if finger == 'Thumb' else ('Proximal', 'Intermediate', 'Distal')[link - 1]}.{side[0]}",
    "fingers by number": lambda finger, link, side: f"{side[0]} Finger{('Thumb', 'Index', 'Middle', 'Ring', 'Little').index(finger)}{'' if link == 1 else link - 1}",
    "Japanese": lambda finger, link, side: {"Left": "左", "Right": "右"}[side] + {"Thumb": "親指", "Index": "人指", "Middle": "中指", "Ring": "薬指", "Little": "小指"}[finger] + "０１２３"[link],
    "numbers before the side": lambda finger, link, side: f"f_{ {'Little': 'pinky'}.get(finger, finger.lower()) }.0{link}.{side[0]}",
}


@pytest.mark.parametrize("style", FINGERS)
def test_fingers_in_their_order(style):
    spell, name = SPELLINGS["suffix .L"], FINGERS[style]
    extra, wanted = [], {}
    for side, sign in (("Left", 1), ("Right", -1)):
        for place, finger in enumerate(("Thumb", "Index", "Middle", "Ring", "Little")):
            links = ("Metacarpal", "Proximal", "Distal") if finger == "Thumb" else ("Proximal", "Intermediate", "Distal")
            for link in (1, 2, 3):
                over = name(finger, link - 1, side) if link > 1 else f"Hand.{side[0]}"
                extra.append(bone(name(finger, link, side), over, (sign * (0.75 + 0.03 * link), 0.02 * place - 0.05, 1.43)))
                wanted[f"{side.lower()}{finger}{links[link - 1]}"] = name(finger, link, side)
            extra.append(bone(f"{finger}_nub.{side[0]}", extra[-1].name, (sign * 0.87, 0.02 * place - 0.05, 1.43)))
    rig = armature(spell, extra)
    assert guess_humanoid(rig) == expected(spell) | wanted
    assert troubles(guess_humanoid(rig), rig) == ()


def test_a_wrist_hand_and_twist_in_one_arm():
    spell = SPELLINGS["suffix .L"]
    rig = armature(spell)
    bones = [replace(one, parent="Wrist.L") if one.name == "Hand.L" else one for one in rig.bones]
    found = guess_humanoid(Armature("Rig", (*bones, bone("Wrist.L", "LowerArm.L", (0.65, 0, 1.43))), np.eye(4)))
    assert found["leftHand"] == "Hand.L"


@pytest.mark.parametrize("seed", range(20))
def test_no_bone_is_given_twice_whatever_the_names(seed):
    rng = np.random.default_rng(seed)
    words = ["arm", "leg", "hand", "spine", "head", "neck", "hips", "shoulder", "thumb", "eye", "foot", "toe", "finger", "chest", "upper", "lower"]
    bones, parents = [], [None]
    for number in range(60):
        name = "_".join([*rng.choice(words, rng.integers(1, 3)), rng.choice(["l", "r", "x"]), str(number)])
        bones.append(bone(name, parents[rng.integers(len(parents))], rng.normal(size=3)))
        parents.append(name)
    found = guess_humanoid(Armature("Rig", tuple(bones), np.eye(4)))
    assert len(set(found.values())) == len(found) and set(found) <= set(BY_NAME)
    assert set(found.values()) <= {one.name for one in bones}


def test_four_legs_give_no_arms_and_legs():
    names = [f"{place}{part}.{side}" for place in ("Front", "Back") for part in ("UpperLeg", "LowerLeg", "Foot") for side in "LR"]
    bones = [bone("Body", None, (0, 0, 1)), bone("Head", "Body", (0, -1, 1.2)), *(bone(name, "Body", (0.1 if name[-1] == "L" else -0.1, 0, 0.5)) for name in names)]
    assert set(guess_humanoid(Armature("Rig", tuple(bones), np.eye(4)))) <= {"head", "hips"}


def whole():
    spell = SPELLINGS["suffix .L"]
    rig = armature(spell)
    return rig, guess_humanoid(rig)


@pytest.mark.parametrize("gone", sorted(REQUIRED))
def test_a_required_bone_that_is_missing_is_told_alone(gone):
    rig, found = whole()
    found.pop(gone)
    (trouble,) = troubles(found, rig)
    assert trouble.bone == gone and label(gone) in trouble.sentence and "required" in trouble.sentence


def test_what_is_wrong_in_a_map_is_told_and_nothing_else():
    rig, found = whole()
    assert troubles(found, rig) == ()
    assert [t.bone for t in troubles({**found, "leftHand": "Nobody"}, rig)] == ["leftHand"]
    assert [t.bone for t in troubles({**found, "jaw": "Head"}, rig)] == ["head", "jaw"]
    assert [t.bone for t in troubles({k: v for k, v in found.items() if k != "chest"} | {"upperChest": "Chest"}, rig)] == ["upperChest"]
    loose = tuple(replace(one, parent=None) if one.name == "Foot.L" else one for one in rig.bones)
    (trouble,) = troubles(found, replace(rig, bones=loose))
    assert trouble.bone == "leftFoot" and "LowerLeg.L" in trouble.sentence


def test_bones_between_and_optional_parents_left_out_are_no_trouble():
    rig, found = whole()
    for optional in ("chest", "neck", "leftShoulder", "rightShoulder", "leftToes"):
        found.pop(optional)
    assert troubles(found, rig) == ()


def test_no_bones_no_map():
    assert guess_humanoid(Armature("Rig", (), np.eye(4))) == {}


@pytest.mark.parametrize("value", [np.nan, np.inf])
@pytest.mark.parametrize("where", ["head", "tail"])
def test_a_bone_without_a_place_is_none_and_the_others_are_told(where, value):
    def spell(part, side):
        return f"{part}.{side}" if side else part

    rig = armature(spell)
    bones = tuple(replace(one, **{where: np.array([0.0, value, 1.0])}) if one.name in ("Hand.L", "Toes.R") else one for one in rig.bones)
    wanted = {key: name for key, name in expected(spell).items() if name not in ("Hand.L", "Toes.R")}
    assert guess_humanoid(replace(rig, bones=bones)) == wanted
    assert guess_humanoid(replace(rig, bones=tuple(replace(one, head=np.full(3, value)) for one in rig.bones))) == {}
