"""Rest bones mended: mirrored, chains still joined, nothing else changed. The rig is invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.allowances import Allowance
from evenfold.core.figure import Armature, Bone
from evenfold.core.findings import MirrorPlane, ObjectResult
from evenfold.core.repair import REPAIRS, Checked, RepairError, Wish, plan_repair
from evenfold.core.repair.applied import applied
from evenfold.core.settings import Settings
from evenfold.core.symmetry.bones import CODES, check
from evenfold.core.symmetry.matched import Limits
from figures.records import figure_of
from oracles.finder import ScipyFinder
from scipy.spatial.transform import Rotation

MIRROR = np.diag([-1.0, 1.0, 1.0])
CENTRE = {
    "Root": (None, (0, 0, 0.0), (0, 0, 0.1)), "Spine": ("Root", (0, 0, 0.1), (0, 0.01, 0.3)),
    "Head": ("Spine", (0, 0.01, 0.3), (0, 0, 0.8)), "Jaw": ("Head", (0, 0, 0.35), (0, -0.1, 0.32)),
}
SIDED = {
    "Shoulder": ("Spine", (0.02, 0, 0.28), (0.1, 0, 0.29)), "UpperArm": ("Shoulder", (0.1, 0, 0.29), (0.2, 0.01, 0.25)),
    "LowerArm": ("UpperArm", (0.2, 0.01, 0.25), (0.3, 0, 0.2)), "Hand": ("LowerArm", (0.3, 0, 0.2), (0.35, 0, 0.18)),
    "Thumb": ("LowerArm", (0.3, 0, 0.2), (0.32, -0.03, 0.18)), "Eye": ("Head", (0.1, -0.2, 0.5), (0.1, -0.24, 0.5)),
    "Ear": ("Head", (0.2, 0, 0.75), (0.25, 0, 0.95)),
}
JOINED = ("Spine", "Head", "UpperArm", "LowerArm", "Hand", "Thumb")
WORLD = np.eye(4)
ENTRY = ObjectResult("Rig", "armature", 0)


def stored(place):
    """A place as files keep it, in single precision."""
    return np.asarray(place, np.float32).astype(float)


def axes_of(head, tail, roll=0.0):
    """Rows x, y, z: y along the bone, turned about it by ``roll`` degrees."""
    y = (np.asarray(tail, float) - head) / np.linalg.norm(np.asarray(tail, float) - head)
    x = np.cross(y, [0.0, 1.0, 0.0] if abs(y[1]) < 0.9 else [0.0, 0.0, 1.0])
    x /= np.linalg.norm(x)
    return Rotation.from_rotvec(np.radians(roll) * y).apply(np.array([x, y, np.cross(x, y)]))


def rig(seed=0):
    """Bones in random order whose halves match exactly, arms as connected chains."""
    rng = np.random.default_rng(seed)
    bones = []
    for name, (parent, head, tail) in CENTRE.items():
        y = np.subtract(tail, head) / np.linalg.norm(np.subtract(tail, head))
        axes = np.array([[1.0, 0, 0], y, np.cross([1.0, 0, 0], y)])
        bones.append(Bone(name, parent, stored(head), stored(tail), axes, True, name in JOINED))
    for name, (parent, head, tail) in SIDED.items():
        axes = axes_of(head, tail, rng.uniform(-180, 180))
        for side, turn in (("L", np.eye(3)), ("R", MIRROR)):
            above = f"{parent}.{side}" if parent in SIDED else parent
            own = (turn @ axes.T @ turn).T
            bones.append(Bone(f"{name}.{side}", above, stored(turn @ head), stored(turn @ tail), own, True, name in JOINED))
    return Armature("Rig", tuple(bones[i] for i in rng.permutation(len(bones))), WORLD)


def changed(armature, name, **values):
    return replace(armature, bones=tuple(replace(b, **values) if b.name == name else b for b in armature.bones))


def pulled(armature, name, end, by):
    """One joint moved as editing does it: what is connected there goes along, rolls by shortest turns."""
    bone = armature.by_name[name]
    root = name if end == "tail" else bone.parent if bone.connected else None
    moves = {(root, "tail")} if root else {(name, "head")}
    moves |= {(b.name, "head") for b in armature.bones if b.connected and root and b.parent == root}
    for one, which in moves:
        old = armature.by_name[one]
        new = replace(old, **{which: stored(getattr(old, which) + by)})
        along = (new.tail - new.head) / np.linalg.norm(new.tail - new.head)
        cross = np.cross(old.axes[1], along)
        angle = np.arctan2(np.linalg.norm(cross), old.axes[1] @ along)
        turn = Rotation.from_rotvec(cross / max(np.linalg.norm(cross), 1e-30) * angle)
        armature = changed(armature, one, **{which: getattr(new, which), "axes": turn.apply(old.axes)})
    return armature


def rolled(armature, name, degrees):
    bone = armature.by_name[name]
    turn = Rotation.from_rotvec(np.radians(degrees) * bone.axes[1])
    return changed(armature, name, axes=turn.apply(bone.axes))


def limits_of(settings=None, tolerance=1e-4):
    plane = MirrorPlane(np.zeros(3), np.array([1.0, 0.0, 0.0]), "armature")
    return Limits(tolerance, 1.0, plane, settings or Settings())


def found(armature, limits=None):
    return {one.code: one for one in check(armature, limits or limits_of())}


def planned(armature, code, way="left", allowances=()):
    figure = replace(figure_of(), armature=armature, allowances=allowances)
    checked = Checked(figure, limits_of(), ScipyFinder)
    return figure, plan_repair(checked, ENTRY, found(armature)[code], Wish(way))


def mended(armature, code, way="left", allowances=()):
    figure, plan = planned(armature, code, way, allowances)
    return applied(figure, plan.changes).armature


def planned_again(armature, finding):
    checked = Checked(replace(figure_of(), armature=armature), limits_of(), ScipyFinder)
    return plan_repair(checked, ENTRY, finding, Wish())


def alike(one, other, but=()):
    """Bones equal to single precision, all but those named; the same names."""
    assert set(one.by_name) == set(other.by_name)
    for name, bone in one.by_name.items():
        twin = other.by_name[name]
        if name not in but:
            assert np.abs(bone.head - twin.head).max() < 1e-7 and np.abs(bone.tail - twin.tail).max() < 1e-7, name
            assert np.abs(bone.axes - twin.axes).max() < 1e-6, name
        assert (bone.parent, bone.connected, bone.deform) == (twin.parent, twin.connected, twin.deform)
    return True


def joined(armature):
    """Every connected bone begins where its parent ends."""
    return all((b.head == armature.by_name[b.parent].tail).all() for b in armature.bones if b.connected)


def turned_over(armature):
    """The mirror image, every bone under its counterpart's name."""
    def other(name):
        return name[:-1] + {"L": "R", "R": "L"}[name[-1]] if name and name[-2] == "." else name

    return replace(armature, bones=tuple(
        replace(b, name=other(b.name), parent=b.parent and other(b.parent), head=MIRROR @ b.head,
                tail=MIRROR @ b.tail, axes=(MIRROR @ b.axes.T @ MIRROR).T)
        for b in armature.bones
    ))


