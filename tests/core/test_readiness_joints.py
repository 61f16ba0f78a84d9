"""Joints outside the limb they bend. Limbs are invented tubes; the oracle is the tube's radius."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Armature, Bone, Figure, Part, Weights
from evenfold.core.humanoid import guess_humanoid
from evenfold.core.readiness.joints import JOINTS, joints_readiness
from figures.avatars import build_figure
from scipy.spatial.transform import Rotation

RINGS, AROUND, RADIUS = 31, 16, 0.05


def limb(blend=0.15, turn=None, radius=RADIUS, joint=(0.0, 0.0, 0.0), rigid=False):
    """A tube from x = 0.1 to 0.7 whose elbow, at x = 0.4, is moved by ``joint``; then all is turned."""
    turn = np.eye(3) if turn is None else turn
    x = np.linspace(0.1, 0.7, RINGS)
    angle = 2 * np.pi * np.arange(AROUND) / AROUND
    points = np.stack(np.broadcast_arrays(x[:, None], radius * np.cos(angle), radius * np.sin(angle)), axis=2).reshape(-1, 3)
    number = np.arange(len(points)).reshape(RINGS, AROUND)
    beside = np.roll(number, -1, axis=1)
    triangles = np.concatenate([
        np.stack([number[:-1], beside[:-1], beside[1:]], axis=2).reshape(-1, 3),
        np.stack([number[:-1], beside[1:], number[1:]], axis=2).reshape(-1, 3),
    ])
    below = np.clip((points[:, 0] - 0.4) / blend + 0.5, 0, 1) if not rigid else (points[:, 0] > 0.4) * 1.0
    vertex = np.tile(np.arange(len(points)), 2)
    group = np.repeat([0, 1], len(points))
    weight = np.concatenate([1 - below, below])
    kept = weight > 0
    weights = Weights(("Upper", "Lower"), vertex[kept], group[kept], weight[kept])
    elbow = np.array([0.4, 0, 0]) + joint
    bones = [
        Bone("Upper", None, turn @ [0.1, 0, 0], turn @ elbow, np.eye(3)),
        Bone("Lower", "Upper", turn @ elbow, turn @ [0.7, 0, 0], np.eye(3)),
    ]
    part = Part("Sleeve", points @ turn.T, triangles, weights)
    names = {"leftUpperArm": "Upper", "leftLowerArm": "Lower"}
    return Figure("Keeper", (), (part,), Armature("Rig", tuple(bones), np.eye(4)), humanoid=names)


@pytest.mark.parametrize("rigid", [False, True])
@pytest.mark.parametrize("seed", range(12))
def test_a_joint_counts_as_outside_from_the_tubes_radius_on(seed, rigid):
    rng = np.random.default_rng(seed)
    turn = Rotation.random(random_state=seed).as_matrix()
    angle = rng.uniform(0, 2 * np.pi)
    aside = np.array([0.0, np.cos(angle), np.sin(angle)])
    for share, count in ((0.0, 0), (0.9, 0), (1.1, 0), (1.3, 1), (2.5, 1)):
        along = np.array([rng.uniform(-0.05, 0.05), 0, 0])
        told = joints_readiness(limb(turn=turn, joint=share * RADIUS * aside + along, rigid=rigid))
        assert [(one.code, one.level, one.subject) for one in told] == [("ready-joint-outside", "warning", "Lower")] * count
        if told:
            assert "left elbow" in told[0].message
            assert [(one.kind, one.names) for one in told[0].places] == [("bone", ("Lower",))]
            stated = float(told[0].message.split(" stands ")[1].split(" mm")[0]) / 1000
            assert stated == pytest.approx((share - 1) * RADIUS, abs=0.03 * RADIUS)


def test_lengths_are_told_in_metres_whatever_the_unit():
    far = limb(joint=(0, 0.1, 0))
    (one,) = joints_readiness(replace(far, metres_per_unit=0.01))
    assert "0.5 mm" in one.message


def test_without_bones_weights_or_a_map_nothing_is_said():
    far = limb(joint=(0, 0.2, 0))
    assert len(joints_readiness(far)) == 1
    assert joints_readiness(replace(far, armature=None)) == []
    assert joints_readiness(replace(far, humanoid={})) == []
    assert joints_readiness(replace(far, parts=())) == []
    empty = Weights(("Upper", "Lower"), np.zeros(0, int), np.zeros(0, int), np.zeros(0))
    bare = replace(far.parts[0], weights=empty)
    assert joints_readiness(replace(far, parts=(bare,))) == []


@pytest.fixture(scope="module")
def avatars():
    found = []
    for seed in range(30):
        figure = build_figure(seed).figure
        found.append(replace(figure, humanoid=figure.humanoid or guess_humanoid(figure.armature, figure.up)))
    return found


def test_no_joint_of_the_invented_avatars_is_called_outside(avatars):
    mapped = [f for f in avatars if {side + bone for side in ("left", "right") for pair in JOINTS.values() for bone in pair} <= set(f.humanoid)]
    assert len(mapped) >= 10
    assert [joints_readiness(figure) for figure in avatars] == [[]] * len(avatars)


def test_an_elbow_pulled_out_of_the_sleeve_is_the_only_one_told(avatars):
    """Planted row 12c."""
    told = 0
    for figure in avatars:
        name = figure.humanoid.get("leftLowerArm")
        upper = figure.humanoid.get("leftUpperArm")
        if name is None or upper is None:
            continue
        bones = figure.armature.by_name
        reach = 2.0 * float(np.linalg.norm(bones[name].head - bones[upper].head))
        up = np.array(figure.up) * reach
        moved = tuple(replace(one, head=one.head + up) if one.name == name else one for one in figure.armature.bones)
        found = joints_readiness(replace(figure, armature=replace(figure.armature, bones=moved)))
        assert {one.subject for one in found} <= {name}
        told += len(found)
    assert told >= 8
