"""Keeping a figure current while it is edited, in the background. All figures are invented.

Timers do not fire here: their function, and the turns it takes, are called directly.
"""

# isort: off
import bpy
import bmesh  # exists only once bpy is there

# isort: on
import evenfold
import numpy as np
import pytest
from evenfold.core.findings import Proportion
from evenfold.core.proportion import measure
from evenfold.host.read.live import glance
from evenfold.ui import live, state
from evenfold.ui.live import session as sessions
from evenfold.ui.live import watch
from evenfold.ui.overlay import manager
from host.test_ui import keeper, mode, sided

LONG = 10.0


class Recorder:
    """Stands in for a layout: keeps texts and the operators of buttons."""

    def __init__(self, kept=None):
        self.kept = [] if kept is None else kept

    def label(self, text="", **_options):
        self.kept.append(text)

    def prop(self, owner, name, **_options):
        assert name in owner.bl_rna.properties

    def operator(self, name, **_options):
        group, function = name.split(".")
        getattr(getattr(bpy.ops, group), function).get_rna_type()
        self.kept.append(name)
        return type("Options", (), {})()

    def operator_menu_enum(self, name, _field, **_options):
        self.operator(name)

    def _part(self, **_options):
        return type(self)(self.kept)

    box = row = column = split = _part


@pytest.fixture(autouse=True)
def addon(monkeypatch):
    monkeypatch.setattr(sessions, "QUICK", 4.0)
    monkeypatch.setattr(sessions, "LONG", 4.0)
    monkeypatch.setattr(sessions, "measure", lambda _figure, _settings: Proportion())
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


def on(scene=None):
    assert bpy.ops.evenfold.keep_current() == {"FINISHED"}
    return live.session_of(scene or bpy.context.scene)


def move(item, number, by):
    """Move a vertex in whatever mode the object is."""
    if item.data.is_editmode:
        edit = bmesh.from_edit_mesh(item.data)
        edit.verts.ensure_lookup_table()
        edit.verts[number].co += by_vector(by)
        bmesh.update_edit_mesh(item.data)
    else:
        item.data.vertices[number].co += by_vector(by)
        item.data.update()
    bpy.context.view_layer.update()


def by_vector(by):
    from mathutils import Vector

    return Vector(by)


def rest(seconds=0.5, scene=None):
    live.turn(scene or bpy.context.scene, seconds)
    return live.session_of(scene or bpy.context.scene)


def drawn():
    recorder = Recorder()
    panel = type("Panel", (), {"layout": recorder})()
    evenfold.ui.panels.live.EVENFOLD_PT_live.draw(panel, bpy.context)
    return [*recorder.kept, " ".join(recorder.kept)]


def handlers():
    return sum(handler in table for table, handler in watch._HANDLERS)


@pytest.mark.parametrize("where", ["OBJECT", "EDIT"])
def test_a_moved_vertex_is_counted_and_marked_and_nothing_else(where):
    item = keeper()
    number = sided(item)[3]
    mode(where)
    assert on().now.counts == {}
    move(item, number, (0.0, 0.03, 0.0))
    session = rest()
    (finding,) = [f for f in session.now.result.objects[0].findings if f.code != "near-miss"]
    assert (finding.code, finding.elements.tolist()) == ("drifted", [number])
    assert session.now.worst == pytest.approx(0.03, rel=1e-3)
    move(item, number, (0.0, -0.03, 0.0))
    assert rest().now.counts == {}


def test_several_meshes_edited_at_once_are_each_looked_at():
    first, second = keeper("Cook"), keeper("Apprentice", location=(0.0, 3.0, 0.0))
    first.select_set(True)
    left = sided(first)
    bpy.context.scene.evenfold.figure_from = "SELECTED"
    session = on()
    assert {one.name for one in session.kept.figure.surfaces} == {"Cook", "Apprentice"}
    bpy.ops.object.mode_set(mode="EDIT")
    assert first.data.is_editmode and second.data.is_editmode
    move(first, left[5], (0.0, 0.02, 0.0))
    move(second, left[9], (0.0, 0.02, 0.0))
    session = rest()
    told = {o.name: [f.elements.tolist() for f in o.findings if f.code == "drifted"] for o in session.now.result.objects}
    assert told == {"Cook": [[left[5]]], "Apprentice": [[left[9]]]}


