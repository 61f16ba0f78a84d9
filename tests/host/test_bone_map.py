"""The humanoid bone map: guessed on the host's own rigs, kept, edited, and taken from avatar files.

The rigs are the human and basic human meta-rigs of the rig generator that Blender brings:
highest bone end 1.9796 m, knee 0.5372 m, shoulder joint 1.5846 m (measured in bpy 5.2.3).
Adults' bands, 5th to 95th percentile of height over stature, men and women together: ANSUR II, 2012.
"""

import json
import struct
import subprocess
import sys
from dataclasses import replace

import bpy
import numpy as np
import pytest
from evenfold.core.figure import Figure, Part, Weights
from evenfold.core.humanoid_table import BY_NAME, troubles
from evenfold.core.proportion.further import find_further
from evenfold.core.proportion.parts.body import gather
from evenfold.core.proportion.spot import Spot
from evenfold.host import bone_map
from evenfold.host.batch import _with_said
from evenfold.host.files import Opened
from evenfold.host.fingerprint import fingerprint
from evenfold.host.read.vrm import humanoid_of
from host.scenes import add_box, add_rig, deform, empty_scene, enter, read_only

TRUNK = {"hips": "spine", "spine": "spine.001", "chest": "spine.002", "upperChest": "spine.003", "neck": "spine.004", "head": "spine.006"}
LIMBS = {"Shoulder": "shoulder", "UpperArm": "upper_arm", "LowerArm": "forearm", "Hand": "hand", "UpperLeg": "thigh", "LowerLeg": "shin", "Foot": "foot", "Toes": "toe"}
THUMB = {"Metacarpal": "01", "Proximal": "02", "Distal": "03"}
FINGER = {"Proximal": "01", "Intermediate": "02", "Distal": "03"}


def both(parts):
    return {f"{side}{part}": f"{bone}.{side[0].upper()}" for part, bone in parts.items() for side in ("left", "right")}


BASIC = TRUNK | both(LIMBS)
WHOLE = BASIC | {"jaw": "jaw"} | both(
    {"Eye": "eye", **{f"Thumb{link}": f"thumb.{n}" for link, n in THUMB.items()}}
    | {f"{finger}{link}": f"f_{word}.{n}" for finger, word in (("Index", "index"), ("Middle", "middle"), ("Ring", "ring"), ("Little", "pinky")) for link, n in FINGER.items()}
)


MAKE_RIGS = """
import importlib, os, sys
import bpy
bpy.ops.wm.read_factory_settings(use_empty=True)
bpy.ops.preferences.addon_enable(module="rigify")
for module in ("human", "Basic.basic_human"):
    rig = bpy.data.objects.new(module, bpy.data.armatures.new(module))
    bpy.context.scene.collection.objects.link(rig)
    bpy.context.view_layer.objects.active = rig
    importlib.import_module("rigify.metarigs." + module).create(rig)
    bpy.ops.object.mode_set(mode="OBJECT")
bpy.ops.wm.save_as_mainfile(filepath=sys.argv[1])
os._exit(0)
"""


@pytest.fixture(scope="module")
def rigs(tmp_path_factory):
    """A file with the host's human rigs, made in a process of its own.

    Their maker can be enabled only once in a process, and 4.5 hangs cleaning up after it.
    """
    path = str(tmp_path_factory.mktemp("rigs") / "rigs.blend")
    subprocess.run([sys.executable, "-c", MAKE_RIGS, path], check=True, timeout=120, capture_output=True)
    return path


def meta_rig(path, name):
    bpy.ops.wm.open_mainfile(filepath=path, load_ui=False, use_scripts=False)
    return bpy.data.objects[name]


@pytest.mark.parametrize(("module", "wanted"), [("human", WHOLE), ("Basic.basic_human", BASIC)])
def test_the_hosts_own_human_rigs_are_understood_whole(rigs, module, wanted):
    rig = meta_rig(rigs, module)
    found = bone_map.guess_map(rig)
    assert found == wanted
    assert troubles(found, bone_map.rest_bones(rig)) == ()
    assert module != "human" or set(found) == set(BY_NAME)


