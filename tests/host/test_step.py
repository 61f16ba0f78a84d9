"""Stepping through findings and their marks, in the background. All figures are invented."""

import bpy
import evenfold
import numpy as np
import pytest
from evenfold.host.fingerprint import fingerprint
from evenfold.host.view import look_at, view_of
from evenfold.ui import looking, panels, state
from evenfold.ui.overlay import findings, manager
from evenfold.ui.overlay.buffers import nearer
from host.test_ui import chosen, drawn, keeper, mode, sided

PUSHES = (0.02, 0.06, 0.04)


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


def pushed_keeper():
    """A ball with three single vertices pushed up; (object, their numbers, the worst first)."""
    item = keeper()
    numbers = sided(item)[:24:8]
    for vertex, push in zip(numbers, PUSHES, strict=True):
        item.data.vertices[vertex].co.z += push
    bpy.ops.evenfold.check_symmetry()
    return item, [numbers[place] for place in np.argsort(PUSHES)[::-1]]


def with_buttons():
    """A ball with two strips of quads beside it on one side only, checked; the strips' vertices."""
    item = keeper()
    mesh = item.data
    ball = len(mesh.vertices)
    points, faces = [tuple(v.co) for v in mesh.vertices], [tuple(f.vertices) for f in mesh.polygons]
    for start, length in ((0.8, 2), (1.6, 4)):
        first = len(points)
        points += [(start + 0.1 * i, y, 0.1) for i in range(length + 1) for y in (0.0, 0.1)]
        faces += [(first + 2 * i, first + 2 * i + 1, first + 2 * i + 3, first + 2 * i + 2) for i in range(length)]
    mesh.clear_geometry()
    mesh.from_pydata(points, [], faces)
    bpy.ops.evenfold.check_symmetry()
    small, large = set(range(ball, ball + 6)), set(range(ball + 6, ball + 16))
    return item, small, large


def place_of(code: str) -> tuple[int, int]:
    objects = state.of(bpy.context.scene).check.objects
    return next(
        (number, place) for number, entry in enumerate(objects)
        for place, finding in enumerate(entry.findings) if finding.code == code
    )


def step(at=None, **more) -> looking.Seen:
    words = {} if at is None else {"object_index": at[0], "finding_index": at[1]}
    bpy.ops.evenfold.step_finding(**words, **more)
    return looking.seen(bpy.context.scene)


def stepped_vertices(seen: looking.Seen) -> set[int]:
    return set(seen.finding.elements[seen.laid.rows(seen.step)].tolist())


def everything(item) -> tuple:
    """What the file holds: counts of data blocks, the object's mark, custom properties, selection."""
    kinds = ("objects", "meshes", "scenes", "collections", "armatures", "materials", "texts", "images")
    return (
        [len(getattr(bpy.data, kind)) for kind in kinds], fingerprint(item), item.mode,
        sorted(item.keys()), sorted(item.data.keys()), sorted(item.data.attributes.keys()),
        [v.select for v in item.data.vertices], [o.select_get() for o in bpy.context.view_layer.objects],
        tuple(item.vertex_groups.keys()), sorted(bpy.context.scene.collection.objects.keys()),
    )


def test_steps_go_from_the_worst_to_the_least_and_around_with_the_view_on_each() -> None:
    item, order = pushed_keeper()
    before = everything(item)
    view = view_of(bpy.context)
    at = place_of("drifted")
    seen = []
    for _turn in range(4):
        now = step(at)
        (vertex,) = stepped_vertices(now)
        seen.append(vertex)
        here = np.array(item.matrix_world @ item.data.vertices[vertex].co)
        wanted = here - (0.0, 0.0, dict(zip(sorted(order), PUSHES, strict=True))[vertex] / 2)
        assert np.allclose(view.view_location, wanted, atol=1e-5)
    assert seen == [*order, order[0]]
    assert stepped_vertices(step(at, direction="PREVIOUS")) == {order[-1]}
    assert stepped_vertices(step()) == {order[0]}
    assert everything(item) == before