PULLS = [("LowerArm.R", "tail"), ("LowerArm.R", "head"), ("Hand.R", "tail"), ("Ear.R", "head"), ("Shoulder.R", "tail")]


@pytest.mark.parametrize("place", PULLS)
@pytest.mark.parametrize("seed", range(3))
def test_a_pulled_joint_goes_back_with_all_that_is_joined_there(place, seed):
    exact = rig(seed)
    by = np.random.default_rng(seed).normal(size=3) * 0.004
    off = pulled(exact, *place, by)
    assert set(found(off)) == {"bone-drifted"} and joined(off)
    after = mended(off, "bone-drifted")
    assert alike(after, exact) and joined(after) and found(after) == {}
    hit = {b.name for b in off.bones if not np.allclose(b.head, exact.by_name[b.name].head) or not np.allclose(b.tail, exact.by_name[b.name].tail)}
    _, plan = planned(off, "bone-drifted")
    assert {one.bone for one in plan.changes[0].bones} == hit
    assert plan.largest == pytest.approx(np.linalg.norm(by), rel=1e-5) and plan.left_alone == ()


@pytest.mark.parametrize("way", ["left", "right", "average"])
@pytest.mark.parametrize("seed", range(4))
def test_the_other_way_round_gives_the_mirrored_outcome(seed, way):
    off = pulled(pulled(rig(seed), "LowerArm.R", "head", (0.003, 0.001, 0)), "Ear.L", "tail", (0, 0.002, 0.004))
    other = {"left": "right", "right": "left"}.get(way, way)
    one, two = mended(off, "bone-drifted", way), mended(turned_over(off), "bone-drifted", other)
    assert alike(turned_over(one), two) and joined(one) and found(one) == {}
    moved = {b.name[-1] for b in one.bones if (b.tail != off.by_name[b.name].tail).any()}
    assert moved == {"left": {"R"}, "right": {"L"}, "average": {"L", "R"}}[way]