def test_the_human_rigs_landmarks_are_an_adults(rigs):
    rig = meta_rig(rigs, "human")
    armature = bone_map.rest_bones(rig)
    ends = np.array([end for bone in armature.bones for end in (bone.head, bone.tail)])
    height = 1.9796
    assert ends[:, 2].max() == pytest.approx(height, abs=1e-4)
    hand = np.array([bone.tail for bone in armature.bones if bone.name in armature.below("hand.L")])
    part = Part("Body", ends, np.zeros((0, 3), np.int64), Weights.none())
    figure = Figure("Keeper", (), (part,), armature, humanoid=bone_map.guess_map(rig))
    axes = np.array([[1.0, 0, 0], [0, -1, 0], [0, 0, 1]])
    body = gather(figure)
    spots = {name: Spot(at, np.array([0, 0, at]), "shape", at, at, "") for name, at in (("sole", 0.0), ("chin", 1.7392), ("crown", height))}
    found, spans = find_further(figure, body, body.points @ axes.T, axes, spots)
    shares = {name: spot.height / height for name, spot in found.items()}
    assert shares["knee"] == pytest.approx(0.271, abs=0.0005) and shares["shoulder"] == pytest.approx(0.800, abs=0.0005)
    assert 0.261 <= shares["knee"] <= 0.294 and 0.034 <= shares["ankle"] <= 0.046
    assert spots["chin"].height < found["eye_line"].height < height
    assert found["wrist"].height == pytest.approx(1.3061, abs=1e-4)
    assert found["fingertip"].height >= hand[:, 2].min() and found["fingertip"].how == "bones"
    assert "below level" in found["wrist"].evidence
    assert 0.9 <= spans["arm_span"].length / height <= 1.081
    assert 0.9 * 0.186 < spans["shoulder_width"].length / height < 0.259


def keeper():
    empty_scene()
    rig = add_rig("Keeper")
    deform(add_box("Body"), rig)
    return rig


def test_a_figure_is_read_with_the_guessed_map_and_then_with_the_kept_one():
    rig = keeper()
    assert read_only().humanoid == {"spine": "Spine", "head": "Head"} and bone_map.BONE_MAP_KEY not in rig
    bone_map.keep_map(rig, {"head": "Spine"})
    assert read_only().humanoid == {"head": "Spine"}
    bone_map.keep_map(rig, {})
    assert read_only().humanoid == {}
    bone_map.clear_map(rig)
    assert read_only().humanoid == {"spine": "Spine", "head": "Head"}


def test_the_kept_map_is_saved_with_the_file(tmp_path):
    bone_map.keep_map(keeper(), {"hips": "Spine"})
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "keeper.blend"))
    bpy.ops.wm.open_mainfile(filepath=str(tmp_path / "keeper.blend"), load_ui=False)
    assert read_only().humanoid == {"hips": "Spine"}


@pytest.mark.parametrize("damaged", ["{", "[1]", "7", 7, '{"head": 3, "tail": "Spine"}'])
def test_a_damaged_map_stops_nothing(damaged):
    rig = keeper()
    rig[bone_map.BONE_MAP_KEY] = damaged
    assert read_only().humanoid in ({"spine": "Spine", "head": "Head"}, {})


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT", "POSE"])
def test_choosing_a_bone_keeps_the_rest_of_the_guess_and_gives_no_bone_twice(mode):
    rig = keeper()
    enter(rig, mode)
    assert bone_map.map_bone(rig, "hips", "Spine") == "spine"
    assert bone_map.stored_map(rig) == {"head": "Head", "hips": "Spine"}
    assert bone_map.map_bone(rig, "head", "") is None
    assert bone_map.stored_map(rig) == {"hips": "Spine"}
    with pytest.raises(bone_map.BoneMapError, match="no bone 'Nobody'"):
        bone_map.map_bone(rig, "head", "Nobody")
    with pytest.raises(bone_map.BoneMapError, match="'tail' is no bone of the standard"):
        bone_map.map_bone(rig, "tail", "Spine")
    assert bone_map.stored_map(rig) == {"hips": "Spine"}
    bpy.ops.object.mode_set(mode="OBJECT")


