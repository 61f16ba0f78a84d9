"""Excusing, forgetting and baselines through the operators, in the background. Invented figures."""

import bpy
import evenfold
import numpy as np
import pytest
from evenfold.core.marks import EXCUSED
from evenfold.host import allowances
from evenfold.ui import panels, state
from evenfold.ui.overlay import findings
from host.scenes import add_rig, deform
from host.test_ui import Recorder, keeper, mode, sided


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    bpy.context.preferences.edit.use_global_undo = True
    yield
    evenfold.unregister()


def checked(count: int):
    """A ball with some vertices pushed, checked; (object, listed vertices)."""
    item = keeper()
    pushed = sided(item)[: 8 * count : 8]
    for vertex in pushed:
        item.data.vertices[vertex].co.z += 0.07
    bpy.ops.evenfold.check_symmetry()
    return item, listed()


def listed() -> set[int]:
    objects = state.of(bpy.context.scene).check.objects
    return {n for entry in objects for f in entry.findings for n in f.elements.tolist()}


def excused() -> int:
    return sum(entry.allowed for entry in state.of(bpy.context.scene).check.objects)


def test_excusing_a_finding_checks_again_and_leaves_nothing_listed() -> None:
    item, before = checked(3)
    assert len(before) == 3
    bpy.ops.evenfold.allow_finding(object_index=0, finding_index=0, reason="a badge")
    assert listed() == set()
    assert excused() == 3
    assert not state.of(bpy.context.scene).stale
    (one,) = allowances.stored_on(item)
    assert one.reason == "a badge"
    bpy.ops.evenfold.forget_allowance(object_name=item.name, mark=one.mark)
    assert listed() == before
    assert allowances.stored_on(item) == ()


def test_an_excused_finding_is_listed_again_once_it_grows() -> None:
    item, before = checked(2)
    bpy.ops.evenfold.allow_finding(object_index=0, finding_index=0, reason="a badge")
    assert listed() == set()
    item.data.vertices[min(before)].co.z += 0.05
    bpy.ops.evenfold.check_symmetry()
    assert listed() == {min(before)}


def test_nothing_is_excused_without_a_reason() -> None:
    item, before = checked(2)
    for reason in ("", "  "):
        with pytest.raises(RuntimeError, match="type a reason"):
            bpy.ops.evenfold.allow_finding(object_index=0, finding_index=0, reason=reason)
        with pytest.raises(RuntimeError, match="type a reason"):
            bpy.ops.evenfold.allow_layer(layer="surface", reason=reason)
        with pytest.raises(RuntimeError, match="type a reason"):
            bpy.ops.evenfold.allow_named(kind="object", reason=reason)
    assert allowances.stored_on(item) == () and listed() == before


def test_the_check_tells_of_names_that_the_host_reads_otherwise() -> None:
    item, _ = checked(1)
    told = {one.code for one in state.of(bpy.context.scene).check.readiness}
    assert "ready-names" not in told
    item.vertex_groups.new(name="Bright")
    bpy.ops.evenfold.check_symmetry()
    (one,) = [one for one in state.of(bpy.context.scene).check.readiness if one.code == "ready-names"]
    assert (one.level, one.subject) == ("note", item.name) and "Bright" in one.message


def test_excusing_the_selection_covers_it_and_no_more() -> None:
    item, before = checked(3)
    mode("EDIT")
    bpy.ops.evenfold.select_finding(object_index=0, finding_index=0)
    mode("OBJECT")
    first = min(before)
    for vertex in item.data.vertices:
        vertex.select = vertex.index == first
    for edge in item.data.edges:
        edge.select = False
    for face in item.data.polygons:
        face.select = False
    mode("EDIT")
    bpy.ops.evenfold.allow_selection(reason="a dent")
    assert listed() == before - {first}
    (one,) = allowances.read_allowances([item])
    assert one.vertices.tolist() == [first]


