"""The panel, its operators, selection and pins, in the background. All figures are invented."""

# isort: off
import bpy
import bmesh  # exists only once bpy is there

# isort: on
import evenfold
import numpy as np
import pytest
from evenfold.core.findings import Landmark, Proportion
from evenfold.host import store
from evenfold.host.select import SelectionError, Wanted, select_vertices
from evenfold.ui import CLASSES, panels, state
from host import scenes


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


def keeper(name="Keeper", moved=(), location=(0.0, 0.0, 0.0)):
    """A ball mirrored about X = 0, exactly; ``moved`` vertices are pushed outwards."""
    mesh = bpy.data.meshes.new(name)
    edit = bmesh.new()
    bmesh.ops.create_uvsphere(edit, u_segments=16, v_segments=9, radius=0.5)
    bmesh.ops.bisect_plane(
        edit, geom=edit.verts[:] + edit.edges[:] + edit.faces[:], dist=1e-4,
        plane_co=(0, 0, 0), plane_no=(-1, 0, 0), clear_outer=True,
    )
    bmesh.ops.mirror(edit, geom=edit.verts[:] + edit.edges[:] + edit.faces[:], axis="X", merge_dist=1e-4)
    edit.to_mesh(mesh)
    edit.free()
    item = bpy.data.objects.new(name, mesh)
    item.location = location
    bpy.context.scene.collection.objects.link(item)
    for other in bpy.context.view_layer.objects:
        other.select_set(False)
    bpy.context.view_layer.objects.active = item
    item.select_set(True)
    for vertex in moved:
        mesh.vertices[vertex].co.y += 0.05
    bpy.context.view_layer.update()
    return item


def sided(item):
    """The numbers of vertices clearly on the left half."""
    return [v.index for v in item.data.vertices if v.co.x > 0.2]


def chosen(item):
    item.update_from_editmode()
    return {v.index for v in item.data.vertices if v.select}


def mode(name):
    if bpy.context.view_layer.objects.active.mode != name:
        bpy.ops.object.mode_set(mode=name)


class Recorder:
    """Stands in for a layout: keeps texts and the operators that buttons call, "off" before those of grey ones."""

    def __init__(self, kept=None):
        self.__dict__["kept"] = [] if kept is None else kept

    def label(self, text="", icon="NONE", translate=True):
        self.kept.append(text)

    def prop(self, owner, name, **_options):
        assert name in owner.bl_rna.properties
        self.kept.append(f"prop {name}")

    def operator(self, name, text="", icon="NONE", emboss=True, **_options):
        group, function = name.split(".")
        getattr(getattr(bpy.ops, group), function).get_rna_type()
        self.kept.append(name if self.__dict__.get("enabled", True) else f"off {name}")
        return type("Options", (), {})()

    def operator_menu_enum(self, name, _property, **_options):
        self.kept.append(name)
        return type("Options", (), {})()

    def __getattr__(self, _name):
        return lambda *args, **options: Recorder(self.kept)


def drawn(panel):
    recorder = Recorder()
    panel.draw(type("Panel", (), {"layout": recorder})(), bpy.context)
    return recorder.kept


def header(panel):
    recorder = Recorder()
    scenes.said_in_header(panel, recorder)
    return recorder.kept


def handlers():
    """How many of our functions hang on any of Blender's handler lists."""
    lists = (getattr(bpy.app.handlers, name) for name in dir(bpy.app.handlers))
    return sum(
        getattr(handler, "__module__", "").startswith("evenfold")
        for entry in lists if isinstance(entry, list) for handler in entry
    )


def test_registering_again_and_again_leaves_nothing_behind():
    assert handlers() > 0 and hasattr(bpy.types.Scene, "evenfold")
    for _ in range(5):
        evenfold.unregister()
        assert not hasattr(bpy.types.Scene, "evenfold")
        assert handlers() == 0
        assert not any(hasattr(bpy.types, entry.__name__) for entry in CLASSES)
        evenfold.register()


def test_every_operator_says_what_it_does():
    for entry in CLASSES:
        if issubclass(entry, bpy.types.Operator):
            assert entry.bl_idname.startswith("evenfold.")
            assert len(entry.bl_description) > 15