def test_a_bone_made_in_the_open_edit_session_can_be_chosen():
    rig = keeper()
    enter(rig)
    jaw = rig.data.edit_bones.new("Chops")
    jaw.head, jaw.tail = (0, -0.2, 1.1), (0, -0.4, 1.1)
    bone_map.map_bone(rig, "jaw", "Chops")
    bpy.ops.object.mode_set(mode="OBJECT")
    assert read_only().humanoid["jaw"] == "Chops"


def test_a_renamed_bone_is_left_out_and_told():
    rig = keeper()
    bone_map.keep_map(rig, {"head": "Head", "hips": "Spine"})
    rig.data.bones["Spine"].name = "Trunk"
    figure = read_only()
    assert figure.humanoid == {"head": "Head"}
    assert [note for note in figure.notes if "hips" in note and "Keeper" in note]
    bone_map.map_bone(rig, "hips", "Trunk")
    assert read_only().notes == ()


def test_a_changed_map_makes_results_out_of_date():
    rig = keeper()
    before = fingerprint(rig)
    bone_map.keep_map(rig, {"hips": "Spine"})
    assert fingerprint(rig) != before
    bone_map.clear_map(rig)
    assert fingerprint(rig) == before


def test_a_linked_armature_is_not_written_to(tmp_path):
    keeper()
    path = str(tmp_path / "keeper.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    empty_scene()
    with bpy.data.libraries.load(path, link=True) as (_, wanted):
        wanted.objects = ["Keeper"]
    for call in (lambda item: bone_map.keep_map(item, {}), bone_map.clear_map):
        with pytest.raises(bone_map.BoneMapError, match="choose its bones there"):
            call(bpy.data.objects["Keeper"])


def avatar(path, extensions, names=("Spine", "Head", "Elsewhere")):
    data = json.dumps({"asset": {"version": "2.0"}, "nodes": [{"name": name} for name in names], "extensions": extensions}).encode()
    data += b" " * (-len(data) % 4)
    path.write_bytes(struct.pack("<4sII", b"glTF", 2, 20 + len(data)) + struct.pack("<II", len(data), 0x4E4F534A) + data)
    return path


NEWER = {"VRMC_vrm": {"humanoid": {"humanBones": {"hips": {"node": 0}, "leftThumbMetacarpal": {"node": 1}, "jaw": {"node": 2}}}}}
OLDER = {"VRM": {"humanoid": {"humanBones": [{"bone": "hips", "node": 0}, {"bone": "leftThumbProximal", "node": 1}, {"bone": "jaw", "node": 2}]}}}


@pytest.mark.parametrize("extensions", [NEWER, OLDER])
def test_the_table_of_an_avatar_file_is_taken_where_bones_match(tmp_path, extensions):
    rig = keeper()
    found = bone_map.map_of_file(avatar(tmp_path / "cook.vrm", extensions), rig)
    assert found == {"hips": "Spine", "leftThumbMetacarpal": "Head"}


def test_files_without_a_table_or_without_our_bones_are_refused(tmp_path):
    rig = keeper()
    with pytest.raises(bone_map.BoneMapError, match="holds no humanoid bone table"):
        bone_map.map_of_file(avatar(tmp_path / "cook.vrm", {}), rig)
    with pytest.raises(bone_map.BoneMapError, match="None of the 3 bones"):
        bone_map.map_of_file(avatar(tmp_path / "cook.vrm", NEWER, ("A", "B", "C")), rig)


@pytest.mark.parametrize("extensions", [NEWER, OLDER])
def test_in_a_batch_the_files_own_table_wins_and_a_file_without_one_is_guessed(extensions):
    keeper()
    figure = read_only()
    table = humanoid_of({"nodes": [{"name": "Spine"}, {"name": "Head"}, {"name": "Elsewhere"}], "extensions": extensions})
    assert _with_said(figure, Opened(table)).humanoid == {"hips": "Spine", "leftThumbMetacarpal": "Head"}
    assert _with_said(figure, Opened({})).humanoid == {"spine": "Spine", "head": "Head"}
    assert _with_said(figure, Opened({"hips": "Elsewhere"})).humanoid == {"spine": "Spine", "head": "Head"}
    assert _with_said(replace(figure, armature=None), Opened(table)).humanoid == figure.humanoid
