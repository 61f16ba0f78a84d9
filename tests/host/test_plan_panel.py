"""Plan, comparison and profiles in the panel, in the background. All figures are invented."""

# isort: off
import bpy

# isort: on
import sys
from dataclasses import replace

import evenfold
import numpy as np
import pytest
from evenfold.core.proportion import measure
from evenfold.core.settings import Settings, read_profile
from evenfold.ui import panels, planning, state
from evenfold.ui.operators.plan import plan_as_text
from evenfold.ui.properties import settings_of
from figures.measured import measured
from figures.people import Person, keeper


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


class Recorder:
    """Stands in for a layout: keeps texts, properties and operators, and checks that they exist."""

    def __init__(self, kept=None):
        self.__dict__["kept"] = [] if kept is None else kept

    def label(self, text="", icon="NONE", translate=True):
        icons = bpy.types.UILayout.bl_rna.functions["label"].parameters["icon"].enum_items
        assert icon in icons
        self.kept.append(text)

    def prop(self, owner, name, **_options):
        assert name in owner.bl_rna.properties
        self.kept.append(f"prop {name}")

    def operator(self, name, text="", icon="NONE", emboss=True):
        group, function = name.split(".")
        getattr(getattr(bpy.ops, group), function).get_rna_type()
        self.label(name, icon)
        return type("Options", (), {})()

    def __getattr__(self, _name):
        return lambda *args, **options: Recorder(self.kept)


def drawn(panel):
    recorder = Recorder()
    panel.draw(type("Panel", (), {"layout": recorder})(), bpy.context)
    return " ".join(recorder.kept)


def add_person(name="Keeper", person=None, pins=None):
    """The invented figure as one mesh object without an armature, its landmarks pinned."""
    figure = keeper(person or Person(height=0.9, head=0.3, neck=0.05))
    mesh = bpy.data.meshes.new(name)
    part = figure.parts[-1]
    mesh.from_pydata(part.points.tolist(), [], part.triangles.tolist())
    item = bpy.data.objects.new(name, mesh)
    bpy.context.scene.collection.objects.link(item)
    bpy.context.view_layer.objects.active = item
    item.select_set(True)
    bpy.context.view_layer.update()
    for landmark, height in (pins or {"crown": 0.9, "chin": 0.6, "sole": 0.0, "crotch": 0.3}).items():
        evenfold.host.store.pin_place(item, landmark, (0.0, 0.0, height))
    return item


def results():
    return state.of(bpy.context.scene)


def wanted():
    return bpy.context.scene.evenfold_plan


def target(heads):
    bpy.context.scene.evenfold.has_target = heads is not None
    if heads is not None:
        bpy.context.scene.evenfold.target_heads = heads


def test_measuring_makes_the_plan_and_settings_make_it_anew():
    add_person()
    bpy.ops.evenfold.measure()
    assert results().plan is None and results().plan_refusal == ""
    target(1.5)
    assert results().plan.height_after == pytest.approx(0.45)
    assert results().proportion.within_target is False
    wanted().keep = "height"
    assert results().plan.head_after == pytest.approx(0.6)
    target(3.0)
    assert results().proportion.within_target is True
    assert all(span.change == pytest.approx(0, abs=1e-6) for span in results().plan.spans)
    target(1.0)
    assert results().plan is None and "above 1" in results().plan_refusal
    target(None)
    assert (results().plan, results().plan_refusal) == (None, "")
    target(1.5)
    bpy.ops.evenfold.measure()
    assert results().plan.keep == "height"


def test_undoing_a_setting_makes_the_plan_anew():
    add_person()
    bpy.ops.evenfold.measure()
    bpy.ops.ed.undo_push(message="before")
    target(1.5)
    bpy.ops.ed.undo_push(message="after")
    assert results().plan is not None
    bpy.ops.ed.undo()
    assert bpy.context.scene.evenfold.has_target is False
    assert (results().plan, results().proportion.target) == (None, None)


def test_checking_makes_the_plan_too():
    add_person()
    target(1.5)
    bpy.ops.evenfold.check_symmetry()
    assert results().plan.target == 1.5


def test_a_missed_target_opens_the_plan():
    opened, closed = panels.plan.EVENFOLD_PT_plan_missed, panels.plan.EVENFOLD_PT_plan
    assert "DEFAULT_CLOSED" in closed.bl_options
    assert "DEFAULT_CLOSED" not in getattr(opened, "bl_options", set())
    add_person()
    for heads, missed in ((None, False), (1.5, True), (3.0, False)):
        target(heads)
        bpy.ops.evenfold.measure()
        assert (opened.poll(bpy.context), closed.poll(bpy.context)) == (missed, not missed)


