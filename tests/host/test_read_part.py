"""Half models are measured whole: Mirror and Subdivision are evaluated, nothing else."""

import bpy
import numpy as np
import pytest
from evenfold.host.nearest import KDFinder
from host.scenes import BOX, add_box, add_rig, counts, deform, empty_scene, pose, read_only


@pytest.fixture(autouse=True)
def scene():
    return empty_scene()


def half_box() -> bpy.types.Object:
    box = add_box("Body", points=[(max(x, 0.0), y, z) for x, y, z in BOX])
    for name, weight in (("Arm.L", 1.0), ("Arm.R", 0.0)):
        group = box.vertex_groups.new(name=name)
        if weight:
            group.add([4, 5, 6, 7], weight, "REPLACE")
    box.modifiers.new("Mirror", "MIRROR")
    return box


def test_a_live_mirror_is_evaluated_for_measuring_and_leaves_no_trace():
    box = half_box()
    box.shape_key_add(name="Basis")
    box.shape_key_add(name="Smile").value = 1.0
    before = counts()
    figure = read_only()
    assert counts() == before
    (part,) = figure.parts
    assert part.how == "Mirror"
    assert len(figure.surfaces[0].positions) == 8
    assert part.points[:, 0].min() == pytest.approx(-1.0)
    right = part.points[:, 0] < -0.5
    np.testing.assert_allclose(part.weights.of_groups({"Arm.R"}, len(part.points)), right * 1.0)
    (mirror,) = figure.surfaces[0].mirrors
    np.testing.assert_allclose(mirror.plane_normal, (1, 0, 0))


def test_mirror_about_another_object_uses_that_objects_plane(scene):
    box = half_box()
    pivot = bpy.data.objects.new("Pivot", None)
    scene.collection.objects.link(pivot)
    pivot.location.x = 2.0
    pivot.rotation_euler.z = 0.3
    box.modifiers[0].mirror_object = pivot
    figure = read_only()
    (mirror,) = figure.surfaces[0].mirrors
    np.testing.assert_allclose(mirror.plane_point, (2, 0, 0))
    np.testing.assert_allclose(mirror.plane_normal, (np.cos(0.3), np.sin(0.3), 0), atol=1e-6)
    points = figure.parts[0].points
    reflected = points - 2 * ((points - mirror.plane_point) @ mirror.plane_normal)[:, None] * mirror.plane_normal
    distances, _ = KDFinder(points).query(reflected, 1)
    assert distances.max() < 1e-5


def test_mirror_and_subdivision_are_evaluated_but_armature_is_not():
    rig, box = add_rig("Keeper"), half_box()
    deform(box, rig)
    box.modifiers.new("Smooth", "SUBSURF").levels = 1
    straight = read_only().parts[0]
    pose(rig)
    before = counts()
    (part,) = read_only().parts
    assert counts() == before
    assert part.how == "Mirror, Subdivision"
    assert len(part.points) > 16
    np.testing.assert_array_equal(part.points, straight.points)


def test_a_failure_while_evaluating_leaves_no_trace(monkeypatch):
    from evenfold.host.read import part

    half_box()
    before = counts()
    monkeypatch.setattr(part, "read_weights", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        read_only()
    assert counts() == before
