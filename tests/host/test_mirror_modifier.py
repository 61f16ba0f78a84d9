"""Real Mirror modifiers: what the host makes of a half proves each sentence. All meshes are invented."""

import bpy
import evenfold
import numpy as np
import pytest
from evenfold.core.check import check_figure
from evenfold.core.settings import Settings
from evenfold.host.fingerprint import fingerprint, same
from evenfold.host.nearest import KDFinder
from figures.halves import half_coat
from host.scenes import add_rig, empty_scene, enter, read_only
from host.test_ui import Recorder

SETTINGS = Settings(tolerance=1e-4, plane="world")
MESH, NUMBER = half_coat(0)
FACES = [MESH.corners[a:b].tolist() for a, b in zip(MESH.face_starts[:-1], MESH.face_starts[1:], strict=True)]
WHOLE = 2 * len(MESH.points) - 2 * len(NUMBER)


@pytest.fixture(autouse=True)
def scene():
    return empty_scene()


def coat(points=None, faces=FACES, modifier=True):
    mesh = bpy.data.meshes.new("Coat")
    mesh.from_pydata((MESH.points if points is None else points).tolist(), [], faces)
    item = bpy.data.objects.new("Coat", mesh)
    bpy.context.scene.collection.objects.link(item)
    if modifier:
        item.modifiers.new("Mirror", "MIRROR")
    return item


def moved(rows, x):
    points = MESH.points.copy()
    points[rows, 0] = x
    return points


def check(settings=SETTINGS):
    from evenfold.host.read import find_figures, read_figure

    bpy.context.scene.view_layers[0].update()
    source = next(one for one in find_figures(bpy.context.scene) if "Coat" in one.mesh_names)
    return check_figure(read_figure(source, bpy.context.scene, layers=True), settings, KDFinder)


def told(result):
    found = [(f.code, f.elements.tolist()) for one in result.objects if one.name == "Coat" for f in one.findings]
    return found, [(e.code, e.level) for e in result.readiness if e.code.startswith("ready-mirror")]


def made(item):
    """Vertices and faces of what the host makes of it."""
    bpy.context.view_layer.update()
    mesh = item.evaluated_get(bpy.context.evaluated_depsgraph_get()).to_mesh()
    found = np.array([v.co[:] for v in mesh.vertices])
    return found, len(mesh.polygons)


def test_a_clean_half_becomes_one_whole_and_says_nothing():
    item = coat()
    assert len(made(item)[0]) == WHOLE
    assert told(check()) == ([], [])
    assert [e for e in check().readiness if e.code.startswith("ready-")] == []


@pytest.mark.parametrize(("x", "opens"), [(0.0004, 0), (0.00049, 0), (0.0005, 1), (0.0006, 1)])
@pytest.mark.parametrize("scale", [1.0, 0.01, 40.0])
def test_what_is_said_to_stay_open_does(x, opens, scale):
    item = coat(moved(NUMBER[6, 0], x))
    item.scale = (scale,) * 3
    assert len(made(item)[0]) == WHOLE + opens
    settings = Settings(tolerance=1e-4 * scale, plane="world")
    assert told(check(settings)) == ([("mirror-gap", [NUMBER[6, 0]])] * opens, [])


@pytest.mark.parametrize("x", [0.0004, 0.00049, 0.0005, 0.0006])
def test_a_key_splits_the_middle_where_the_finding_says(x):
    item = coat()
    item.shape_key_add(name="Basis")
    key = item.shape_key_add(name="tongueOut", from_mix=False)
    key.data[NUMBER[6, 0]].co.x = x
    key.value = 1.0
    splits = len(made(item)[0]) - WHOLE
    found, ready = told(check())
    assert (found, ready) == ([("key-off-centre", [NUMBER[6, 0]])] * splits, [])
    assert splits == (x >= 0.0005)


def test_what_is_said_to_be_flattened_is():
    eaten = NUMBER[4:8, 1].tolist()
    item = coat(moved(eaten, 0.0003))
    places, _ = made(item)
    assert len(places) == WHOLE - len(eaten) and not places[eaten, 0].any()
    assert told(check()) == ([("mirror-merge", eaten)], [])


def test_a_wall_stays_inside():
    lid = [int(NUMBER[r, c]) for r, c in ((4, 0), (5, 0), (5, -1), (4, -1))]
    item = coat(faces=[*FACES, lid])
    assert made(item)[1] > 2 * len(FACES)
    assert told(check()) == ([("mirror-wall", [len(FACES)])], [])


def test_a_wrong_mirror_object_leaves_the_middle_open():
    item = coat()
    lantern = bpy.data.objects.new("Lantern", None)
    bpy.context.scene.collection.objects.link(lantern)
    lantern.location.x = 0.03
    item.modifiers[0].mirror_object = lantern
    assert len(made(item)[0]) == 2 * len(MESH.points)
    result = check()
    found, ready = told(result)
    assert [(code, len(rows)) for code, rows in found] == [("mirror-gap", 2 * len(NUMBER))] and ready == []
    assert "Lantern" in result.objects[0].findings[0].advice
    lantern.location = (0.0, 0.4, 0.9)
    assert len(made(item)[0]) == WHOLE and told(check()) == ([], [])