def test_the_panel_shows_the_plan_in_the_scenes_units():
    plan = panels.plan.EVENFOLD_PT_plan
    assert "Set a target" in drawn(plan)
    target(1.5)
    assert "Measure the figure" in drawn(plan)
    add_person()
    bpy.ops.evenfold.measure()
    text = drawn(plan)
    for words in ("3.00 to 1.50 heads", "Leg -22.5 cm -75 % 1.00 to 0.25", "Crotch 30 cm 7.5 cm 0.25", "evenfold.copy_plan", "prop keep"):
        assert words in text
    bpy.context.scene.unit_settings.system = "NONE"
    assert "Leg -0.225 -75 %" in drawn(plan)
    target(0.9)
    assert "above 1" in drawn(plan) and "evenfold.copy_plan" not in drawn(plan)


def test_the_panel_only_draws_what_is_kept(monkeypatch):
    add_person()
    target(1.5)
    bpy.ops.evenfold.measure()
    wanted().compare_with = "canon:navy-8"

    def never(*_args, **_more):
        raise AssertionError("a panel computes nothing")

    for name in ("make_plan", "compare", "compare_figures"):
        monkeypatch.setattr(planning, name, never)
    for panel in (panels.plan.EVENFOLD_PT_plan_missed, panels.plan.EVENFOLD_PT_compare):
        assert drawn(panel)
    with pytest.raises(AssertionError, match="computes nothing"):
        planning.refresh(bpy.context.scene)


def test_a_canon_is_compared_with_and_named_with_its_source():
    add_person()
    bpy.ops.evenfold.measure()
    wanted().compare_with = "canon:stylised-3"
    (crotch,) = [row for row in results().comparison.rows if row.name == "crotch"]
    assert (crotch.here, crotch.there) == pytest.approx((2, 2))
    text = drawn(panels.plan.EVENFOLD_PT_compare)
    assert "not anatomy" in text and "common practice" in text and "Crotch 2.00 2.00 the same" in text
    wanted().compare_with = "NONE"
    assert results().comparison is None and "anatomy" not in drawn(panels.plan.EVENFOLD_PT_compare)


def test_the_plan_can_follow_a_canon():
    add_person()
    target(3.0)
    bpy.ops.evenfold.measure()
    wanted().canon = "navy-8"
    # the manual's crotch lies 4 of 7 heads of body above the sole
    assert results().plan.after["crotch"] == pytest.approx(0.6 * 4 / 7)


def items_of(name):
    return wanted().bl_rna.properties[name], [
        entry[0] for entry in sys.modules["evenfold.ui.properties.plan"]._alive[name]
    ]


def test_a_choice_survives_a_longer_list():
    add_person()
    bpy.ops.evenfold.measure()
    wanted().compare_with = "canon:navy-8"
    for name in ("Base", "Zöllner's cook", "灯台"):
        bpy.ops.evenfold.remember_figure(name=name)
    assert wanted().compare_with == "canon:navy-8"
    wanted().compare_with = "figure:灯台"
    assert items_of("compare_with")[1][1:5] == ["", "figure:Base", "figure:Zöllner's cook", "figure:灯台"]
    assert results().comparison.name == "灯台"
    bpy.ops.evenfold.forget_figures()
    assert results().comparison is None


def test_a_rework_is_set_beside_its_remembered_base():
    item = add_person()
    bpy.ops.evenfold.measure()
    bpy.ops.evenfold.remember_figure(name="Base")
    bpy.context.view_layer.objects.active = item
    bpy.context.scene.cursor.location = (0.0, 0.0, 0.24)
    bpy.ops.evenfold.pin_cursor(landmark="crotch")
    with pytest.raises(RuntimeError, match="measure it again"):
        bpy.ops.evenfold.remember_figure()
    bpy.ops.evenfold.measure()
    wanted().compare_with = "figure:Base"
    (crotch,) = [row for row in results().comparison.rows if row.name == "crotch"]
    assert (crotch.difference, crotch.height_there) == pytest.approx((-0.2, 0.3), abs=1e-6)
    text = drawn(panels.plan.EVENFOLD_PT_compare)
    for words in (
        "Crotch 2.20 2.00 0.20 further from the crown, 6 cm", "Whole height 3.00 3.00 the same",
        "Above the sole Here There It is here", "Crotch 24 cm 30 cm 6 cm lower", "Whole height 90 cm 90 cm the same",
    ):
        assert words in text