@pytest.mark.parametrize("start", ["OBJECT", "EDIT"])
def test_checking_finds_and_selects_the_planted_vertex(start):
    item = keeper()
    planted = sided(item)[3]
    item.data.vertices[planted].co.y += 0.05
    mode(start)
    assert bpy.ops.evenfold.check_symmetry() == {"FINISHED"}
    entry = state.of(bpy.context.scene).check.objects[0]
    both = {int(n) for f in entry.findings for n in (*f.elements, *f.partners)}
    assert planted in both and len(both - {-1}) <= 2
    assert bpy.ops.evenfold.select_finding(object_index=0, finding_index=0) == {"FINISHED"}
    assert bpy.context.mode == "EDIT_MESH"
    assert chosen(item) == {int(n) for n in entry.findings[0].elements}
    bpy.ops.evenfold.select_finding(object_index=0, finding_index=0, side="BOTH")
    assert planted in chosen(item) and len(chosen(item)) == 2


def test_checking_changes_no_place_and_a_whole_figure_matches():
    item = keeper()
    before = [tuple(v.co) for v in item.data.vertices]
    bpy.ops.evenfold.check_symmetry()
    assert [tuple(v.co) for v in item.data.vertices] == before
    assert not state.of(bpy.context.scene).check.objects[0].findings


def test_the_outcome_stands_beside_the_buttons_too():
    def told():
        return drawn(panels.figure.EVENFOLD_PT_figure)

    item = keeper(moved=[20])
    assert not any("differ" in text for text in told())
    bpy.ops.evenfold.check_symmetry()
    said = " ".join(told())
    assert "Keeper: the halves differ in 1 way" in said and "What and where is listed under Symmetry." in said
    state.of(bpy.context.scene).proportion = Proportion(heads_tall=1.5)
    assert "1.50 heads tall" in told()
    state.of(bpy.context.scene).proportion = Proportion()
    assert "No count could be made." in told()
    told_before = told()
    item.data.vertices[20].co.y -= 0.05
    item.data.update()
    bpy.context.view_layer.update()
    fresh = len(told_before)
    assert "Out of date: run it again" in told() and len(told()) == fresh, "nothing moves under the mouse"
    bpy.ops.evenfold.check_symmetry()
    assert "Keeper: both halves match" in told()


def test_without_a_figure_the_reason_is_given():
    with pytest.raises(RuntimeError, match="Click a mesh or armature"):
        bpy.ops.evenfold.check_symmetry()
    with pytest.raises(RuntimeError, match="Check the symmetry first"):
        bpy.ops.evenfold.select_asymmetric()