@pytest.mark.parametrize("way", ["left", "right", "average"])
@pytest.mark.parametrize("degrees", [0.2, 5.0, -70.0, 170.0])
def test_rolls_are_mirrored_by_axes(way, degrees):
    exact = rig(2)
    off = rolled(exact, "LowerArm.R", degrees)
    after = mended(off, "roll-drifted", way)
    assert found(after) == {}
    if way == "left":
        assert alike(after, exact)
    stays = {"left": "LowerArm.L", "right": "LowerArm.R"}.get(way)
    if stays:
        assert np.array_equal(after.by_name[stays].axes, off.by_name[stays].axes)
    _, plan = planned(off, "roll-drifted", way)
    assert plan.largest == pytest.approx(abs(degrees) / (2 if way == "average" else 1), abs=1e-6)


def test_half_a_turn_has_no_middle():
    _, plan = planned(rolled(rig(), "LowerArm.R", 180.0), "roll-drifted", "average")
    assert plan.changes == () and "half a turn apart" in plan.left_alone[0]


@pytest.mark.parametrize("order", [("bone-drifted", "roll-drifted"), ("roll-drifted", "bone-drifted")])
@pytest.mark.parametrize("seed", range(4))
def test_places_and_rolls_mend_in_either_order(order, seed):
    exact = rig(seed)
    off = rolled(pulled(exact, "LowerArm.R", "tail", (0.01, -0.02, 0.015)), "LowerArm.R", 5.0)
    assert set(found(off)) == {"bone-drifted", "roll-drifted"}
    for code in order:
        off = mended(off, code)
        assert code not in found(off)
    assert found(off) == {} and alike(off, exact)


def test_eyes_that_point_a_little_aside_are_put_straight():
    exact = rig()
    eye = exact.by_name["Eye.R"]
    turn = Rotation.from_euler("z", 0.1, degrees=True)
    off = changed(exact, "Eye.R", tail=eye.head + turn.apply(eye.tail - eye.head), axes=turn.apply(eye.axes))
    assert set(found(off)) == {"roll-drifted"}
    assert alike(mended(off, "roll-drifted"), exact)


@pytest.mark.parametrize(("name", "degrees"), [("Jaw", 3.0), ("Jaw", 50.0), ("Head", -20.0)])
def test_bones_of_the_middle_turn_to_the_nearest_even_roll(name, degrees):
    exact = rig()
    after = mended(rolled(exact, name, degrees), "roll-drifted", "average")
    assert found(after) == {}
    assert alike(after, exact, but=(name,))
    wanted = 90.0 * round(degrees / 90.0)
    assert np.abs(after.by_name[name].axes - rolled(exact, name, wanted).by_name[name].axes).max() < 1e-6


@pytest.mark.parametrize("seed", range(3))
def test_bones_of_the_middle_go_onto_the_plane_with_what_is_joined(seed):
    exact = rig(seed)
    off = pulled(pulled(exact, "Spine", "tail", (0.004, 0, 0)), "Jaw", "tail", (-0.002, 0.0, 0.0))
    assert "bone-off-centre" in found(off)
    after = mended(off, "bone-off-centre")
    assert found(after) == {} and joined(after)
    for bone in after.bones:
        twin = exact.by_name[bone.name]
        assert np.abs(bone.head - twin.head).max() < 1e-7 and np.abs(bone.tail - twin.tail).max() < 1e-7


@pytest.mark.parametrize("way", ["left", "right"])
def test_parents_and_connections_follow_the_winner(way):
    exact = rig()
    off = changed(exact, "Thumb.R", parent="Hand.R", connected=False)
    after = mended(off, "bone-parent-unmatched", way)
    if way == "left":
        assert alike(after, exact)
    else:
        assert alike(after, changed(off, "Thumb.L", parent="Hand.L", connected=False))
    loose = changed(exact, "Hand.R", connected=False)
    assert alike(mended(loose, "bone-parent-unmatched"), exact)
    with pytest.raises(RepairError, match="let left or right win"):
        mended(off, "bone-parent-unmatched", "average")


