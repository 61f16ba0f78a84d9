"""Numbers kept on bones, left against right. Invented."""

from dataclasses import replace

import numpy as np
import pytest
from evenfold.core.figure import Armature, Bone
from evenfold.core.findings import MirrorPlane
from evenfold.core.settings import Settings
from evenfold.core.symmetry.matched import Limits
from evenfold.core.symmetry.physics import check

LIMITS = Limits(1e-4, 1.0, MirrorPlane(np.zeros(3), np.array([1.0, 0.0, 0.0]), "armature"), Settings())
SWING = (("stiffness", 0.8), ("drag", 0.4), ("pull.x", 0.1), ("pull.y", -1.0), ("spring.gravityDir.x", 0.2))
MIRRORED = (("stiffness", 0.8), ("drag", 0.4), ("pull.x", -0.1), ("pull.y", -1.0), ("spring.gravityDir.x", -0.2))


def chains(count=4):
    zero = np.zeros(3)
    bones = [Bone("Head", None, zero, zero, np.eye(3), properties=(("lonely", 3.0),))]
    for number in range(count):
        bones.append(Bone(f"Ear_L_{number}", "Head", zero, zero, np.eye(3), properties=SWING))
        bones.append(Bone(f"Ear_R_{number}", "Head", zero, zero, np.eye(3), properties=MIRRORED))
    return Armature("Rig", tuple(bones), np.eye(4))


def with_numbers(armature, name, **values):
    return replace(armature, bones=tuple(
        replace(b, properties=tuple({**dict(b.properties), **values}.items())) if b.name == name else b for b in armature.bones
    ))


def test_equal_chains_say_nothing():
    assert list(check(chains(), LIMITS)) == []


@pytest.mark.parametrize("number", range(4))
def test_a_looser_ear_is_named_with_its_setting(number):
    (finding,) = check(with_numbers(chains(), f"Ear_R_{number}", stiffness=0.65), LIMITS)
    assert (finding.code, finding.subject, finding.unit, finding.kind) == ("chain-drifted", "stiffness", "value", "bone")
    assert finding.names == (f"Ear_L_{number}",) and finding.partner_names == (f"Ear_R_{number}",)
    assert finding.worst == pytest.approx(0.15)


def test_each_setting_is_a_finding_of_its_own():
    hurt = with_numbers(with_numbers(chains(), "Ear_L_0", drag=0.5), "Ear_R_2", drag=0.1, stiffness=1.0)
    told = {one.subject: one for one in check(hurt, LIMITS)}
    assert {name: one.names for name, one in told.items()} == {"drag": ("Ear_L_0", "Ear_L_2"), "stiffness": ("Ear_L_2",)}


def test_gravity_across_must_be_mirrored_and_along_must_be_equal():
    (finding,) = check(with_numbers(chains(), "Ear_R_0", **{"spring.gravityDir.x": 0.2}), LIMITS)
    assert finding.subject == "spring.gravityDir.x"
    (finding,) = check(with_numbers(chains(), "Ear_R_0", **{"pull.y": 1.0}), LIMITS)
    assert finding.subject == "pull.y"


def test_a_setting_on_one_side_only_has_no_size():
    for name in ("Ear_L_1", "Ear_R_1"):
        (finding,) = check(with_numbers(chains(), name, gust=1.0), LIMITS)
        assert finding.subject == "gust" and np.isnan(finding.sizes).all() and finding.worst is None
        assert finding.names == ("Ear_L_1",) and "only one" in finding.advice


def test_a_setting_with_a_side_in_its_name_is_compared_with_its_counterpart():
    both = with_numbers(with_numbers(chains(), "Ear_L_0", limit_l=1.0, limit_r=2.0), "Ear_R_0", limit_l=2.0, limit_r=1.0)
    assert list(check(both, LIMITS)) == []
    (finding,) = check(with_numbers(both, "Ear_R_0", limit_r=1.5), LIMITS)
    assert finding.subject == "limit_l" and finding.worst == pytest.approx(0.5)


def test_rounding_of_single_precision_is_silent():
    assert list(check(with_numbers(chains(), "Ear_R_0", stiffness=float(np.float32(0.8))), LIMITS)) == []


def test_what_rigging_tools_keep_in_groups_of_their_own_is_not_physics():
    assert list(check(with_numbers(chains(), "Ear_R_0", **{"rigging.axis": 3.0}), LIMITS)) == []
    (finding,) = check(with_numbers(chains(), "Ear_R_0", **{"tail.jiggleAmount": 3.0}), LIMITS)
    assert finding.subject == "tail.jiggleAmount"