def test_stepping_works_in_edit_mode_and_leaves_the_selection() -> None:
    item, order = pushed_keeper()
    mode("EDIT")
    bpy.ops.mesh.select_all(action="DESELECT")
    assert not state.of(bpy.context.scene).stale
    step(place_of("drifted"))
    step()
    assert item.mode == "EDIT" and chosen(item) == set()
    bpy.ops.evenfold.step_finding(select=True)
    assert chosen(item) == {order[2]}
    bpy.ops.evenfold.step_finding(direction="PREVIOUS")
    assert chosen(item) == {order[2]}
    bpy.ops.evenfold.select_step()
    assert chosen(item) == {order[1]}


def test_what_has_no_partner_is_stepped_through_island_by_island() -> None:
    item, small, large = with_buttons()
    first = step(place_of("unpaired"))
    assert first.laid.steps == 2
    assert stepped_vertices(first) == large
    assert stepped_vertices(step()) == small
    bpy.ops.evenfold.select_step()
    assert chosen(item) == small


def test_a_selection_grows_to_its_island() -> None:
    item, small, large = with_buttons()
    step(place_of("unpaired"))
    bpy.ops.evenfold.select_island()
    assert chosen(item) == large
    mode("OBJECT")
    for parts in (item.data.edges, item.data.polygons):
        parts.foreach_set("select", [False] * len(parts))
    item.data.vertices.foreach_set("select", [v.index == min(small) for v in item.data.vertices])
    mode("EDIT")
    bpy.ops.evenfold.select_island()
    assert chosen(item) == small


def test_polls_say_why_not() -> None:
    assert not bpy.ops.evenfold.step_finding.poll()
    keeper()
    bpy.ops.evenfold.check_symmetry()
    assert not bpy.ops.evenfold.step_finding.poll()
    item, _ = pushed_keeper()
    assert bpy.ops.evenfold.step_finding.poll()
    assert not bpy.ops.evenfold.select_island.poll()
    step(place_of("drifted"))
    assert bpy.ops.evenfold.select_island.poll()
    item.data.vertices[0].co.y += 0.3
    state.compare(bpy.context.scene)
    assert not bpy.ops.evenfold.step_finding.poll()
    assert not bpy.ops.evenfold.select_island.poll()


def test_the_picture_is_the_same_record_until_something_changes() -> None:
    item, _ = pushed_keeper()
    scene = bpy.context.scene
    assert manager.pictures(scene) == {}
    scene.evenfold_findings.show = True
    first = manager.pictures(scene)["findings"]
    assert manager.pictures(scene)["findings"] is first
    assert sum(len(dots.points) for dots in first.views[0].dots) == 3
    assert sum(len(one.segments) for one in first.views[0].strokes) == 3
    assert "step" not in manager.pictures(scene)
    step(place_of("drifted"))
    both = manager.pictures(scene)
    assert both["findings"] is first
    assert [len(dots.points) for dots in both["step"].views[0].dots] == [1]
    assert both["step"].views[0].labels[0].text.startswith("1 of 3: 6 cm")
    step()
    assert manager.pictures(scene)["step"] is not both["step"]
    item.hide_set(True)
    hidden = manager.pictures(scene)
    assert "step" not in hidden
    assert all(not len(dots.points) for dots in hidden["findings"].views[0].dots)


def test_only_the_finding_stepped_through_is_marked_on_request() -> None:
    _, small, large = with_buttons()
    scene = bpy.context.scene
    scene.evenfold_findings.show = True
    scene.evenfold_findings.kinds = "ONE"
    nothing = manager.pictures(scene)["findings"]
    assert nothing.views == () and nothing.legend.title == findings.NOT_YET
    step(place_of("unpaired"))
    shown = manager.pictures(scene)["findings"]
    assert sum(len(dots.points) for dots in shown.views[0].dots) == len(small | large)
    assert shown.legend.title == f"{len(small | large)} vertices without a partner"


def test_a_result_out_of_date_draws_nothing_but_says_so() -> None:
    item, _ = pushed_keeper()
    scene = bpy.context.scene
    step(place_of("drifted"))
    item.data.vertices[0].co.y += 0.3
    state.compare(scene)
    shown = manager.pictures(scene)
    assert set(shown) == {"findings"}
    assert shown["findings"].views == () and shown["findings"].legend.title == findings.STALE