def test_a_parent_that_would_make_a_ring_is_left_alone():
    off = changed(rig(), "Shoulder.R", parent="Root")
    off = changed(off, "Ear.R", parent="Shoulder.R")
    off = changed(off, "Shoulder.L", parent="Ear.L")
    off = changed(off, "Ear.L", parent="Root")
    _, plan = planned(off, "bone-parent-unmatched")
    assert any("hangs on it" in one for one in plan.left_alone)
    after = mended(off, "bone-parent-unmatched")
    for bone in after.bones:
        assert bone.name not in after.below(bone.name) - {bone.name} and _root(after, bone.name) == "Root"


def _root(armature, name):
    for _ in range(50):
        above = armature.by_name[name].parent
        if above is None:
            return name
        name = above
    return None


def test_a_bone_too_far_to_connect_is_told():
    off = changed(pulled(changed(rig(), "Hand.R", connected=False), "Hand.R", "head", (0, 0.01, 0)), "Thumb.R", connected=False)
    _, plan = planned(off, "bone-parent-unmatched")
    assert plan.left_alone == ("Hand.R is not connected to LowerArm.R: repair their places first.",)
    assert [one.bone for one in plan.changes[0].bones] == ["Thumb.R"]


@pytest.mark.parametrize("way", ["left", "right"])
def test_deform_flags_follow_the_winner(way):
    off = changed(rig(), "Ear.R", deform=False)
    after = mended(off, "bone-deform-unmatched", way)
    assert after.by_name["Ear.L"].deform == after.by_name["Ear.R"].deform == (way == "left")


@pytest.mark.parametrize("gone", [("Hand.R",), ("Eye.L",), ("UpperArm.R", "LowerArm.R", "Hand.R", "Thumb.R"), ("Thumb.L", "Hand.L")])
def test_missing_bones_are_made_as_they_were(gone):
    exact = rig(1)
    off = replace(exact, bones=tuple(b for b in exact.bones if b.name not in gone))
    assert set(found(off)) == {"bone-unpaired"}
    _, plan = planned(off, "bone-unpaired")
    assert {one.bone for one in plan.changes[0].bones} == set(gone) and all(one.like for one in plan.changes[0].bones)
    after = mended(off, "bone-unpaired")
    assert alike(after, exact) and found(after) == {}


def test_a_bone_that_is_there_under_another_name_is_not_made():
    off = replace(rig(), bones=tuple(replace(b, name="Lauscher") if b.name == "Ear.R" else b for b in rig().bones))
    _, plan = planned(off, "bone-unpaired")
    assert plan.changes == () and "rename one of them" in plan.left_alone[0]


def test_a_joint_with_an_excused_bone_stays():
    off = pulled(rig(), "LowerArm.R", "tail", (0, 0.005, 0))
    off = pulled(off, "LowerArm.R", "head", (0, 0.003, 0))
    allowed = Allowance("a", "bones", "Hand.R", "a hook for a hand", "Rig")
    _, plan = planned(off, "bone-drifted", allowances=(allowed,))
    assert {one.bone for one in plan.changes[0].bones} == {"UpperArm.R", "LowerArm.R"}
    assert any("joined to Hand.R" in one for one in plan.left_alone)
    after = mended(off, "bone-drifted", allowances=(allowed,))
    for name in ("Hand.R", "Hand.L", "LowerArm.L"):
        assert after.by_name[name] is off.by_name[name]
    assert joined(after) and np.abs(after.by_name["LowerArm.R"].head - rig().by_name["LowerArm.R"].head).max() < 1e-7


def test_a_bone_that_outgrew_its_excuse_is_mended():
    small, grown = (pulled(rig(), "Ear.R", "tail", (0, by, 0)) for by in (0.01, 0.03))
    finding = found(small)["bone-drifted"]
    names = frozenset(("Ear.L", "Ear.R"))
    allowed = Allowance("a", "bone", "Ear.R", "torn", "Rig", names=names, code="bone-drifted", worst=finding.worst)
    after = mended(grown, "bone-drifted", allowances=(allowed,))
    assert np.abs(after.by_name["Ear.R"].tail - rig().by_name["Ear.R"].tail).max() < 1e-7
    held = mended(small, "bone-drifted", allowances=(allowed,))
    assert held.by_name["Ear.R"] is small.by_name["Ear.R"]


def loosened(armature, name, by):
    """One bone not connected any more and its head further back."""
    head = armature.by_name[name].head
    return changed(armature, name, connected=False, head=stored(head + np.array([0.0, by, 0.0])))


