"""Lengths that stand below each other share one unit. Factors between units: the international yard of 1959
(0.9144 m) and the metric prefixes."""

import bpy
import pytest
from evenfold.ui.words import ruler


@pytest.fixture
def scene():
    bpy.ops.wm.read_homefile(use_empty=True)
    return bpy.context.scene


@pytest.mark.parametrize(("lengths", "shown"), [
    ((1.5234567, 0.083, 0.0, 0.25), ["1.523 m", "0.083 m", "0 m", "0.25 m"]),
    ((0.9, 0.075, 0.0061), ["90 cm", "7.5 cm", "0.61 cm"]),
    ((0.0083, 0.00051), ["8.3 mm", "0.51 mm"]),
    ((12.5, 0.083), ["12.5 m", "0.083 m"]),
    ((123456.0, 7.2), ["123456 m", "7.2 m"]),
    ((1.5, 0.0001, -0.2), ["1.5 m", "< 0.001 m", "-0.2 m"]),
    ((float("nan"), 0.9), ["nan cm", "90 cm"]),
])
def test_all_have_the_unit_of_the_largest(scene, lengths, shown):
    assert [ruler(scene, lengths)(one) for one in lengths] == shown


def test_feet_and_inches_follow_the_largest_too(scene):
    scene.unit_settings.system = "IMPERIAL"
    assert [ruler(scene, (0.9144, 0.0254))(one) for one in (0.9144, 0.3048)] == ["3'", "1'"]
    assert [ruler(scene, (0.254, 0.0127))(one) for one in (0.254, 0.0127)] == ['10"', '0.5"']


def test_without_a_unit_system_and_without_a_length_it_is_written_as_ever(scene):
    assert ruler(scene, ())(0.0) == ruler(scene, (0.0,))(0.0) == "0 m"
    scene.unit_settings.system = "NONE"
    assert [ruler(scene, (1.5, 0.083))(one) for one in (1.5, 0.083)] == ["1.5", "0.083"]