@pytest.mark.parametrize("modifier", [None, "SUBSURF", "MIRROR"])
@pytest.mark.parametrize("active", [None, 0, 1])
def test_edit_mode_is_read_as_it_is_and_neutral(modifier, active):
    item = keeper()
    if active is not None:
        item.shape_key_add(name="Basis", from_mix=False)
        smile = item.shape_key_add(name="Smile", from_mix=False)
        smile.points[4].co.z += 0.2
        item.active_shape_key_index = active
    if modifier:
        item.modifiers.new("Shaping", modifier)
    neutral = np.array([v.co[:] for v in item.data.vertices], np.float32)
    mode("EDIT")
    move(item, 2, (0.125, 0.0, 0.0))
    seen = glance(item, bpy.context.view_layer)
    if active != 1:
        neutral[2, 0] += np.float32(0.125)
    assert np.allclose(seen.positions, neutral, atol=1e-6)
    assert seen.key == ("Smile" if active == 1 else "")
    assert (seen.edges is None) == (modifier is not None)


def test_another_key_being_edited_is_said_and_only_the_neutral_shape_counts():
    item = keeper()
    item.shape_key_add(name="Basis", from_mix=False)
    item.shape_key_add(name="Smile", from_mix=False)
    item.active_shape_key_index = 1
    on()
    mode("EDIT")
    move(item, 4, (0.0, 0.05, 0.0))
    session = rest()
    assert session.now.counts == {} and session.keys == ("Smile",)
    assert any("Smile" in text and "neutral" in text for text in drawn())
    mode("OBJECT")
    bpy.context.view_layer.update()
    assert rest().keys == ()


def test_new_vertices_are_paired_at_rest_and_measured_after_edit_mode():
    item = keeper()
    on()
    mode("EDIT")
    edit = bmesh.from_edit_mesh(item.data)
    edit.faces.ensure_lookup_table()
    face = max(edit.faces, key=lambda one: one.calc_center_median().x)
    bmesh.ops.poke(edit, faces=[face])
    bmesh.update_edit_mesh(item.data)
    bpy.context.view_layer.update()
    session = rest(0.5)
    assert "pair" in session.owed and session.now.counts == {}
    session = rest(LONG)
    assert session.now.counts == {"unpaired": 1} and "anew" in session.owed
    assert any("leave Edit Mode" in text for text in drawn())
    mode("OBJECT")
    bpy.context.view_layer.update()
    session = rest(LONG)
    assert session.now.counts == {"unpaired": 1} and not session.owed


def test_heads_are_carried_along_and_measured_at_rest(monkeypatch):
    monkeypatch.setattr(sessions, "measure", measure)
    from host.test_step import pushed_keeper

    item, _ = pushed_keeper()
    session = on()
    before = session.heads
    tall = np.array([v.co.z for v in item.data.vertices])
    for vertex in item.data.vertices:
        if vertex.co.z > tall.min() + 0.6 * np.ptp(tall):
            vertex.co.z += 0.05 * np.ptp(tall)
    item.data.update()
    bpy.context.view_layer.update()
    session = rest(0.5)
    assert "measure" in session.owed
    if before.value is not None:
        assert session.heads.about
    session = rest(LONG)
    assert not session.heads.about and not session.owed
    bpy.ops.evenfold.measure()
    assert session.heads.value == state.of(bpy.context.scene).proportion.heads_tall


def test_a_turn_that_took_too_long_is_given_up_and_said_and_can_be_asked_for():
    item = keeper()
    session = on()
    session.took["check"] = 5.0
    move(item, sided(item)[3], (0.0, 0.03, 0.0))
    assert rest().now.counts == {}
    assert any("5.0 s" in text for text in drawn())
    assert "evenfold.bring_up_to_date" in drawn()
    assert bpy.ops.evenfold.bring_up_to_date() == {"FINISHED"}
    session = live.session_of(bpy.context.scene)
    assert session.now.counts == {"drifted": 1} and not session.passed
    session.took["pair"] = 5.0
    session.owed.add("pair")
    rest(LONG)
    assert "pair" in session.owed and any("pairing takes 5.0 s" in text for text in drawn())


def test_the_findings_of_the_full_check_stay_and_say_whose_they_are():
    item = keeper()
    bpy.ops.evenfold.check_symmetry()
    before = state.of(bpy.context.scene).check
    on()
    move(item, sided(item)[3], (0.0, 0.03, 0.0))
    rest()
    results = state.of(bpy.context.scene)
    assert results.check is before and results.stale
    assert any("last full check" in text for text in drawn())
    move(item, sided(item)[3], (0.0, -0.03, 0.0))
    rest()
    assert not results.stale and not any("last full check" in text for text in drawn())


