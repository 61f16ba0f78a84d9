"""Bones as the host keeps them: planted faults, its own meta-rigs, and numbers kept on bones."""

import importlib
import json
import math
import os
import pickle
import struct
import subprocess
import sys
from pathlib import Path

import bpy
import numpy as np
import pytest
from evenfold.core.findings import MirrorPlane
from evenfold.core.settings import Settings
from evenfold.core.symmetry.bones import check
from evenfold.core.symmetry.matched import Limits
from evenfold.core.symmetry.physics import check as check_physics
from evenfold.host.read.armature import read_armature
from evenfold.host.read.vrm import read_json_chunk, springs_of, with_springs
from host.scenes import empty_scene, enter
from mathutils import Matrix

LIMITS = Limits(1e-4, 1.0, MirrorPlane(np.zeros(3), np.array([1.0, 0.0, 0.0]), "armature"), Settings())
ARM = ((0.1, 0.0, 0.3), (0.2, 0.01, 0.25), (0.3, 0.0, 0.2))


def armature_object(name="Rig"):
    empty_scene()
    item = bpy.data.objects.new(name, bpy.data.armatures.new(name))
    bpy.context.scene.collection.objects.link(item)
    enter(item)
    return item


def add_bone(item, name, head, tail, roll=0.0, parent=None, connected=False):
    bone = item.data.edit_bones.new(name)
    bone.head, bone.tail, bone.roll = head, tail, math.radians(roll)
    if parent is not None:
        bone.parent, bone.use_connect = item.data.edit_bones[parent], connected
    return bone


def mirrored(place):
    return (-place[0], place[1], place[2])


def staff_rig(roll_left=20.0, roll_right=-20.0):
    """Spine and two arms of two bones; the host is left in edit mode."""
    item = armature_object()
    add_bone(item, "Spine", (0, 0, 0.1), (0, 0, 0.3))
    for side, turn, roll in (("L", lambda p: p, roll_left), ("R", mirrored, roll_right)):
        shoulder, elbow, wrist = map(turn, ARM)
        add_bone(item, f"UpperArm.{side}", shoulder, elbow, roll, "Spine")
        add_bone(item, f"LowerArm.{side}", elbow, wrist, 0.0, f"UpperArm.{side}", True)
    return item


def found(item, limits=LIMITS):
    if item.mode == "EDIT":
        bpy.ops.object.mode_set(mode="OBJECT")
    return {one.code: one for one in check(read_armature(item, item.matrix_world), limits)}


def test_a_clean_rig_says_nothing():
    assert found(staff_rig()) == {}


@pytest.mark.parametrize(("left", "right", "told"), [(50, 310, None), (50, 130, 180.0), (50, -45, 5.0)])
def test_rolls_are_compared_as_axes(left, right, told):
    hit = found(staff_rig(left, right))
    assert set(hit) == (set() if told is None else {"roll-drifted"})
    if told is not None:
        assert hit["roll-drifted"].worst == pytest.approx(told, abs=1e-3)
        assert hit["roll-drifted"].names == ("UpperArm.L",)


def test_a_turned_and_moved_lower_arm_gives_angle_and_distance():
    item = staff_rig()
    bone = item.data.edit_bones["LowerArm.R"]
    bone.use_connect = item.data.edit_bones["LowerArm.L"].use_connect = False
    bone.head.y -= 0.002
    bone.roll += math.radians(5.0)
    hit = found(item)
    assert set(hit) == {"bone-drifted", "roll-drifted"}
    assert hit["bone-drifted"].worst == pytest.approx(0.002, abs=1e-6)
    assert hit["roll-drifted"].worst == pytest.approx(5.0, abs=0.2)


def test_eyes_whose_roll_numbers_read_0_and_180_are_told_by_their_tenth_of_a_degree():
    item = armature_object()
    for side, x, turn in (("L", 0.1, 0.0), ("R", -0.1, 0.1)):
        place = np.array([x, -0.2, 0.5])
        along = np.array([math.sin(math.radians(turn)), -math.cos(math.radians(turn)), 0.0]) * 0.04
        add_bone(item, f"Eye.{side}", place, place + along)
    right = item.data.edit_bones["Eye.R"]
    left = item.data.edit_bones["Eye.L"]
    right.align_roll(Matrix.Diagonal((-1, 1, 1)) @ left.z_axis)
    hit = found(item)
    assert set(hit) == {"roll-drifted"}
    assert hit["roll-drifted"].worst == pytest.approx(0.1, abs=0.005)