@pytest.mark.parametrize("way", ["right", "average"])
def test_a_joint_that_only_one_of_a_pair_has_takes_no_bone_along_that_is_not_off(way):
    off = loosened(rig(), "LowerArm.R", 0.002)
    assert set(found(off)) >= {"bone-drifted", "bone-parent-unmatched"}
    _, plan = planned(off, "bone-drifted", way)
    assert not plan.changes and len(plan.left_alone) == 1
    assert "LowerArm.L" in plan.left_alone[0] and "connected to UpperArm.L" in plan.left_alone[0]
    assert REPAIRS["bone-parent-unmatched"].title in plan.left_alone[0]
    loose = mended(off, "bone-parent-unmatched", "right")
    after = mended(loose, "bone-drifted", way)
    assert not {"bone-drifted", "bone-parent-unmatched"} & set(found(after))
    assert after.by_name["UpperArm.L"] is loose.by_name["UpperArm.L"]


def test_the_connected_one_of_a_pair_wins_without_a_word():
    off = loosened(rig(), "LowerArm.R", 0.002)
    _, plan = planned(off, "bone-drifted", "left")
    assert [one.bone for one in plan.changes[0].bones] == ["LowerArm.R"] and plan.left_alone == ()
    assert "bone-drifted" not in found(mended(off, "bone-drifted", "left"))


def test_no_bone_loses_its_length():
    off = pulled(rig(), "Ear.R", "tail", (0.01, 0, 0))
    ear = off.by_name["Ear.L"]
    off = changed(off, "Ear.L", tail=ear.head.copy())
    _, plan = planned(off, "bone-drifted")
    assert plan.changes == () and "would have no length" in plan.left_alone[0]


@pytest.mark.parametrize("seed", range(3))
def test_a_second_run_changes_nothing(seed):
    off = rolled(pulled(rig(seed), "LowerArm.R", "tail", (0.01, -0.02, 0.015)), "Ear.R", 5.0)
    for code in ("bone-drifted", "roll-drifted"):
        again = found(off)[code]
        off = mended(off, code)
        for change in planned_again(off, again).changes:
            for one in change.bones:
                bone = off.by_name[one.bone]
                assert np.abs(one.head - bone.head).max() < 1e-7 and np.abs(one.tail - bone.tail).max() < 1e-7
                assert np.abs(one.z_axis - bone.axes[2]).max() < 1e-7
    assert found(off) == {}


def test_an_armature_that_stands_elsewhere_gives_places_in_its_own_space():
    matrix = np.eye(4)
    matrix[:3, :3] = Rotation.from_euler("xyz", (0.3, -0.2, 1.1)).as_matrix() * 0.5
    matrix[:3, 3] = 1.0, 2.0, 3.0
    exact = rig(4)
    off = rolled(pulled(exact, "LowerArm.R", "tail", (0.004, 0.002, 0.0)), "Ear.R", 4.0)
    stood = replace(off, to_world=matrix, bones=tuple(_stood(b, matrix) for b in off.bones))
    plane = MirrorPlane(matrix[:3, 3], matrix[:3, 0] / 0.5, "armature")
    limits = Limits(1e-4, 1.0, plane, Settings())
    figure = replace(figure_of(), armature=stood)
    for code in ("bone-drifted", "roll-drifted"):
        (finding,) = [f for f in check(figure.armature, limits) if f.code == code]
        plan = plan_repair(Checked(figure, limits, ScipyFinder), ENTRY, finding, Wish())
        for one in plan.changes[0].bones:
            wanted = exact.by_name[one.bone]
            assert np.abs(one.head - wanted.head).max() < 1e-6 and np.abs(one.tail - wanted.tail).max() < 1e-6
        figure = applied(figure, plan.changes)
    assert list(check(figure.armature, limits)) == []


def _stood(bone, matrix):
    turn = matrix[:3, :3] / 0.5
    place = [matrix[:3, :3] @ one + matrix[:3, 3] for one in (bone.head, bone.tail)]
    return replace(bone, head=place[0], tail=place[1], axes=bone.axes @ turn.T)


def test_no_two_repairs_are_called_alike():
    titles = [one.title for one in REPAIRS.values()]
    assert [title for title in titles if titles.count(title) > 1] == []


def test_every_kind_of_bone_finding_has_a_repair_that_asks_first():
    assert set(CODES) <= set(REPAIRS) and not any(REPAIRS[code].safe for code in CODES)