def test_what_is_excused_is_not_counted():
    item = keeper(moved=())
    number = sided(item)[3]
    move(item, number, (0.0, 0.03, 0.0))
    session = on()
    assert session.now.counts == {"drifted": 1}
    from evenfold.host.allowances import allow_vertices

    allow_vertices(item, np.array([number]), "a scar")
    bpy.ops.evenfold.check_symmetry()
    live.asked(bpy.context.scene)
    assert rest(LONG).now.counts == {}


def test_other_limits_take_effect():
    item = keeper()
    move(item, sided(item)[3], (0.0, 0.03, 0.0))
    assert on().now.counts == {"drifted": 1}
    bpy.context.scene.evenfold.tolerance = 0.1
    bpy.context.view_layer.update()
    assert rest(LONG).now.counts == {}


@pytest.mark.parametrize("what", ["renamed", "moved", "modifier"])
def test_changes_at_large_are_read_anew(what):
    item = keeper()
    on()
    if what == "renamed":
        item.name = "Apprentice"
    elif what == "moved":
        item.location.x = 0.5
    else:
        item.modifiers.new("Mirror", "MIRROR")
    bpy.context.view_layer.update()
    live.look_again(bpy.context.scene)
    assert "anew" in rest(0.5).owed
    session = rest(LONG)
    assert not session.owed and session.kept.figure.surfaces[0].name == item.name


def test_a_deleted_figure_switches_it_off_with_a_reason():
    item = keeper()
    on()
    bpy.data.objects.remove(item)
    bpy.context.view_layer.update()
    assert rest() is None
    assert any("Keeper is gone" in text for text in drawn()) and handlers() == 0


def test_a_figure_taken_out_of_the_scene_but_not_deleted_switches_it_off():
    item = keeper()
    item.use_fake_user = True
    on()
    bpy.context.scene.collection.objects.unlink(item)
    bpy.context.view_layer.update()
    live.look_again(bpy.context.scene)
    assert rest() is None and "Keeper is gone" in live.ended(bpy.context.scene)


def test_an_instanced_figure_is_kept_current_until_its_empty_is_gone():
    item = keeper()
    shown = bpy.data.collections.new("Staff")
    shown.objects.link(item)
    bpy.context.scene.collection.objects.unlink(item)
    empty = bpy.data.objects.new("Stand", None)
    empty.instance_type, empty.instance_collection = "COLLECTION", shown
    bpy.context.scene.collection.objects.link(empty)
    bpy.context.view_layer.objects.active = empty
    bpy.context.view_layer.update()
    on()
    move(item, sided(item)[3], (0.0, 0.03, 0.0))
    live.look_again(bpy.context.scene)
    assert rest().now.counts == {"drifted": 1}
    bpy.data.objects.remove(empty)
    bpy.context.view_layer.update()
    live.look_again(bpy.context.scene)
    assert rest() is None and "Keeper is gone" in live.ended(bpy.context.scene)


def test_a_figure_that_is_no_mesh_any_more_switches_it_off():
    item = keeper()
    edit = bmesh.new()
    edit.from_mesh(item.data)
    edit.edges.new([edit.verts.new((0.0, 0.0, height)) for height in (1.0, 2.0)])
    edit.to_mesh(item.data)
    edit.free()
    on()
    assert bpy.ops.object.convert(target="CURVE") == {"FINISHED"}
    bpy.context.view_layer.update()
    live.look_again(bpy.context.scene)
    assert item.type != "MESH" and rest() is None
    assert any("Keeper is no mesh any more" in text for text in drawn()) and handlers() == 0


def test_a_mesh_renamed_in_edit_mode_is_followed_and_read_again_afterwards():
    item = keeper()
    number = sided(item)[3]
    mode("EDIT")
    on()
    item.name = "Cook"
    move(item, number, (0.0, 0.03, 0.0))
    live.look_again(bpy.context.scene)
    assert rest(LONG).now.counts == {"drifted": 1}
    mode("OBJECT")
    bpy.context.view_layer.update()
    live.look_again(bpy.context.scene)
    rest()
    session = rest(LONG)
    assert [one.name for one in session.kept.figure.surfaces] == ["Cook"] and not session.owed
    assert session.now.counts == {"drifted": 1}