def test_a_posed_turned_and_scaled_armature_is_read_at_rest():
    item = staff_rig()
    bpy.ops.object.mode_set(mode="OBJECT")
    item.pose.bones["UpperArm.L"].rotation_mode = "XYZ"
    item.pose.bones["UpperArm.L"].rotation_euler = (0.4, 0.2, 0.1)
    item.matrix_world = Matrix.Rotation(0.5, 4, "Z") @ Matrix.Diagonal((-2, 2, 2, 1))
    bpy.context.view_layer.update()
    normal = np.array((item.matrix_world.to_3x3() @ Matrix.Identity(3)).col[0])
    plane = MirrorPlane(np.zeros(3), normal / np.linalg.norm(normal), "armature")
    assert found(item, Limits(1e-4, 1.0, plane, Settings())) == {}


META = {
    "human": (159, {}), "Basic.basic_human": (29, {}), "Basic.basic_quadruped": (34, {}), "Animals.cat": (174, {}),
    "Animals.horse": (70, {}), "Animals.shark": (35, {}),
    "Animals.wolf": (190, {"bone-off-centre": ("teeth.T", "teeth.B", "tongue", "tongue.001", "tongue.002")}),
    "Animals.bird": (75, {"bone-unpaired": ("tongue.001.L", "tongue.002.L", "tongue.003.L")}),
}


def roll_oracle(item):
    """Pairs and centre bones by their matrices alone: which frames are not their mirror image."""
    mirror, off = np.diag([-1.0, 1.0, 1.0]), set()
    frames = {bone.name: np.array(bone.matrix_local.to_3x3(), float) for bone in item.data.bones}
    for name, own in frames.items():
        other = bpy.utils.flip_name(name)
        if other not in frames:
            continue
        turn = (mirror @ own @ mirror).T @ frames[other]
        skew = [turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]]
        angle = math.degrees(math.atan2(float(np.linalg.norm(skew)), float(np.trace(turn)) - 1.0))
        if other == name:
            angle = min(angle / 2.0, abs(90.0 - angle / 2.0))
        if angle > LIMITS.settings.bone_angle:
            off.add(min(name, other))
    return off


def make_meta_rigs():
    """Every meta-rig as read, and what the oracle says of its frames."""
    import addon_utils

    empty_scene()
    addon_utils.enable("rigify", default_set=True)
    made = {}
    for name in META:
        item = bpy.data.objects.new("Meta", bpy.data.armatures.new("Meta"))
        bpy.context.scene.collection.objects.link(item)
        enter(item)
        importlib.import_module(f"rigify.metarigs.{name}").create(item)
        bpy.ops.object.mode_set(mode="OBJECT")
        made[name] = read_armature(item, item.matrix_world), roll_oracle(item)
    return made


@pytest.fixture(scope="module")
def meta_rigs(tmp_path_factory):
    """Made in a process of its own: what that add-on registers hangs the host at its end."""
    out = tmp_path_factory.mktemp("meta") / "rigs.pickle"
    tests = Path(__file__).parent.parent
    folders = (tests.parent / "addon", tests)
    surroundings = {**os.environ, "PYTHONPATH": os.pathsep.join(map(str, folders))}
    subprocess.run(
        [sys.executable, __file__, str(out)], env=surroundings, check=True, timeout=120, stdout=subprocess.DEVNULL
    )
    return pickle.loads(out.read_bytes())


@pytest.mark.parametrize("name", META)
def test_the_hosts_own_meta_rigs(name, meta_rigs):
    """Bones, unpaired and off-centre ones as measured on 5.2.3; their frames by an own oracle."""
    armature, oracle = meta_rigs[name]
    bones, wanted = META[name]
    hit = {one.code: one for one in check(armature, LIMITS)}
    assert len(armature.bones) == bones
    turned = hit.pop("roll-drifted", None)
    assert {code: one.names for code, one in hit.items()} == wanted
    told = set() if turned is None else {min(both) for both in zip(turned.names, turned.partner_names, strict=True)}
    assert told == oracle
    if name == "Animals.wolf":
        assert hit["bone-off-centre"].worst == pytest.approx(0.0004, abs=1e-6)
    assert list(check_physics(armature, LIMITS)) == []