def test_marks_are_those_of_the_check_not_of_the_live_mesh() -> None:
    item, order = pushed_keeper()
    scene = bpy.context.scene
    scene.evenfold_findings.show = True
    before = {tuple(p) for dots in manager.pictures(scene)["findings"].views[0].dots for p in dots.points}
    findings.forget()
    item.data.vertices[order[0]].co.x += 5.0
    after = {tuple(p) for dots in manager.pictures(scene)["findings"].views[0].dots for p in dots.points}
    assert after == before and len(before) == 3


def test_the_panel_shows_the_step_and_what_it_means_in_motion() -> None:
    pushed_keeper()
    shown = drawn(panels.symmetry.EVENFOLD_PT_symmetry)
    assert "evenfold.step_finding" in shown and "evenfold.select_island" not in shown
    step(place_of("drifted"))
    shown = drawn(panels.symmetry.EVENFOLD_PT_symmetry)
    assert "1 of 3: 6 cm" in shown
    assert "silhouette differ left" in " ".join(shown)
    bpy.ops.evenfold.stop_stepping()
    assert "1 of 3: 6 cm" not in drawn(panels.symmetry.EVENFOLD_PT_symmetry)


def test_long_lists_are_folded_and_open_on_request(monkeypatch) -> None:
    pushed_keeper()
    assert "3 vertices off their mirror image" in drawn(panels.symmetry.EVENFOLD_PT_symmetry)
    monkeypatch.setattr(looking, "FEW", 0)
    shown = drawn(panels.symmetry.EVENFOLD_PT_symmetry)
    assert "3 vertices off their mirror image" not in shown and "1 kind of findings, folded" in shown
    bpy.ops.evenfold.fold_object(object_index=0)
    assert "3 vertices off their mirror image" in drawn(panels.symmetry.EVENFOLD_PT_symmetry)
    bpy.ops.evenfold.fold_object(object_index=0)
    assert "3 vertices off their mirror image" not in drawn(panels.symmetry.EVENFOLD_PT_symmetry)


def test_the_view_leaves_the_camera_and_keeps_its_direction() -> None:
    view = view_of(bpy.context)
    turned = view.view_rotation.copy()
    view.view_perspective = "CAMERA"
    look_at(view, np.array([1.0, 2.0, 3.0]), 0.5, 2.0)
    assert view.view_perspective == "PERSP"
    assert tuple(view.view_location) == (1.0, 2.0, 3.0)
    assert view.view_distance == pytest.approx(2.5)
    assert (view.view_rotation - turned).magnitude < 1e-6
    look_at(view, np.array([1.0, 2.0, 3.0]), 0.0, 2.0)
    assert view.view_distance == pytest.approx(1.0)


def seen_at(projection: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Pixel place and depth, -1 to 1, of a place in the viewer's space."""
    flat = projection @ np.append(place, 1.0)
    return flat[:3] / flat[3]


@pytest.mark.parametrize("perspective", [False, True])
def test_lifted_marks_stay_at_their_pixel_and_come_nearer(perspective) -> None:
    near, far = 0.1, 100.0
    if perspective:
        depth = [[0, 0, -(far + near) / (far - near), -2 * far * near / (far - near)], [0, 0, -1, 0]]
    else:
        depth = [[0, 0, -2 / (far - near), -(far + near) / (far - near)], [0, 0, 0, 1]]
    projection = np.array([[1.5, 0, 0, 0], [0, 1.5, 0, 0], *depth], float)
    for place in np.random.default_rng(0).uniform((-1, -1, -9), (1, 1, -2), (20, 3)):
        lifted = (np.array(nearer(0.02, perspective)) @ np.append(place, 1.0))[:3]
        before, after = seen_at(projection, place), seen_at(projection, lifted)
        assert np.allclose(after[:2], before[:2])
        assert after[2] < before[2]
        wanted = 0.02 * abs(place[2]) if perspective else 0.02
        assert lifted[2] - place[2] == pytest.approx(wanted, rel=1e-4)