def test_one_of_several_meshes_deleted_while_edited_is_let_go_afterwards():
    first, second = keeper(), keeper("Cook", location=(0.0, 0.0, 1.0))
    first.select_set(True)
    bpy.context.scene.evenfold.figure_from = "SELECTED"
    mode("EDIT")
    on()
    bpy.data.objects.remove(first)
    bpy.context.view_layer.objects.active = second
    live.look_again(bpy.context.scene)
    assert "anew" in rest(LONG).owed
    mode("OBJECT")
    bpy.context.view_layer.update()
    live.look_again(bpy.context.scene)
    rest()
    session = rest(LONG)
    assert [one.name for one in session.kept.figure.surfaces] == ["Cook"] and not session.owed


def test_off_costs_nothing_and_loading_and_disabling_leave_nothing():
    assert handlers() == 0
    keeper()
    on()
    assert handlers() == len(watch._HANDLERS)
    bpy.ops.evenfold.keep_current()
    assert handlers() == 0 and live.session_of(bpy.context.scene) is None
    on()
    bpy.ops.wm.read_homefile(use_empty=True)
    assert handlers() == 0 and not watch._sessions and not watch._due
    keeper()
    on()
    for _ in range(3):
        evenfold.unregister()
        assert handlers() == 0 and not watch._sessions
        evenfold.register()


def test_scenes_are_kept_apart_and_a_removed_one_is_forgotten(monkeypatch):
    keeper()
    first = bpy.context.scene
    session = on(first)
    second = bpy.data.scenes.new("Lighthouse")
    assert live.session_of(second) is None and live.session_of(first) is session
    watch._sessions[second.session_uid] = session
    bpy.data.scenes.remove(second)
    watch._turn_due()
    assert set(watch._sessions) == {first.session_uid}


def test_undo_is_looked_at():
    item = keeper()
    bpy.ops.ed.undo_push(message="Made")
    on()
    move(item, sided(item)[3], (0.0, 0.03, 0.0))
    bpy.ops.ed.undo_push(message="Moved")
    assert rest().now.counts == {"drifted": 1}
    bpy.ops.ed.undo()
    assert rest().now.counts == {}
    bpy.ops.ed.redo()
    assert rest().now.counts == {"drifted": 1}


def test_the_timer_is_there_only_while_something_is_due(monkeypatch):
    registered = []

    class Timers:
        def is_registered(self, one):
            return one in registered

        def register(self, one, first_interval=0.0):
            registered.append(one)

        def unregister(self, one):
            registered.remove(one)

    monkeypatch.setattr(watch, "in_background", lambda: False)
    monkeypatch.setattr(watch, "timers", Timers())
    clock = [100.0]
    monkeypatch.setattr(watch.time, "monotonic", lambda: clock[0])
    item = keeper()
    session = on()
    assert not registered
    move(item, sided(item)[3], (0.0, 0.03, 0.0))
    assert registered == [watch._turn_due] and session.now.counts == {}
    clock[0] += 0.2
    assert watch._turn_due() == pytest.approx(0.2) and session.now.counts == {}
    clock[0] += 0.25
    wait = watch._turn_due()
    assert session.now.counts == {"drifted": 1} and "measure" in session.owed
    clock[0] += wait
    while watch._turn_due() is not None:
        clock[0] += 0.5
    assert not live.session_of(bpy.context.scene).owed
    bpy.ops.evenfold.keep_current()
    assert not registered


def test_marks_are_drawn_anew_only_on_change_and_only_beside_a_stale_check():
    item = keeper()
    bpy.context.scene.evenfold_findings.show = True
    on()
    assert manager.pictures(bpy.context.scene)["live"] is manager.pictures(bpy.context.scene)["live"]
    before = manager.pictures(bpy.context.scene)["live"]
    number = sided(item)[3]
    move(item, number, (0.0, 0.03, 0.0))
    assert manager.pictures(bpy.context.scene)["live"] is before
    rest()
    after = manager.pictures(bpy.context.scene)["live"]
    points = np.concatenate([dots.points for dots in after.views[0].dots])
    assert np.allclose(points, [item.data.vertices[number].co[:]])
    assert after.legend.title.startswith("Kept current: 1 ")
    bpy.ops.evenfold.check_symmetry()
    assert "live" not in manager.pictures(bpy.context.scene)