def test_numbers_kept_on_bones_are_read_flat():
    item = staff_rig()
    bpy.ops.object.mode_set(mode="OBJECT")
    bone = item.data.bones["LowerArm.L"]
    bone["stiffness"], bone["on"], bone["note"], bone["_RNA_UI"] = 2, True, "soft", {"min": 1}
    bone["swing"] = {"drag": {"amount": 0.25}, "pull": [0.5, 0.0, -1.0], "steps": [1, 2]}
    item.pose.bones["LowerArm.L"]["gust"] = 1.5
    numbers = dict(read_armature(item, item.matrix_world).by_name["LowerArm.L"].properties)
    assert numbers == {
        "stiffness": 2.0, "on": 1.0, "swing.drag.amount": 0.25, "swing.pull.x": 0.5, "swing.pull.y": 0.0,
        "swing.pull.z": -1.0, "swing.steps[0]": 1.0, "swing.steps[1]": 2.0, "gust": 1.5,
    }


def test_settings_of_other_add_ons_are_read_too():
    class Swing(bpy.types.PropertyGroup):
        pass

    Swing.__annotations__ = {"drag": bpy.props.FloatProperty(default=0.5)}
    bpy.utils.register_class(Swing)
    bpy.types.Bone.evenfold_test_swing = bpy.props.PointerProperty(type=Swing)
    try:
        item = staff_rig()
        bpy.ops.object.mode_set(mode="OBJECT")
        for side, drag in (("L", 0.25), ("R", 0.75)):
            item.data.bones[f"LowerArm.{side}"].evenfold_test_swing.drag = drag
        (finding,) = check_physics(read_armature(item, item.matrix_world), LIMITS)
    finally:
        del bpy.types.Bone.evenfold_test_swing
        bpy.utils.unregister_class(Swing)
    assert (finding.subject, finding.names) == ("evenfold_test_swing.drag", ("LowerArm.L",))
    assert finding.worst == pytest.approx(0.5)


def glb(tmp_path, content):
    text = json.dumps(content).encode()
    text += b" " * (-len(text) % 4)
    path = tmp_path / "keeper.vrm"
    path.write_bytes(struct.pack("<4sIIII", b"glTF", 2, 20 + len(text), len(text), 0x4E4F534A) + text)
    return path


NODES = [
    {"name": "UpperArm.L", "children": [1]}, {"name": "LowerArm.L"}, {"name": "UpperArm.R", "children": [3]}, {"name": "LowerArm.R"},
]


def test_spring_chains_of_both_versions_are_read_and_compared(tmp_path):
    """1.0: the last joint is only a tail, defaults are the schema's; 0.x: all below the root."""
    joints = [{"node": 0, "stiffness": 0.8, "gravityDir": [0.2, -1, 0]}, {"node": 1}]
    others = [{"node": 2, "stiffness": 0.6, "gravityDir": [-0.2, -1, 0]}, {"node": 3}]
    newer = {"nodes": NODES, "extensions": {"VRMC_springBone": {"springs": [{"joints": joints}, {"joints": others}]}}}
    springs = springs_of(read_json_chunk(glb(tmp_path, newer)))
    assert set(springs) == {"UpperArm.L", "UpperArm.R"}
    assert springs["UpperArm.L"]["dragForce"] == 0.5 and springs["UpperArm.L"]["gravityDir.x"] == 0.2
    item = staff_rig()
    bpy.ops.object.mode_set(mode="OBJECT")
    armature = read_armature(item, item.matrix_world)
    (finding,) = check_physics(with_springs(armature, springs), LIMITS)
    assert (finding.subject, finding.names) == ("spring.stiffness", ("UpperArm.L",))
    groups = [{"stiffiness": 0.5, "dragForce": drag, "gravityDir": {"x": 0, "y": -1, "z": 0}, "bones": [root]} for root, drag in ((0, 0.4), (2, 0.5))]
    older = {"nodes": NODES, "extensions": {"VRM": {"secondaryAnimation": {"boneGroups": groups}}}}
    springs = springs_of(read_json_chunk(glb(tmp_path, older)))
    assert set(springs) == {node["name"] for node in NODES}
    (finding,) = check_physics(with_springs(armature, springs), LIMITS)
    assert (finding.subject, finding.names) == ("spring.dragForce", ("UpperArm.L", "LowerArm.L"))


@pytest.mark.parametrize("springs", [None, 3, [], [{"joints": "x"}], [{"joints": [{"node": 99}, {}]}], [7]])
def test_damaged_spring_chains_are_no_chains(springs):
    assert springs_of({"nodes": NODES, "extensions": {"VRMC_springBone": {"springs": springs}}}) == {}
    assert springs_of({"nodes": 5, "extensions": {"VRM": {"secondaryAnimation": {"boneGroups": springs}}}}) == {}


if __name__ == "__main__":
    Path(sys.argv[1]).write_bytes(pickle.dumps(make_meta_rigs()))
    os._exit(0)
