"""Comparisons that go out of date, canons of one's own, and profiles. All figures are invented."""

# isort: off
import bpy

# isort: on
from dataclasses import replace

import evenfold
import pytest
from evenfold.core.errors import SettingsError
from evenfold.core.profile import read_canons
from evenfold.core.settings import Settings, read_profile
from evenfold.ui import panels, planning, state
from figures.measured import measured
from figures.people import Person
from host.scenes import said_in_header
from host.test_plan_panel import Recorder, add_person, drawn, results, target, wanted

OWN = '[canons.house]\nheads = 7.0\nsource = "written by hand"\n'


@pytest.fixture(autouse=True)
def scene():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield bpy.context.scene
    evenfold.unregister()


def add_pair():
    """A base, and beside it its rework, which is measured."""
    base = add_person("Base")
    rework = add_person("Rework", Person(height=0.6, head=0.3, neck=0.0), {"crown": 0.6, "chin": 0.3, "sole": 0.0, "crotch": 0.12})
    rework.location.x = 2.0
    bpy.context.view_layer.update()
    assert bpy.ops.evenfold.measure() == {"FINISHED"}
    assert results().figure_name == "Rework"
    return base, rework


def lift(item):
    item.location.z += 1.0
    bpy.context.view_layer.update()


def compared():
    return drawn(panels.plan.EVENFOLD_PT_compare)


def test_a_base_beside_its_rework_is_told_by_heights_too():
    wanted().other, _ = add_pair()
    assert bpy.ops.evenfold.measure_other() == {"FINISHED"}
    text = compared()
    for words in (
        "2.00, there 3.00",
        "Crotch 1.60 2.00 0.40 nearer the crown, 12 cm", "Crotch 12 cm 30 cm 18 cm lower",
        "Whole height 2.00 3.00 1.00 fewer", "Whole height 60 cm 90 cm 30 cm lower",
    ):
        assert words in text


def test_the_other_figure_going_out_of_date_is_said():
    base, rework = add_pair()
    wanted().other = base
    bpy.ops.evenfold.measure_other()
    assert "Out of date" not in compared()
    lift(base)
    assert (results().stale, results().other_stale) == (False, True)
    assert "Out of date: Base was changed since. Measure it again." in compared()
    bpy.ops.evenfold.measure_other()
    assert "Out of date" not in compared()
    lift(rework)
    assert (results().stale, results().other_stale) == (True, False)
    assert "Base was changed" not in compared()


def test_an_other_figure_that_is_gone_is_out_of_date():
    wanted().other, _ = add_pair()
    bpy.ops.evenfold.measure_other()
    bpy.data.objects.remove(bpy.data.objects["Base"])
    bpy.context.view_layer.update()
    assert results().other_stale and results().comparison is not None


def test_a_figure_that_was_remembered_to_be_reworked_may_change():
    item = add_person()
    bpy.ops.evenfold.measure()
    bpy.ops.evenfold.remember_figure(name="Base")
    wanted().compare_with = "figure:Base"
    lift(item)
    assert (results().stale, results().other_stale) == (True, False)


def test_a_collection_can_be_the_other_figure(scene):
    base, _ = add_pair()
    shelf = bpy.data.collections.new("Shelf")
    scene.collection.children.link(shelf)
    wanted().other_collection = shelf
    with pytest.raises(RuntimeError, match="Shelf holds no mesh"):
        bpy.ops.evenfold.measure_other()
    shelf.objects.link(base)
    assert bpy.ops.evenfold.measure_other() == {"FINISHED"}
    assert (results().comparison.name, results().comparison.heads_there) == ("Shelf", pytest.approx(3))
    assert "prop other_collection" in compared()


def test_another_unit_scale_makes_results_out_of_date(scene):
    add_person()
    target(1.5)
    bpy.ops.evenfold.measure()
    assert not results().stale
    scene.unit_settings.scale_length = 0.01
    recorder = Recorder()
    said_in_header(panels.heads.EVENFOLD_PT_heads, recorder)
    assert results().stale and recorder.kept == ["out of date"]
    with pytest.raises(RuntimeError, match="measure it again"):
        bpy.ops.evenfold.remember_figure()
    state.compare(scene)
    assert results().stale
    scene.unit_settings.scale_length = 1.0
    state.compare(scene)
    assert not results().stale


def test_forgetting_figures_chooses_nothing():
    add_person()
    bpy.ops.evenfold.measure()
    with pytest.raises(RuntimeError, match="No figure is remembered"):
        bpy.ops.evenfold.forget_figures()
    bpy.ops.evenfold.remember_figure(name="Base")
    wanted().compare_with = "figure:Base"
    bpy.ops.evenfold.forget_figures()
    assert wanted().compare_with == "NONE"
    assert (results().comparison, results().comparison_refusal) == (None, "")