def test_without_merging_every_vertex_is_there_twice():
    item = coat()
    item.modifiers[0].use_mirror_merge = False
    assert len(made(item)[0]) == 2 * len(MESH.points)
    assert told(check()) == ([], [("ready-mirror-open", "warning")])


@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("about", ["itself", "a turned lantern", "a mirrored scale"])
def test_bisecting_on_the_wrong_side_is_told_where_the_half_is_gone(side, flip, about):
    item = coat(MESH.points * [side, 1, 1])
    modifier = item.modifiers[0]
    modifier.use_bisect_axis[0], modifier.use_bisect_flip_axis[0] = True, flip
    if about == "a mirrored scale":
        item.scale.x = -1.0
    if about == "a turned lantern":
        lantern = bpy.data.objects.new("Lantern", None)
        bpy.context.scene.collection.objects.link(lantern)
        lantern.rotation_euler.z = np.pi
        modifier.mirror_object = lantern
    gone = len(made(item)[0]) < len(MESH.points) / 2
    assert told(check()) == ([], [("ready-mirror-bisect", "error")] * gone)
    expected = (side < 0) != flip
    assert gone == (expected != (about == "a turned lantern"))


def whole_points():
    """The coat with both halves stored."""
    item = coat()
    places, _ = made(item)
    mesh = item.evaluated_get(bpy.context.evaluated_depsgraph_get()).to_mesh()
    faces = [list(face.vertices) for face in mesh.polygons]
    bpy.data.objects.remove(item)
    return places, faces


def test_a_whole_under_the_modifier_is_doubled():
    places, faces = whole_points()
    item = coat(places, faces)
    assert made(item)[1] == 2 * len(faces)
    assert told(check()) == ([], [("ready-mirror-twice", "warning")])
    item.modifiers[0].use_bisect_axis[0] = True
    assert made(item)[1] == len(faces)
    assert told(check()) == ([], [("ready-mirror-bisect", "note")])


def test_two_modifiers_double_it_too():
    item = coat()
    item.modifiers.new("Once more", "MIRROR")
    assert made(item)[1] == 4 * len(FACES)
    assert told(check()) == ([], [("ready-mirror-twice", "warning")])
    item.modifiers[1].show_viewport = False
    assert told(check()) == ([], [])


def test_an_armature_above_the_mirror_poses_both_halves_alike():
    rig = add_rig("Keeper")
    enter(rig)
    for side, x in (("L", 0.1), ("R", -0.1)):
        bone = rig.data.edit_bones.new(f"Arm.{side}")
        bone.head, bone.tail = (x, 0, 0.3), (2 * x, 0, 0.3)
    bpy.ops.object.mode_set(mode="OBJECT")
    item = coat()
    item.parent = rig
    for side in "LR":
        item.vertex_groups.new(name=f"Arm.{side}")
    item.vertex_groups["Arm.L"].add(range(len(MESH.points)), 1.0, "REPLACE")
    item.modifiers.new("Armature", "ARMATURE").object = rig
    item.modifiers.move(1, 0)
    rig.pose.bones["Arm.L"].location.y = 0.5
    places, _ = made(item)
    assert abs(places[:, 0].max() + places[:, 0].min()) < 1e-4 and places[:, 0].max() > 0.4
    assert told(check()) == ([], [("ready-mirror-order", "warning")])
    item.modifiers.move(0, 1)
    places, _ = made(item)
    assert abs(places[:, 0].max() + places[:, 0].min()) > 0.1
    assert told(check()) == ([], [])


def crease(item):
    """How far the finished surface bends at the centre front, over its usual bend beside it, in degrees."""
    bpy.context.view_layer.update()
    mesh = item.evaluated_get(bpy.context.evaluated_depsgraph_get()).to_mesh()
    front = [f for f in mesh.polygons if f.center.y < -0.05 and 0.15 < f.center.z < 0.3 and f.center.x > 0]
    nearest = min(front, key=lambda f: f.center.x)
    return np.degrees(np.arcsin(abs(nearest.normal.x)))


def test_subdivision_above_the_mirror_leaves_a_crease():
    points = MESH.points.copy()
    columns = np.arange(NUMBER.shape[1]) / (NUMBER.shape[1] - 1)
    points[NUMBER.ravel(), 1] -= np.tile(0.3 * np.clip(1 - 8 * columns, 0, 1), len(NUMBER))
    item = coat(points)
    item.modifiers.new("Smooth", "SUBSURF").levels = 2
    below = crease(item)
    assert told(check()) == ([], [])
    item.modifiers.move(1, 0)
    assert crease(item) > below + 5.0
    assert told(check()) == ([], [("ready-mirror-order", "warning")])