def test_another_figure_of_the_file_is_measured_and_compared():
    add_person("Cook", Person(height=1.2, head=0.3, neck=0.05), {"crown": 1.2, "chin": 0.9, "sole": 0.0})
    other = bpy.data.objects["Cook"]
    add_person()
    with pytest.raises(RuntimeError, match="Choose the other figure"):
        bpy.ops.evenfold.measure_other()
    bpy.context.scene.evenfold.figure_from = "SELECTED"
    other.select_set(False)
    bpy.ops.evenfold.measure()
    wanted().other = other
    before = [tuple(v.co) for v in other.data.vertices]
    assert bpy.ops.evenfold.measure_other() == {"FINISHED"}
    assert [tuple(v.co) for v in other.data.vertices] == before
    found = results().comparison
    assert (found.name, found.heads_here, found.heads_there) == ("Cook", pytest.approx(3), pytest.approx(4))


def test_without_a_count_nothing_is_remembered_saved_or_copied(tmp_path):
    wanted().profile = str(tmp_path / "staff.toml")
    for call in (bpy.ops.evenfold.remember_figure, bpy.ops.evenfold.save_canon):
        with pytest.raises(RuntimeError, match="Measure a figure"):
            call()
    with pytest.raises(RuntimeError, match="Set a target"):
        bpy.ops.evenfold.copy_plan()
    assert list(tmp_path.iterdir()) == []


def test_a_figure_is_saved_as_a_canon_and_the_rest_of_the_profile_stays(tmp_path):
    path = tmp_path / "staff.toml"
    text = "# of the lighthouse\ntarget_heads = 1.5\n[canons.cook]\nheads = 2.0\n"
    path.write_bytes(text.encode())
    add_person()
    bpy.ops.evenfold.measure()
    wanted().profile = str(path)
    assert bpy.ops.evenfold.save_canon(canon_name="The Keeper") == {"FINISHED"}
    assert path.read_text("utf-8").startswith(text)
    own = {canon.key: canon for canon in read_profile(path, Settings()).canons}
    assert own["The Keeper"].levels["crotch"] == pytest.approx(2)
    assert "Measured on Keeper" in own["The Keeper"].source
    assert [one.name for one in tmp_path.iterdir()] == ["staff.toml"]
    wanted().compare_with = "canon:The Keeper"
    assert all(row.difference == pytest.approx(0, abs=1e-6) for row in results().comparison.rows)
    with pytest.raises(RuntimeError, match="choose another"):
        bpy.ops.evenfold.save_canon(canon_name="navy-8")


@pytest.mark.parametrize(("where", "words"), [
    ("", "Name the profile"), (".", "is a folder"), ("no-such-folder/a.toml", "cannot be written"),
])
def test_a_profile_that_cannot_be_written_is_said(tmp_path, where, words):
    add_person()
    bpy.ops.evenfold.measure()
    wanted().profile = str(tmp_path / where) if where else ""
    with pytest.raises(RuntimeError, match=words):
        bpy.ops.evenfold.save_canon(canon_name="Keeper")
    assert not wanted().own_canons


PROFILE = '''
target_heads = 1.5
target_band = 2.0
tolerance = 0.002
weight_limit = 0.25
layers = ["uv"]
plane = "world"
keep = "height"
canon = "staff"
[canons.staff]
heads = 2.0
source = "invented"
levels = { crotch = 1.5 }
'''


def test_loading_a_profile_sets_panels_limits_and_canons(tmp_path):
    path = tmp_path / "staff.toml"
    path.write_text(PROFILE, "utf-8")
    scene = bpy.context.scene
    scene.unit_settings.scale_length = 0.01
    add_person()
    bpy.ops.evenfold.measure()
    wanted().profile = str(path)
    assert bpy.ops.evenfold.load_profile() == {"FINISHED"}
    found = settings_of(scene)
    assert (found.target_heads, found.target_band, found.weight_limit) == (1.5, 2.0, 0.25)
    assert (found.layers, found.plane, found.keep) == (("uv",), "world", "height")
    assert found.tolerance == pytest.approx(0.002)
    assert results().comparison.name == "staff" and results().plan.keep == "height"
    assert results().proportion.within_target is True, "within the profile's band of two heads"
    assert "evenfold.drop_limits" in drawn(panels.profile.EVENFOLD_PT_profile)
    bpy.ops.evenfold.drop_limits()
    assert results().proportion.within_target is False and settings_of(scene).layers == ()
    assert "evenfold.drop_limits" not in drawn(panels.profile.EVENFOLD_PT_profile)
    bpy.ops.evenfold.load_profile()
    path.write_text("target_heads = 2.0\n", "utf-8")
    bpy.ops.evenfold.load_profile()
    again = settings_of(scene)
    assert (again.target_heads, again.weight_limit, again.layers) == (2.0, Settings().weight_limit, ())
    path.write_text("colour = 1", "utf-8")
    with pytest.raises(RuntimeError, match="sets colour"):
        bpy.ops.evenfold.load_profile()
    assert settings_of(scene).target_heads == 2.0