def test_a_refusal_cancels_with_its_sentence():
    item = keeper()
    mode("EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    with pytest.raises(RuntimeError, match="exactly one vertex"):
        bpy.ops.evenfold.pin_vertex(landmark="chin")
    assert not store.stored_pins(item)


def test_selecting_over_two_objects_with_a_hidden_vertex():
    one, two = keeper("Keeper"), keeper("Coat")
    mode("EDIT")
    edit = bmesh.from_edit_mesh(two.data)
    edit.verts.ensure_lookup_table()
    edit.verts[7].hide_set(True)
    bmesh.update_edit_mesh(two.data)
    size = len(one.data.vertices)
    outcome = select_vertices(
        bpy.context,
        {"Keeper": Wanted(np.array([3, 4]), size), "Coat": Wanted(np.array([7, 9]), size)},
    )
    assert (outcome.count, outcome.hidden, outcome.refused) == (3, 1, ())
    assert chosen(one) == {3, 4} and chosen(two) == {9}
    assert two.data.vertices[7].hide


def test_selecting_from_pose_mode():
    item = keeper()
    rig = bpy.data.objects.new("Rig", bpy.data.armatures.new("Rig"))
    bpy.context.scene.collection.objects.link(rig)
    bpy.context.view_layer.objects.active = rig
    mode("POSE")
    select_vertices(bpy.context, {"Keeper": Wanted(np.array([5]), len(item.data.vertices))})
    assert bpy.context.mode == "EDIT_MESH" and chosen(item) == {5}


@pytest.mark.parametrize("case", ["hide_select", "hidden", "changed", "gone"])
def test_what_cannot_be_selected_is_refused_before_anything_changes(case):
    item = keeper()
    size = len(item.data.vertices)
    item.hide_select = case == "hide_select"
    item.hide_set(case == "hidden")
    name = "Nobody" if case == "gone" else "Keeper"
    wanted = Wanted(np.array([1]), size + (case == "changed"))
    with pytest.raises(SelectionError, match=name):
        select_vertices(bpy.context, {name: wanted})
    assert bpy.context.mode == "OBJECT"


@pytest.mark.parametrize("start", ["OBJECT", "EDIT"])
def test_a_pin_follows_its_vertex_through_edits_saving_and_loading(start, tmp_path):
    item = keeper(location=(1.0, 0.0, 2.0))
    vertex = 20
    mode(start)
    store.pin_vertex(item, "chin", vertex)
    mode("EDIT")
    edit = bmesh.from_edit_mesh(item.data)
    edit.verts.ensure_lookup_table()
    edit.verts[vertex].co = (0.25, -0.5, 0.125)
    bmesh.ops.delete(edit, geom=[edit.verts[n] for n in (1, 2, 3)], context="VERTS")
    bmesh.update_edit_mesh(item.data)
    expected = (1.25, -0.5, 2.125)
    assert np.allclose(store.pins_on([bpy.data.objects["Keeper"]])[0].point, expected)
    mode("OBJECT")
    assert np.allclose(store.pins_on([bpy.data.objects["Keeper"]])[0].point, expected)
    path = str(tmp_path / "keeper.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    evenfold.unregister()
    bpy.ops.wm.open_mainfile(filepath=path, load_ui=False)
    (pin,) = store.pins_on([bpy.data.objects["Keeper"]])
    evenfold.register()
    assert pin.landmark == "chin" and np.allclose(pin.point, expected)


def test_a_pin_whose_vertex_is_deleted_is_left_out():
    item = keeper()
    store.pin_vertex(item, "chin", 20)
    mode("EDIT")
    edit = bmesh.from_edit_mesh(item.data)
    edit.verts.ensure_lookup_table()
    bmesh.ops.delete(edit, geom=[edit.verts[20]], context="VERTS")
    bmesh.update_edit_mesh(item.data)
    mode("OBJECT")
    assert store.pins_on([bpy.data.objects["Keeper"]]) == ()


def test_a_pin_is_found_where_the_neutral_key_has_fewer_points_than_the_mesh():
    item = keeper()
    item.shape_key_add(name="Basis")
    store.pin_vertex(item, "crown", 0)
    place = item.data.vertices[0].co[:]
    item.data.vertices.add(2)
    last = len(item.data.vertices) - 1
    tags = item.data.attributes[store.TAG_ATTRIBUTE].data
    tags[last].value, tags[0].value = tags[0].value, 0
    item.data.vertices[last].co = place
    assert len(item.data.shape_keys.reference_key.points) < last
    (pin,) = store.pins_on([item])
    assert pin.point == pytest.approx(place)


def test_a_cursor_pin_moves_with_its_object_and_can_be_removed():
    item = keeper(location=(0.0, 0.0, 1.0))
    bpy.context.scene.cursor.location = (0.0, 0.0, 3.0)
    bpy.ops.evenfold.pin_cursor(landmark="crown")
    item.location.x = 4.0
    bpy.context.view_layer.update()
    assert np.allclose(store.pins_on([bpy.data.objects["Keeper"]])[0].point, (4.0, 0.0, 3.0))
    bpy.ops.evenfold.remove_pin(object_name="Keeper", landmark="crown")
    assert store.pins_on([bpy.data.objects["Keeper"]]) == () and store.PINS_KEY not in item


def test_what_is_left_out_follows_a_renamed_object():
    item = keeper("Hat")
    bpy.ops.evenfold.leave_out(kind="object")
    item.name = "Sou'wester"
    (entry,) = store.worn_on([item])
    assert (entry.kind, entry.name, entry.excluded) == ("object", item.name, True)
    bpy.ops.evenfold.forget_left_out(object_name=item.name, kind="object", name="")
    assert store.worn_on([item]) == ()


def test_results_say_when_they_are_out_of_date():
    item = keeper(moved=[9])
    bpy.ops.evenfold.check_symmetry()
    assert not state.of(bpy.context.scene).stale
    bpy.ops.evenfold.select_asymmetric()
    assert not state.of(bpy.context.scene).stale, "selecting is no change"
    assert "evenfold.repair_finding" in drawn(panels.symmetry.EVENFOLD_PT_symmetry)
    assert header(panels.symmetry.EVENFOLD_PT_symmetry) == []
    edit = bmesh.from_edit_mesh(item.data)
    edit.verts.ensure_lookup_table()
    edit.verts[2].co.z += 0.1
    bmesh.update_edit_mesh(item.data)
    bpy.context.view_layer.update()
    assert state.of(bpy.context.scene).stale
    shown = drawn(panels.symmetry.EVENFOLD_PT_symmetry)
    assert header(panels.symmetry.EVENFOLD_PT_symmetry) == ["out of date"]
    assert "off evenfold.repair_finding" in shown and "evenfold.repair_finding" not in shown
    with pytest.raises(RuntimeError, match="check again"):
        bpy.ops.evenfold.select_asymmetric()


@pytest.mark.parametrize("change", [{"tolerance": 0.01}, {"plane": "object"}])
def test_a_check_made_by_other_settings_says_so(change):
    keeper(moved=[9])
    bpy.ops.evenfold.check_symmetry()
    told = "Out of date: tolerance, mirror or limits were changed since. Check again."

    def said():
        return [" ".join(drawn(panel)) for panel in (panels.symmetry.EVENFOLD_PT_symmetry, panels.figure.EVENFOLD_PT_figure)]

    assert not any(told in text for text in said())
    bpy.context.scene.evenfold.has_target = True
    assert not any(told in text for text in said()), "a target changes nothing about the halves"
    for name, value in change.items():
        setattr(bpy.context.scene.evenfold, name, value)
    assert all(told in text for text in said())
    bpy.ops.evenfold.check_symmetry()
    assert not any(told in text for text in said())


@pytest.mark.parametrize(("far", "axis"), [(1e13, 0), (3e38, 1)])
@pytest.mark.filterwarnings("error::RuntimeWarning")
def test_one_vertex_beyond_all_measure_does_not_spoil_the_rest(far, axis):
    item = keeper()
    number = sided(item)[3]
    item.data.vertices[number].co[axis] = far
    for operator in ("measure", "check_symmetry", "keep_current"):
        assert getattr(bpy.ops.evenfold, operator)() == {"FINISHED"}
    results = state.of(bpy.context.scene)
    assert "No legs or feet" in results.proportion.refusal, "a ball has no count, with the vertex or without"
    assert any("far too large" in sentence for sentence in results.proportion.guesses)
    said = [one for one in results.check.objects[0].findings if one.code in ("drifted", "unpaired")]
    assert said and number in np.concatenate([one.elements for one in said])
    assert sum(one.count for one in said) <= 2


def test_comparing_at_rest_ends_where_the_scene_was_removed(monkeypatch):
    keeper()
    bpy.ops.evenfold.measure()
    away = bpy.data.scenes.new("Lighthouse")
    for scene in (bpy.context.scene, away):
        monkeypatch.setitem(state._due, scene.session_uid, 0.0)
    bpy.data.scenes.remove(away)
    bpy.context.view_layer.objects.active.data.vertices[0].co.z += 0.1
    assert state._compare_due() is None and not state._due
    assert state.of(bpy.context.scene).stale


def test_results_are_out_of_date_once_a_pin_is_set_and_not_after_it_is_removed():
    keeper()
    bpy.ops.evenfold.check_symmetry()
    bpy.ops.evenfold.pin_cursor(landmark="sole")
    assert state.of(bpy.context.scene).stale
    bpy.ops.evenfold.remove_pin(object_name="Keeper", landmark="sole")
    assert not state.of(bpy.context.scene).stale


def test_results_are_lost_when_a_file_is_loaded():
    keeper()
    bpy.ops.evenfold.check_symmetry()
    assert state.of(bpy.context.scene) is not None
    bpy.ops.wm.read_homefile(use_empty=True)
    assert state.of(bpy.context.scene) is None


def test_panels_show_what_was_found():
    assert "Not checked yet." in drawn(panels.symmetry.EVENFOLD_PT_symmetry)
    keeper(moved=[9])
    shown = drawn(panels.figure.EVENFOLD_PT_figure)
    assert "Keeper" in shown and "evenfold.measure" in shown
    bpy.ops.evenfold.check_symmetry()
    shown = drawn(panels.symmetry.EVENFOLD_PT_symmetry)
    assert "evenfold.select_finding" in shown and "evenfold.select_asymmetric" in shown
    assert any("off" in text for text in shown)
    assert drawn(panels.heads.EVENFOLD_PT_heads) and drawn(panels.told.EVENFOLD_PT_told)


def test_panel_shows_count_target_landmarks_and_guesses():
    point = np.zeros(3)
    found = Proportion(
        3.1, 3.0, 3.2, 0.5, 1.55, 1.8, {"chin": Landmark(1.05, point, "pinned", 1.0, 1.1)},
        3.5, False, None, ("Left out: the hat.",),
    )
    recorder = Recorder()
    panels.heads.draw_proportion(recorder, bpy.context, "Keeper", found)
    text = " ".join(recorder.kept)
    for words in ("3.10 heads tall", "3.00 and 3.20", "0.40 heads", "short of", "pinned"):
        assert words in text
    assert "the hat" not in text, "notes have a closed panel of their own"
    (note,) = panels.heads.notes_of(state.SceneResults("Keeper", 1.0, {}, found))
    assert note.text == "Left out: the hat."
