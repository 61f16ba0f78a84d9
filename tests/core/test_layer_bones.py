"""Bones: planted faults come back exactly, and nothing else. The rig is invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Armature, Bone
from evenfold.core.findings import MirrorPlane
from evenfold.core.settings import Settings
from evenfold.core.symmetry.bones import check
from evenfold.core.symmetry.matched import Limits
from scipy.spatial.transform import Rotation

MIRROR = np.diag([-1.0, 1.0, 1.0])
CENTRE = {
    "Root": (None, (0, 0, 0), (0, 0, 0.1)), "Spine": ("Root", (0, 0, 0.1), (0, 0.01, 0.3)),
    "Head": ("Spine", (0, 0.01, 0.3), (0, 0, 0.8)), "Tail.001": ("Root", (0, 0.1, 0.1), (0, 0.3, 0.15)),
    "Jaw": ("Head", (0, 0, 0.35), (0, -0.1, 0.32)),
}
SIDED = {
    "Shoulder": ("Spine", (0.02, 0, 0.28), (0.1, 0, 0.29)), "UpperArm": ("Shoulder", (0.1, 0, 0.29), (0.2, 0.01, 0.25)),
    "LowerArm": ("UpperArm", (0.2, 0.01, 0.25), (0.3, 0, 0.2)), "Hand": ("LowerArm", (0.3, 0, 0.2), (0.35, 0, 0.18)),
    "Leg": ("Root", (0.08, 0, 0.12), (0.09, 0, 0.02)), "Ear": ("Head", (0.2, 0, 0.75), (0.25, 0, 0.95)),
    "Ear2": ("Ear", (0.25, 0, 0.95), (0.26, 0.05, 1.1)), "Eye": ("Head", (0.1, -0.2, 0.5), (0.1, -0.24, 0.5)),
}
LIMITS = Limits(1e-4, 1.0, MirrorPlane(np.zeros(3), np.array([1.0, 0.0, 0.0]), "armature"), Settings())



def axes_of(head, tail, roll=0.0):
    """Rows x, y, z: y along the bone, turned about it by ``roll`` degrees."""
    y = (np.asarray(tail, float) - head) / np.linalg.norm(np.asarray(tail, float) - head)
    x = np.cross(y, [0.0, 1.0, 0.0] if abs(y[1]) < 0.9 else [0.0, 0.0, 1.0])
    x /= np.linalg.norm(x)
    return Rotation.from_rotvec(np.radians(roll) * y).apply(np.array([x, y, np.cross(x, y)]))


def rig(style="{}.L {}.R", seed=0):
    """Bones in random order whose halves match exactly, each pair with a roll of its own."""
    rng = np.random.default_rng(seed)
    left, right = style.split()
    bones = []
    for name, (parent, head, tail) in CENTRE.items():
        axes = np.eye(3) if name == "Root" else axes_of(head, tail)
        y = axes[1] if name != "Root" else np.array([0.0, 0.0, 1.0])
        axes = np.array([[1.0, 0, 0], y, np.cross([1.0, 0, 0], y)])
        bones.append(Bone(name, parent, np.array(head, float), np.array(tail, float), axes))
    for name, (parent, head, tail) in SIDED.items():
        axes = axes_of(head, tail, rng.uniform(-180, 180))
        for form, turn in ((left, np.eye(3)), (right, MIRROR)):
            above = form.format(parent) if parent in SIDED else parent
            own = (turn @ axes.T @ turn).T
            bones.append(Bone(form.format(name), above, turn @ head, turn @ tail, own))
    return Armature("Rig", tuple(bones[i] for i in rng.permutation(len(bones))), np.eye(4))


def changed(armature, name, **values):
    return replace(
        armature, bones=tuple(replace(b, **values) if b.name == name else b for b in armature.bones)
    )


def without(armature, *names):
    gone = {b.name: b.parent for b in armature.bones if b.name in names}
    kept = [b for b in armature.bones if b.name not in gone]
    return replace(
        armature, bones=tuple(replace(b, parent=gone.get(b.parent, b.parent), connected=False) if b.parent in gone else b for b in kept)
    )


def found(armature, limits=LIMITS):
    return {one.code: one for one in check(armature, limits)}


STYLES = [
    "{}.L {}.R", "{}_l {}_r", "L_{} R_{}", "Left{} Right{}", "{}Left {}Right", "P_L_{} P_R_{}", "ns:Left{} ns:Right{}",
    "x_left_{} x_right_{}", "{}_L_twist {}_R_twist", "{}.L.001 {}.R.001", "左{} 右{}", "{}ひだり {}みぎ", "{}L {}R", "前左{} 前右{}",
]


@pytest.mark.parametrize("style", STYLES)
def test_a_clean_rig_says_nothing_in_any_spelling(style):
    assert found(rig(style)) == {}
    left, right = (form.format("LowerArm") for form in style.split())
    bone = rig(style).by_name[right]
    hit = found(changed(rig(style), right, head=bone.head + np.array([0, 0.002, 0])))
    assert set(hit) == {"bone-drifted"}
    assert hit["bone-drifted"].names == (left,) and hit["bone-drifted"].partner_names == (right,)


@pytest.mark.parametrize("seed", range(10))
def test_the_plane_may_stand_anywhere(seed):
    rng = np.random.default_rng(seed)
    turn = Rotation.random(random_state=seed).as_matrix()
    shift = rng.normal(size=3) * 5.0
    plain = rig(seed=seed)
    moved = replace(plain, bones=tuple(
        replace(b, head=turn @ b.head + shift, tail=turn @ b.tail + shift, axes=b.axes @ turn.T) for b in plain.bones
    ))
    plane = MirrorPlane(shift, turn[:, 0], "armature")
    assert found(moved, replace(LIMITS, plane=plane)) == {}
    bone = moved.by_name["Hand.L"]
    hit = found(changed(moved, "Hand.L", tail=bone.tail + turn @ [0, 0, 0.003]), replace(LIMITS, plane=plane, metres=0.01))
    assert hit["bone-drifted"].worst == pytest.approx(0.003 * 0.01)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("turn", [5.0, -5.0, 90.0, 180.0])
def test_a_turned_and_moved_arm_gives_angle_and_distance(seed, turn):
    plain = rig(seed=seed)
    bone = plain.by_name["LowerArm.R"]
    head = bone.head + np.array([0, -0.002, 0])
    along = (bone.tail - head) / np.linalg.norm(bone.tail - head)
    swing, _ = Rotation.align_vectors([along], [bone.axes[1]])
    axes = Rotation.from_rotvec(np.radians(turn) * along).apply(swing.apply(bone.axes))
    hit = found(changed(plain, "LowerArm.R", head=head, axes=axes))
    assert set(hit) == {"bone-drifted", "roll-drifted"}
    for one in hit.values():
        assert one.names == ("LowerArm.L",) and one.partner_names == ("LowerArm.R",)
        assert one.elements.tolist() == one.partners.tolist() == [0] and one.kind == "bone"
    assert hit["bone-drifted"].worst == pytest.approx(0.002) and hit["bone-drifted"].unit == "metres"
    assert hit["roll-drifted"].worst == pytest.approx(abs(turn), abs=1e-6) and hit["roll-drifted"].unit == "degrees"


@pytest.mark.parametrize(("left", "right", "told"), [(50, 310, None), (50, 130, 180.0), (0, 0, None), (20, -19, 1.0)])
def test_rolls_are_compared_as_axes_not_as_numbers(left, right, told):
    plain = rig()
    for name, roll, side in (("UpperArm.L", left, np.eye(3)), ("UpperArm.R", right, MIRROR)):
        bone = plain.by_name["UpperArm.L"]
        flat = (side @ axes_of(bone.head, bone.tail).T @ side).T
        axes = Rotation.from_rotvec(np.radians(roll) * flat[1]).apply(flat)
        plain = changed(plain, name, axes=axes)
    hit = found(plain)
    assert set(hit) == (set() if told is None else {"roll-drifted"})
    if told is not None:
        assert hit["roll-drifted"].worst == pytest.approx(told)


def test_eyes_that_look_a_tenth_of_a_degree_apart_are_told_as_that():
    plain = rig()
    bone = plain.by_name["Eye.R"]
    turn = Rotation.from_rotvec([0, 0, np.radians(0.1)])
    tail = bone.head + turn.apply(bone.tail - bone.head)
    hit = found(changed(plain, "Eye.R", tail=tail, axes=turn.apply(bone.axes)))
    assert set(hit) == {"roll-drifted"}
    assert hit["roll-drifted"].worst == pytest.approx(0.1)


@pytest.mark.parametrize("name", ["Spine", "Head", "Tail.001", "Jaw"])
def test_a_centre_bone_off_the_plane_is_told(name):
    plain = rig()
    bone = plain.by_name[name]
    hit = found(changed(plain, name, head=bone.head + np.array([-0.003, 0, 0]), tail=bone.tail + np.array([0.004, 0, 0])))
    assert set(hit) == {"bone-off-centre"}
    assert hit["bone-off-centre"].names == (name,) and hit["bone-off-centre"].worst == pytest.approx(0.004)


@pytest.mark.parametrize("turn", [4.0, -4.0, 86.0, 94.0, 176.0])
def test_a_centre_bone_turned_about_itself_is_told_by_its_own_angle(turn):
    plain = rig()
    bone = plain.by_name["Spine"]
    square = Rotation.from_rotvec(np.radians(90.0) * bone.axes[1]).apply(bone.axes)
    assert found(changed(plain, "Spine", axes=square)) == {}
    axes = Rotation.from_rotvec(np.radians(turn) * bone.axes[1]).apply(bone.axes)
    hit = found(changed(plain, "Spine", axes=axes))
    assert set(hit) == {"roll-drifted"}
    assert hit["roll-drifted"].worst == pytest.approx(4.0)
    assert hit["roll-drifted"].partner_names == ("Spine",)


@pytest.mark.parametrize("name", ["LowerArm.R", "Ear2.L", "UpperArm.L", "Leg.R"])
def test_a_missing_counterpart_is_one_finding_and_its_children_are_not_blamed(name):
    other = name[:-1] + {"L": "R", "R": "L"}[name[-1]]
    hit = found(without(rig(), name))
    assert set(hit) == {"bone-unpaired"}
    assert hit["bone-unpaired"].names == (other,) and hit["bone-unpaired"].partner_names == (None,)
    assert hit["bone-unpaired"].partners.tolist() == [-1]


def test_names_that_only_look_sided_ask_for_no_counterpart():
    head = np.array([0.3, 0.1, 0.9])
    more = [
        Bone(name, "Head", head * (1 + i / 10), head * (1 + i / 10) + np.array([0, 0, 0.05]), axes_of(head, head + np.array([0, 0, 0.05])))
        for i, name in enumerate(["Eye_Bright", "Upright", "Leftover", "cleft", "Bottle", "HairStrand3"])
    ]
    assert found(replace(rig(), bones=(*rig().bones, *more))) == {}


def test_bones_that_mirror_each_other_under_unlike_names_are_told():
    plain = rig()
    bones = tuple(
        replace(b, name={"Ear2.L": "Tip.001", "Ear2.R": "Tip.002"}.get(b.name, b.name)) for b in plain.bones
    )
    hit = found(replace(plain, bones=bones))
    assert set(hit) == {"bone-unpaired"}
    assert hit["bone-unpaired"].names == ("Tip.001",) and hit["bone-unpaired"].partner_names == ("Tip.002",)


def test_other_parents_connections_and_deform_flags_are_told():
    plain = rig()
    hit = found(changed(plain, "Hand.R", parent="UpperArm.R"))
    assert set(hit) == {"bone-parent-unmatched"}
    assert hit["bone-parent-unmatched"].names == ("Hand.L",)
    hit = found(changed(plain, "Ear.L", connected=True))
    assert set(hit) == {"bone-parent-unmatched"}
    assert "connected" in hit["bone-parent-unmatched"].advice
    hit = found(changed(plain, "Ear.L", deform=False))
    assert set(hit) == {"bone-deform-unmatched"}
    assert hit["bone-deform-unmatched"].partner_names == ("Ear.R",)


@pytest.mark.parametrize("seed", range(20))
def test_several_faults_at_once_come_back_each_once(seed):
    rng = np.random.default_rng(seed)
    plain = rig(seed=seed)
    far, turned, lost, flag = rng.permutation(["LowerArm", "Hand", "Leg", "Ear2"]).tolist()
    shift = rng.normal(size=3) * 0.01
    bone = plain.by_name[f"{far}.R"]
    plain = changed(plain, f"{far}.R", head=bone.head + shift, tail=bone.tail + shift)
    bone = plain.by_name[f"{turned}.L"]
    angle = rng.uniform(1.0, 170.0)
    plain = changed(plain, f"{turned}.L", axes=Rotation.from_rotvec(np.radians(angle) * bone.axes[1]).apply(bone.axes))
    plain = changed(plain, f"{flag}.L", deform=False)
    plain = without(plain, f"{lost}.R")
    hit = found(plain)
    assert {code: one.names for code, one in hit.items()} == {
        "bone-drifted": (f"{far}.L",), "roll-drifted": (f"{turned}.L",), "bone-unpaired": (f"{lost}.L",), "bone-deform-unmatched": (f"{flag}.L",)
    }
    assert hit["bone-drifted"].worst == pytest.approx(np.linalg.norm(shift))
    assert hit["roll-drifted"].worst == pytest.approx(angle)


def test_an_empty_armature_says_nothing():
    assert found(Armature("Rig", (), np.eye(4))) == {}