def test_own_canons_and_limits_stay_with_the_file(tmp_path):
    path = tmp_path / "staff.toml"
    path.write_text(PROFILE, "utf-8")
    wanted().profile = str(path)
    bpy.ops.evenfold.load_profile()
    file = str(tmp_path / "keeper.blend")
    bpy.ops.wm.save_as_mainfile(filepath=file)
    bpy.ops.wm.read_homefile(use_empty=True)
    assert planning.own_canons(bpy.context.scene) == ()
    bpy.ops.wm.open_mainfile(filepath=file, load_ui=False)
    (canon,) = planning.own_canons(bpy.context.scene)
    assert (canon.key, canon.levels["crotch"]) == ("staff", 1.5)
    assert settings_of(bpy.context.scene).weight_limit == 0.25
    assert wanted().compare_with == "canon:staff"


def test_remembered_figures_go_with_the_file():
    add_person()
    bpy.ops.evenfold.measure()
    bpy.ops.evenfold.remember_figure(name="Base")
    wanted().compare_with = "figure:Base"
    assert list(state.remembered()) == ["Base"]
    bpy.ops.wm.read_homefile(use_empty=True)
    assert not state.remembered()


def test_the_plan_is_copied_as_text():
    add_person()
    target(1.5)
    bpy.ops.evenfold.measure()
    text = plan_as_text(bpy.context.scene)
    for words in ("Keeper\n", "From 3.00 to 1.50 heads, keep the head", "Leg, crotch to sole shrinks by 22.5 cm"):
        assert words in text
    assert "Out of date" not in text
    bpy.context.scene.objects["Keeper"].location.z = 1
    bpy.context.view_layer.update()
    assert results().stale and "Out of date" in plan_as_text(bpy.context.scene)
    assert bpy.ops.evenfold.copy_plan() == {"FINISHED"}


def test_a_hand_made_result_without_landmarks_is_no_trouble():
    found = measured(0.9, 0.3)
    state.keep(bpy.context.scene, state.SceneResults("Keeper", 1.0, {}, proportion=found))
    target(1.5)
    wanted().compare_with = "canon:navy-8"
    assert results().plan is not None and results().comparison is not None
    assert np.isfinite(results().plan.percent_low)


@pytest.mark.parametrize(("hair", "words"), [
    (None, "counted by skull Head"), (3.001, "counted by skull Head"), (2.6, "counted by skull; 2.60 with hair and ears Head"),
])
def test_both_counts_are_shown_and_labelled(hair, words):
    found = replace(measured(0.9, 0.3), heads_with_hair=hair)
    state.keep(bpy.context.scene, state.SceneResults("Keeper", 1.0, {}, proportion=found))
    assert words in drawn(panels.heads.EVENFOLD_PT_heads)


@pytest.mark.parametrize(("full", "shown"), [(0.9, False), (0.9002, False), (1.05, True)])
def test_hair_and_hat_have_a_height_of_their_own_only_where_they_rise(full, shown):
    found = replace(measured(0.9, 0.3), full_height=full)
    state.keep(bpy.context.scene, state.SceneResults("Keeper", 1.0, {}, proportion=found))
    assert ("With hair, hat" in drawn(panels.heads.EVENFOLD_PT_heads)) == shown


@pytest.mark.parametrize(("high", "shown"), [(3.5, False), (4.0, True)])
def test_a_wide_range_says_what_to_do(high, shown):
    found = replace(measured(0.9, 0.3), low=2.9, high=high)
    state.keep(bpy.context.scene, state.SceneResults("Keeper", 1.0, {}, proportion=found))
    assert ("The range is wide" in drawn(panels.heads.EVENFOLD_PT_heads)) == shown


@pytest.mark.parametrize(("refusal", "shown"), [("A bust; pin the sole to count.", True), ("Choose the whole figure.", False)])
def test_a_refusal_that_asks_for_pins_tells_where_they_are(refusal, shown):
    found = replace(measured(0.9, 0.3), heads_tall=None, refusal=refusal)
    state.keep(bpy.context.scene, state.SceneResults("Keeper", 1.0, {}, proportion=found))
    assert ("under Pins and Headwear" in drawn(panels.heads.EVENFOLD_PT_heads)) == shown


def test_the_person_of_these_tests_measures_three_heads():
    assert measure(keeper(Person(height=0.9, head=0.3, neck=0.05)), Settings()).heads_tall == pytest.approx(3, rel=0.01)
