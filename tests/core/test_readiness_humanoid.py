"""Required bones, their chain and their names, before a figure is handed off. All is invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.check import check_figure
from evenfold.core.face_shapes import SHAPES
from evenfold.core.figure import Armature, Bone, Figure
from evenfold.core.layers import ShapeKey, ShapeKeys
from evenfold.core.readiness import readiness_of_figure
from evenfold.core.readiness.humanoid import humanoid_readiness, is_humanoid
from evenfold.core.settings import Settings
from figures.layered import layered, rig
from figures.records import figure_of
from oracles.finder import ScipyFinder

CHAIN = {
    "hips": None, "spine": "hips", "neck": "spine", "head": "neck",
    **{f"{side}{bone}": (f"{side}{over}" if over not in ("hips", "spine") else over)
       for side in ("left", "right") for bone, over in (
           ("UpperLeg", "hips"), ("LowerLeg", "UpperLeg"), ("Foot", "LowerLeg"),
           ("UpperArm", "spine"), ("LowerArm", "UpperArm"), ("Hand", "LowerArm"))},
}


def keeper(parents=CHAIN, prefix="b_", **more):
    """A humanoid whose bones are the standard's with a prefix."""
    bones = tuple(
        Bone(prefix + name, None if over is None else prefix + over, np.zeros(3), np.ones(3), np.eye(3))
        for name, over in parents.items()
    )
    humanoid = {name: prefix + name for name in parents}
    return Figure("Keeper", (), (), Armature("Rig", bones, np.eye(4)), humanoid=humanoid, **more)


def told(figure):
    return [(one.code, one.level, one.subject) for one in humanoid_readiness(figure)]


def test_a_whole_humanoid_says_nothing():
    assert told(keeper()) == []


@pytest.mark.parametrize("name", [name for name in CHAIN if name not in ("hips", "neck")])
def test_a_missing_required_bone_is_named(name):
    parents = {key: (CHAIN[name] if over == name else over) for key, over in CHAIN.items() if key != name}
    (one,) = humanoid_readiness(keeper(parents))
    assert (one.code, one.level) == ("ready-humanoid", "warning") and "required" in one.message
    assert one.subject.replace(" ", "").lower() == name.lower()


def test_a_neck_outside_the_hips_chain():
    """Planted row 14."""
    figure = keeper({**CHAIN, "neck": None, "head": "spine"})
    found = humanoid_readiness(figure)
    assert {one.code for one in found} == {"ready-humanoid"} and {one.subject for one in found} == {"Neck", "Head"}
    assert "must hang below" in found[0].message


def test_planted_row_14_all_at_once():
    parents = {name: ("hips" if over == "spine" else over) for name, over in CHAIN.items() if name != "spine"}
    figure = keeper({**parents, "neck": None}, outside=(("b_hips", "an object"),))
    assert [(code, subject) for code, _, subject in told(figure)] == [
        ("ready-humanoid", "Spine"), ("ready-humanoid", "Neck"), ("ready-name-twice", "b_hips"),
    ]


@pytest.mark.parametrize(("whose", "name", "count"), [
    ("an object", "b_hips", 1), ("a bone of the armature Cook", "b_hips", 1), ("an object", "b_Hips", 0), ("an object", "Lantern", 0),
])
def test_a_bones_name_used_elsewhere(whose, name, count):
    figure = keeper(outside=((name, whose), ("Boat", "an object")))
    found = humanoid_readiness(figure)
    assert [one.code for one in found] == ["ready-name-twice"] * count
    assert all(whose in one.message and "hips" in one.message for one in found)


def test_an_object_of_the_figure_named_like_a_bone():
    surface = replace(layered(0).surface, name="b_head")
    assert told(replace(keeper(), surfaces=(surface,))) == [("ready-name-twice", "warning", "b_head")]


def test_what_is_evidently_no_humanoid_is_left_alone():
    few = {name: CHAIN[name] for name in ("hips", "spine", "neck", "head")}
    assert not is_humanoid(keeper(few)) and told(keeper(few)) == []
    assert told(replace(keeper(), humanoid={})) == [] and told(replace(keeper(), armature=None)) == []
    most = {name: over for name, over in CHAIN.items() if "Arm" not in name and "Hand" not in name}
    assert is_humanoid(keeper(most)) and len(told(keeper(most))) == 6


def codes(result):
    return [one.code for one in result.readiness if one.code.startswith("ready-")]


def test_the_check_tells_all_of_it_and_keeps_it_apart_from_the_halves():
    """Planted row 8, five influences and a bone's name twice: warnings, and the halves still match."""
    made = layered(0)
    settings = Settings(tolerance=1e-4, plane="world")
    clean = check_figure(made.figure(rig()), settings, ScipyFinder)
    assert codes(clean) == []
    base = made.layers.keys.keys[0].points
    keys = [ShapeKey("Basis", base, "Basis")]
    for name in SHAPES:
        points = base.copy()
        if name != "cheekPuff":
            points[:, 2] += np.float32(0.01)
        keys.append(ShapeKey({"jawOpen": "JawOpen"}.get(name, name), points, "Basis"))
    hurt = made.changed(keys=ShapeKeys("Basis", tuple(keys)))
    result = check_figure(hurt.figure(rig()), settings, ScipyFinder)
    found = [(one.code, one.subject) for one in result.readiness if one.code.startswith("ready-face") or one.code == "ready-key-dead"]
    assert ("ready-face-spelling", "JawOpen") in found and ("ready-key-dead", "cheekPuff") in found
    assert not any(one.level == "error" for one in result.readiness if one.code.startswith("ready-"))


def test_influences_reach_the_result():
    made = layered(0)
    weights = made.layers.weights
    hurt = int(np.flatnonzero(np.bincount(weights.vertex) == 1)[0]) if (np.bincount(weights.vertex) == 1).any() else 0
    kept = weights.vertex != hurt
    bare = replace(weights, vertex=weights.vertex[kept], group=weights.group[kept], weight=weights.weight[kept])
    result = readiness_of_figure(figure_of(made.changed(weights=bare).surface))
    assert [one.code for one in result] == ["ready-unweighted"]


def test_a_rebuilt_half_is_an_error_and_a_clean_figure_is_none():
    """Planted row 1a: every key and group of the left covers both halves, those of the right nothing."""
    made = layered(0)
    keys = {key.name: key for key in made.layers.keys.keys}
    base = made.layers.keys.keys[0].points
    mirror = np.array([-1, 1, 1], np.float32)
    changed = []
    for name, key in keys.items():
        points = key.points
        if name.endswith(".L"):
            delta = points - base
            delta = np.where(np.abs(delta).sum(axis=1, keepdims=True) > 0, delta, delta[made.partner] * mirror)
            points = base + delta
        elif name.endswith(".R"):
            points = base.copy()
        changed.append(replace(key, points=points.astype(np.float32)))
    weights = made.layers.weights
    number = {name: place for place, name in enumerate(weights.names)}
    group = np.array([number[weights.names[g].replace(".R", ".L")] for g in weights.group])
    hurt = made.changed(keys=ShapeKeys("Basis", tuple(changed)), weights=replace(weights, group=group))
    settings = Settings(tolerance=1e-4, plane="world")
    result = check_figure(hurt.figure(rig()), settings, ScipyFinder)
    (one,) = [entry for entry in result.readiness if entry.code == "ready-rebuilt-half"]
    assert one.level == "error" and "Symmetrize" in one.message and not result.within
    assert "ready-rebuilt-half" not in codes(check_figure(made.figure(rig()), settings, ScipyFinder))