def test_a_choice_that_is_gone_after_reopening_is_said(scene, tmp_path):
    add_person()
    bpy.ops.evenfold.measure()
    bpy.ops.evenfold.remember_figure(name="Base")
    wanted().compare_with = "figure:Base"
    file = str(tmp_path / "keeper.blend")
    bpy.ops.wm.save_as_mainfile(filepath=file)
    bpy.ops.wm.open_mainfile(filepath=file, load_ui=False)
    bpy.context.view_layer.objects.active = bpy.data.objects["Keeper"]
    bpy.ops.evenfold.measure()
    assert "choose again" in results().comparison_refusal and "choose again" in compared()
    wanted().compare_with = "NONE"
    assert results().comparison_refusal == ""


def test_a_canon_in_the_profile_is_only_replaced_when_asked(tmp_path):
    path = tmp_path / "staff.toml"
    path.write_text(OWN, "utf-8")
    add_person()
    bpy.ops.evenfold.measure()
    wanted().profile = str(path)
    with pytest.raises(RuntimeError, match=r"holds a canon house already.*Replace"):
        bpy.ops.evenfold.save_canon(canon_name="house")
    assert path.read_text("utf-8") == OWN and planning.own_canons(bpy.context.scene) == ()
    assert bpy.ops.evenfold.save_canon(canon_name="house", replace=True) == {"FINISHED"}
    (canon,) = read_profile(path, Settings()).canons
    assert canon.heads == pytest.approx(3)


def test_an_own_canon_can_be_removed_from_the_file(tmp_path, scene):
    path = tmp_path / "staff.toml"
    path.write_text('canon = "house"\n[canons.house]\nheads = 3.0\nlevels = { crotch = 2.2 }\n', "utf-8")
    add_person()
    target(2.0)
    bpy.ops.evenfold.measure()
    with pytest.raises(RuntimeError, match="one of your own canons"):
        bpy.ops.evenfold.remove_canon()
    wanted().profile = str(path)
    bpy.ops.evenfold.load_profile()
    wanted().canon = "house"
    assert results().plan.canon == "house" and wanted().compare_with == "canon:house"
    assert bpy.ops.evenfold.remove_canon() == {"FINISHED"}
    assert planning.own_canons(scene) == () and path.exists()
    assert (wanted().canon, wanted().compare_with) == ("NONE", "NONE")
    assert results().plan.canon is None and results().comparison is None


def test_no_canon_is_named_like_none():
    with pytest.raises(SettingsError, match="cannot be named NONE"):
        read_canons({"NONE": {"heads": 3.0}})


def test_a_path_beside_a_file_that_is_nowhere_is_refused():
    add_person()
    bpy.ops.evenfold.measure()
    wanted().profile = "//staff.toml"
    for call in (lambda: bpy.ops.evenfold.save_canon(canon_name="house"), bpy.ops.evenfold.load_profile):
        with pytest.raises(RuntimeError, match="Save the file first"):
            call()


def test_buttons_say_what_they_wait_for():
    for call, words in (
        (bpy.ops.evenfold.drop_limits, "No profile limits"), (bpy.ops.evenfold.use_defaults, "Set defaults"),
        (bpy.ops.evenfold.save_canon, "Measure a figure"), (bpy.ops.evenfold.remember_figure, "Measure a figure"),
        (bpy.ops.evenfold.forget_figures, "No figure is remembered"),
    ):
        assert not call.poll()
        with pytest.raises(RuntimeError, match=words):
            call()
    with pytest.raises(RuntimeError, match="Name the profile"):
        bpy.ops.evenfold.load_profile()


def test_the_plan_shows_its_range_and_says_calmly_what_needs_nothing(monkeypatch):
    icons = {}
    monkeypatch.setattr(panels.plan, "say", lambda _layout, _context, text, icon="NONE": icons.update({text: icon}))
    add_person()
    target(3.0)
    bpy.ops.evenfold.measure()
    drawn(panels.plan.EVENFOLD_PT_plan)
    assert icons["The figure is within its target already: nothing has to change."] == "INFO"
    target(1.4)
    drawn(panels.plan.EVENFOLD_PT_plan)
    (swallowed,) = [icon for text, icon in icons.items() if "swallows" in text]
    assert swallowed == "ERROR"
    assert "Torso, chin to crotch; Leg, crotch to sole" in icons


def test_the_plan_shows_how_sure_it_is():
    found = replace(measured(1.25, 1.0), low=1.0, high=1.5)
    state.keep(bpy.context.scene, state.SceneResults("Keeper", 1.0, {}, proportion=found))
    target(2.0)
    assert "the body changes by +100 % or more, upper end unknown" in drawn(panels.plan.EVENFOLD_PT_plan)