def test_solidify_above_the_mirror_leaves_a_wall():
    item = coat()
    item.modifiers.new("Thick", "SOLIDIFY").thickness = 0.02

    def inside():
        bpy.context.view_layer.update()
        mesh = item.evaluated_get(bpy.context.evaluated_depsgraph_get()).to_mesh()
        return sum(all(abs(mesh.vertices[v].co.x) < 4e-3 for v in f.vertices) for f in mesh.polygons)

    assert inside() == 0 and told(check()) == ([], [])
    item.modifiers.move(1, 0)
    assert inside() > 0
    assert told(check()) == ([], [("ready-mirror-order", "warning")])


@pytest.mark.parametrize("mirrored", [True, False])
def test_groups_that_the_modifier_does_not_mirror(mirrored):
    item = coat()
    for side in "LR":
        item.vertex_groups.new(name=f"Arm.{side}")
    item.vertex_groups["Arm.L"].add(NUMBER[6, 3:20].tolist(), 1.0, "REPLACE")
    item.modifiers[0].use_mirror_vertex_groups = mirrored
    bpy.context.view_layer.update()
    mesh = item.evaluated_get(bpy.context.evaluated_depsgraph_get()).to_mesh()
    follows = {g.group for v in mesh.vertices if v.co.x < -0.01 for g in v.groups if g.weight > 0}
    assert follows == {int(mirrored)}
    assert told(check()) == ([], [("ready-mirror-groups", "warning")] * (not mirrored))


def test_what_is_read_of_a_modifier_and_its_object():
    item = coat()
    other = bpy.data.objects.new("Shared", item.data)
    bpy.context.scene.collection.objects.link(other)
    item.modifiers.new("Smooth", "SUBSURF")
    item.modifiers.move(1, 0)
    item.modifiers["Mirror"].use_clip = True
    item.scale, item.rotation_euler.x = (2.0, 2.0, -2.0), 0.2
    item.keyframe_insert("location")
    from evenfold.host.read.mesh import read_surface
    from mathutils import Matrix

    surface = read_surface(item, Matrix.Identity(4), Matrix.Identity(4))
    (mirror,) = surface.mirrors
    assert (mirror.clip, mirror.bisect, mirror.about, mirror.groups, mirror.index) == (True, 0, None, True, 1)
    assert mirror.before == (("Smooth", "SUBSURF"),) and mirror.merge_limit == pytest.approx(0.001)
    assert surface.placed.scale == (2.0, 2.0, -2.0) and surface.placed.turned
    assert (surface.placed.users, surface.placed.animated, surface.placed.linked) == (2, True, False)


def test_a_changed_modifier_puts_the_result_out_of_date():
    item = coat()
    before = fingerprint(item)
    assert same(before, fingerprint(item))
    lantern = bpy.data.objects.new("Lantern", None)
    bpy.context.scene.collection.objects.link(lantern)
    for name, value in (("use_mirror_merge", False), ("merge_threshold", 0.02), ("show_viewport", False), ("mirror_object", lantern)):
        old = getattr(item.modifiers[0], name)
        setattr(item.modifiers[0], name, value)
        assert not same(before, fingerprint(item)), name
        setattr(item.modifiers[0], name, old)
        assert same(before, fingerprint(item))
    lantern.location.x = 0.1
    item.modifiers[0].mirror_object = lantern
    here = fingerprint(item)
    lantern.location.x = 0.2
    assert not same(here, fingerprint(item))


def test_names_outside_the_figure_are_read():
    rig = add_rig("Keeper")
    item = coat()
    item.parent = rig
    add_rig("Cook")
    bpy.context.scene.collection.objects.link(bpy.data.objects.new("Head", None))
    bpy.context.scene.view_layers[0].update()
    from evenfold.host.read import find_figures, read_figure

    source = next(one for one in find_figures(bpy.context.scene) if one.armature_name == "Keeper")
    outside = dict.fromkeys(read_figure(source, bpy.context.scene).outside)
    assert set(outside) == {
        ("Cook", "an object"), ("Spine", "a bone of the armature Cook"),
        ("Head", "a bone of the armature Cook"), ("Head", "an object"),
    }


def test_the_panel_lists_what_stands_before_hand_off():
    from evenfold.ui import state
    from evenfold.ui.panels import ready

    class Boxed(Recorder):
        def box(self):
            return self

        def column(self, **_options):
            return self

    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    try:
        item = coat()
        item.modifiers[0].use_mirror_merge = False
        bpy.context.view_layer.objects.active = item
        item.select_set(True)
        layout = Boxed()
        panel = type("Drawn", (), {"layout": layout})()
        ready.EVENFOLD_PT_ready.draw(panel, bpy.context)
        assert "Not checked yet" in " ".join(layout.kept)
        layout.kept.clear()
        bpy.ops.evenfold.check_symmetry()
        assert state.of(bpy.context.scene).check.within is not None
        ready.EVENFOLD_PT_ready.draw(panel, bpy.context)
        assert "switch Merge on" in " ".join(layout.kept)
        item.modifiers[0].use_mirror_merge = True
        bpy.ops.evenfold.check_symmetry()
        layout.kept.clear()
        ready.EVENFOLD_PT_ready.draw(panel, bpy.context)
        assert "nothing stands in the way" in " ".join(layout.kept)
    finally:
        evenfold.unregister()
    assert read_only().name