def test_the_panel_shows_reason_count_and_what_is_idle() -> None:
    item, _ = checked(2)
    bpy.ops.evenfold.allow_finding(object_index=0, finding_index=0, reason="a badge")
    item.vertex_groups.new(name="Patch").add([int(len(item.data.vertices) - 1)], 1.0, "REPLACE")
    bpy.ops.evenfold.allow_named(kind="group", reason="a patch")
    shown = drawn(panels.allowed.EVENFOLD_PT_allowed)
    assert "a badge" in shown and "a patch" in shown
    assert "excuses 2" in shown
    assert "it can go" in " ".join(shown)
    assert any("2 excused as meant" in text for text in drawn(panels.symmetry.EVENFOLD_PT_symmetry))


def drawn(panel):
    recorder = Recorder()
    holder = type("Holder", (), {"layout": recorder})()
    panel.draw(holder, bpy.context)
    return [entry for entry in recorder.kept if isinstance(entry, str)]


def test_a_whole_layer_is_excused_for_the_figure() -> None:
    checked(2)
    bpy.ops.evenfold.allow_layer(layer="surface", reason="still sculpting")
    assert listed() == set()
    assert excused() == 2


def test_showing_an_allowance_selects_what_it_covers() -> None:
    item, before = checked(2)
    bpy.ops.evenfold.allow_finding(object_index=0, finding_index=0, reason="a badge")
    (one,) = allowances.stored_on(item)
    bpy.ops.evenfold.show_allowance(object_name=item.name, mark=one.mark)
    item.update_from_editmode()
    assert {v.index for v in item.data.vertices if v.select} == before


def test_a_baseline_tells_new_from_inherited_in_the_panel() -> None:
    item, before = checked(2)
    bpy.ops.evenfold.save_baseline()
    findings = state.of(bpy.context.scene).check.objects[0].findings
    assert [finding.new for finding in findings] == [False]
    fresh = next(v for v in sided(item)[4:] if v not in before and abs(v - min(before)) > 3)
    item.data.vertices[fresh].co.y += 0.09
    bpy.ops.evenfold.check_symmetry()
    told = {f.new: f.elements.tolist() for f in state.of(bpy.context.scene).check.objects[0].findings}
    assert set(told) == {True, False}
    assert set(told[False]) == before
    shown = " ".join(drawn(panels.symmetry.EVENFOLD_PT_symmetry))
    assert "1 new difference, 2 inherited" in shown
    bpy.ops.evenfold.forget_baseline()
    assert {f.new for f in state.of(bpy.context.scene).check.objects[0].findings} == {None}


def test_excusing_asks_for_a_selection_first() -> None:
    item, _ = checked(1)
    with pytest.raises(RuntimeError, match="edit mode"):
        bpy.ops.evenfold.allow_selection(reason="x")
    mode("EDIT")
    bpy.ops.mesh.select_all(action="DESELECT")
    with pytest.raises(RuntimeError, match="No vertex is selected"):
        bpy.ops.evenfold.allow_selection(reason="x")
    assert np.array_equal(allowances.read_allowances([item]), ())


def test_painting_weights_or_editing_a_key_makes_the_result_out_of_date() -> None:
    item, _ = checked(1)
    assert not state.of(bpy.context.scene).stale
    item.vertex_groups.new(name="Arm.L").add([0], 0.5, "REPLACE")
    state.compare(bpy.context.scene)
    assert state.of(bpy.context.scene).stale
    bpy.ops.evenfold.check_symmetry()
    item.shape_key_add(name="Basis")
    smile = item.shape_key_add(name="smile")
    bpy.ops.evenfold.check_symmetry()
    smile.points[0].co.x += 0.1
    state.compare(bpy.context.scene)
    assert state.of(bpy.context.scene).stale


def excused_marks():
    """Points, lines and words of what is meant to differ, as drawn on the model."""
    scene = bpy.context.scene
    scene.evenfold_findings.show = True
    picture = findings.source(scene)
    (view,) = picture.views
    here = [np.allclose(one.colours[0], EXCUSED) for one in (*view.dots, *view.strokes)]
    dots = [one.points for one, own in zip(view.dots, here[: len(view.dots)], strict=True) if own]
    lines = [one.segments for one, own in zip(view.strokes, here[len(view.dots) :], strict=True) if own]
    return dots, lines, [words for colour, words in picture.legend.entries if np.allclose(colour, EXCUSED)]


