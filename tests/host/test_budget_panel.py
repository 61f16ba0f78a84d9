"""A figure's size beside its budget, in the background. All figures are invented."""

import bpy
import pytest
from evenfold.core.budget import AMOUNTS, NO_LIMITS, USUAL, Budget
from evenfold.core.settings import Settings, read_profile
from evenfold.ui import defaults, state
from evenfold.ui.budgeting import budget_of, put_budget, readiness_now
from evenfold.ui.once import handed_off
from evenfold.ui.panels.ready import EVENFOLD_PT_budget, EVENFOLD_PT_ready
from evenfold.ui.panels.shared import OfResults
from evenfold.ui.properties import settings_of
from host import scenes
from host.test_live import Recorder

pytestmark = pytest.mark.usefixtures("empty_with_addon")


@pytest.fixture
def scene():
    """A boy of 12 triangles and a larger barrel of 44, checked together."""
    rig = scenes.add_rig("Rig")
    for name in ("Boy", "Barrel"):
        scenes.deform(scenes.add_box(name, 0.5), rig)
    bpy.data.objects["Barrel"].modifiers.new("Subdivision", "SUBSURF").levels = 1
    bpy.context.view_layer.update()
    assert bpy.ops.evenfold.check_symmetry() == {"FINISHED"}
    return bpy.context.scene


def over(scene):
    return [one.text for one in handed_off(readiness_now(scene, state.of(scene).check)) if "allowed" in one.text]


class Fields(Recorder):
    """Keeps the fields' names too."""

    def prop(self, owner, name, **options):
        super().prop(owner, name, **options)
        self.kept.append(name)


def shown(kind):
    recorder = Fields()
    kind.draw(type("Panel", (), {"layout": recorder, "out_of_date": staticmethod(OfResults.out_of_date)})(), bpy.context)
    return recorder.kept


def test_a_new_limit_is_told_without_a_new_check(scene):
    assert over(scene) == []
    scene.evenfold_budget.triangles = 50
    assert over(scene) == ["60 triangles, 50 allowed: 10 too many. Most are on Barrel (48), Boy (12)."]
    assert any("60 triangles, 50 allowed" in text for text in shown(EVENFOLD_PT_ready))
    assert not state.of(scene).stale
    scene.evenfold_budget.triangles = 60
    assert over(scene) == []


def test_a_limit_of_before_the_check_is_told_once(scene):
    scene.evenfold_budget.bones = 1
    bpy.ops.evenfold.check_symmetry()
    assert over(scene) == ["2 bones, 1 allowed: 1 too many."]


def test_its_line_selects_the_objects_that_have_most(scene):
    scene.evenfold_budget.triangles = 50
    lines = handed_off(readiness_now(scene, state.of(scene).check))
    (number,) = [number for number, one in enumerate(lines) if "triangles" in one.text]
    assert bpy.ops.evenfold.show_ready(number=number) == {"FINISHED"}
    assert {item.name for item in bpy.context.selected_objects} == {"Boy", "Barrel"}


def test_the_panel_shows_what_there_is_and_what_is_allowed(scene):
    kept = shown(EVENFOLD_PT_budget)
    assert {"60", "2", *AMOUNTS} <= set(kept) and "source" not in kept
    assert any("0 sets no limit" in text for text in kept)
    scene.evenfold_budget.meshes = 1
    assert "source" in shown(EVENFOLD_PT_budget)


def test_before_a_check_limits_can_be_set_all_the_same():
    kept = shown(EVENFOLD_PT_budget)
    assert kept.count("–") == len(AMOUNTS) and "triangles" in kept


@pytest.mark.parametrize("key", USUAL)
def test_usual_budgets_are_filled_in_and_taken_away(key):
    scene = bpy.context.scene
    assert bpy.ops.evenfold.fill_budget(target=key) == {"FINISHED"}
    assert budget_of(scene) == USUAL[key][1]
    assert bpy.ops.evenfold.fill_budget(target="none") == {"FINISHED"}
    assert budget_of(scene) == NO_LIMITS


def test_a_limit_of_ones_own_is_no_longer_what_the_source_says():
    scene = bpy.context.scene
    bpy.ops.evenfold.fill_budget(target="shop")
    assert scene.evenfold_budget.source
    scene.evenfold_budget.triangles = 21000
    assert budget_of(scene) == Budget(21000, materials=4)


def test_profile_and_panel_hold_the_same(tmp_path):
    scene, path = bpy.context.scene, tmp_path / "staff.toml"
    asked = Budget(7500, bones=75, source="The lighthouse's harbour rules")
    put_budget(scene, asked)
    assert settings_of(scene) == Settings(budget=asked)
    bpy.ops.evenfold.save_profile(filepath=str(path))
    assert read_profile(path, Settings()).budget == asked
    put_budget(scene, NO_LIMITS)
    bpy.ops.evenfold.load_profile(filepath=str(path))
    assert budget_of(scene) == asked
    put_budget(scene, NO_LIMITS)
    bpy.ops.evenfold.save_profile(filepath=str(path))
    assert read_profile(path, Settings()).budget == NO_LIMITS


def test_a_budget_makes_a_scene_ours():
    scene = bpy.context.scene
    assert defaults.untouched(scene)
    scene.evenfold_budget.keys = 52
    assert not defaults.untouched(scene)