def test_a_key_that_is_excused_is_marked_where_it_moves_vertices() -> None:
    item = keeper()
    item.location = (0.5, 0.0, 2.0)
    item.shape_key_add(name="Basis")
    grin = item.shape_key_add(name="grin")
    moved = sided(item)[:3]
    for vertex in moved:
        grin.points[vertex].co.z += 0.1
    bpy.context.view_layer.update()
    bpy.ops.evenfold.check_symmetry()
    item.active_shape_key_index = 1
    bpy.ops.evenfold.allow_named(kind="key", reason="a wry grin")
    (points,), lines, words = excused_marks()
    wanted = [item.matrix_world @ item.data.vertices[vertex].co for vertex in moved]
    assert np.allclose(sorted(points.tolist()), sorted(map(tuple, wanted)), atol=1e-5) and not lines
    assert words == ["moved by a key that is meant to differ: 3 vertices"]
    (row,) = allowances.stored_on(item)
    bpy.ops.evenfold.forget_allowance(object_name=item.name, mark=row.mark)
    assert excused_marks() == ([], [], [])


def test_bones_that_are_excused_are_marked_from_head_to_tail() -> None:
    rig, body = add_rig("Rig"), keeper()
    deform(body, rig, "Spine")
    rig.location.y = 1.5
    mode_of(rig, "EDIT")
    lamp = rig.data.edit_bones.new("Lamp.L")
    lamp.head, lamp.tail, lamp.parent = (0.3, 0, 1), (0.6, 0, 1.2), rig.data.edit_bones["Spine"]
    glass = rig.data.edit_bones.new("Glass.L")
    glass.head, glass.tail, glass.parent = (0.6, 0, 1.2), (0.6, 0, 1.4), lamp
    mode_of(rig, "OBJECT")
    bpy.ops.evenfold.check_symmetry()
    rig.data.bones.active = rig.data.bones["Lamp.L"]
    bpy.ops.evenfold.allow_named(kind="bones", reason="a lamp in one hand")
    (ends,), (lines,), words = excused_marks()
    wanted = [[rig.matrix_world @ end for end in (bone.head_local, bone.tail_local)]
              for bone in rig.data.bones if bone.name in ("Lamp.L", "Glass.L")]
    assert np.allclose(lines, wanted, atol=1e-5) and words == ["meant to differ: 2 bones"]
    joints = {tuple(round(value, 4) for value in end) for bone in wanted for end in bone}
    assert {tuple(round(value, 4) for value in end) for end in ends.tolist()} == joints and len(joints) == 3
    rig.hide_set(True)
    assert excused_marks() == ([], [], []), "a hidden armature has no marks"


def mode_of(item, name):
    bpy.context.view_layer.objects.active = item
    bpy.ops.object.mode_set(mode=name)


def asked(name: str, **settings) -> list[str]:
    """What the dialog of an operator says before it asks for the reason."""
    from evenfold.ui.operators import allowed

    kind = getattr(allowed, f"EVENFOLD_OT_{name}")
    recorder = Recorder()
    dialog = type("Dialog", (), {"layout": recorder, "reason": "", **settings, "what": kind.what})()
    recorder.prop = lambda *_arguments, **_options: None
    allowed._WithReason.draw(dialog, bpy.context)
    return recorder.kept


def test_the_dialog_names_what_would_be_excused() -> None:
    item, before = checked(3)
    assert asked("allow_finding", object_index=0, finding_index=0) == ["Keeper: 3 vertices off their mirror image"]
    assert asked("allow_named", kind="object") == ["Keeper"]
    assert asked("allow_layer", layer="uv") == ["UV Maps"]
    assert asked("allow_named", kind="key") == ["Keeper has no active shape key: choose one first."]
    mode("EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    assert asked("allow_selection") == [f"Keeper: {len(item.data.vertices):,}"]
    mode("OBJECT")
    assert len(before) == 3
