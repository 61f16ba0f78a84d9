"""Target and guides while a figure is kept current, in the background. The figure is invented and sculpted."""

# isort: off
import bpy

# isort: on
import evenfold
import numpy as np
import pytest
from evenfold.ui import live, panels, state
from evenfold.ui.live import session as sessions
from evenfold.ui.operators.plan import plan_as_text
from evenfold.ui.overlay import guides
from evenfold.ui.panels.guides import status_of
from figures.clay.sculpt import sculpt
from figures.clay.to_host import put
from host.even_figure import APPRENTICE
from host.scenes import said_in_header
from host.test_live import LONG, Recorder, drawn, rest


@pytest.fixture(autouse=True)
def addon(monkeypatch):
    monkeypatch.setattr(sessions, "QUICK", 30.0)
    monkeypatch.setattr(sessions, "LONG", 30.0)
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


@pytest.fixture
def kept():
    """The apprentice, measured, with guides and a target, kept current; its meshes."""
    items, _ = put(sculpt(APPRENTICE).figure)
    bpy.context.view_layer.objects.active = items[0]
    scene = bpy.context.scene
    scene.evenfold_guides.show = True
    assert bpy.ops.evenfold.measure() == {"FINISHED"}
    scene.evenfold.has_target, scene.evenfold.target_heads = True, 1.5
    assert bpy.ops.evenfold.keep_current() == {"FINISHED"}
    return items


def stretch_legs(items, share=0.5):
    """All that lies in the lower part of the figure goes down, ``share`` of its depth below that line."""
    found = state.of(bpy.context.scene).proportion
    line = found.landmarks["sole"].point[2] + 0.5 * found.landmarks["chin"].height
    for item in items:
        matrix = np.array(item.matrix_world)
        places = np.array([v.co[:] for v in item.data.vertices]) @ matrix[:3, :3].T + matrix[:3, 3]
        places[:, 2] -= share * np.maximum(line - places[:, 2], 0.0)
        back = (places - matrix[:3, 3]) @ np.linalg.inv(matrix[:3, :3]).T
        item.data.vertices.foreach_set("co", back.astype(np.float32).ravel())
        item.data.update()
    bpy.context.view_layer.update()


def levels(picture, word):
    return sorted(label.anchor[2] for label in picture.views[0].labels if word in label.text)


def test_the_panel_tells_how_far_off_the_target_it_is_now(kept):
    scene = bpy.context.scene
    before = live.session_of(scene).heads.value
    assert f"{before - 1.5:.2f} heads over the target 1.50" in drawn()
    stretch_legs(kept)
    now = rest().heads
    assert now.about and now.value > before + 0.1
    assert f"{now.value - 1.5:.2f} heads over the target 1.50" in drawn()
    scene.evenfold.target_heads = round(now.value, 2)
    assert f"On target ({round(now.value, 2):.2f})" in drawn()


def test_guides_follow_what_is_carried_and_say_so(kept):
    scene = bpy.context.scene
    picture = guides.source(scene)
    assert picture.legend.title == "Guides", "measured and up to date: nothing to carry"
    sole, target = levels(picture, "Sole"), levels(picture, "Target chin")
    stretch_legs(kept)
    session = rest()
    assert state.of(scene).stale
    carried = guides.source(scene)
    assert carried.legend.title == "Guides, kept current" and carried is guides.source(scene)
    found = session.heads.found
    assert levels(carried, "Sole") == pytest.approx([found.landmarks["sole"].point[2]], abs=1e-6)
    assert levels(carried, "Sole")[0] < sole[0] - 0.05 * found.height
    assert levels(carried, "Target chin") != pytest.approx(target)
    scene.evenfold_plan.keep = "height"
    assert guides.source(scene) is not carried
    text, icon = status_of(bpy.context, state.of(scene))
    assert "kept current: their landmarks are carried along" in text and icon == "CHECKMARK"


def test_carried_landmarks_come_near_to_where_measuring_finds_them(kept):
    stretch_legs(kept)
    carried = rest().heads.found
    measured = rest(LONG).heads
    assert not measured.about
    for name in ("crown", "chin", "sole"):
        assert carried.landmarks[name].height == pytest.approx(
            measured.found.landmarks[name].height, abs=0.02 * carried.height
        )
    assert guides.source(bpy.context.scene).legend.title == "Guides, kept current"


def test_switched_off_the_guides_are_those_of_the_last_measuring(kept):
    scene = bpy.context.scene
    stretch_legs(kept)
    rest()
    assert bpy.ops.evenfold.keep_current() == {"FINISHED"}
    assert guides.source(scene).legend.title == "Guides as last measured"
    bpy.ops.evenfold.measure()
    assert guides.source(scene).legend.title == "Guides"


def test_without_any_measuring_the_kept_figure_has_guides(kept):
    scene = bpy.context.scene
    state.clear()
    assert guides.source(scene).legend.title == "Guides, kept current"
    assert bpy.ops.evenfold.make_guides.poll() is False, "guide objects are made of a measuring"


def test_the_plan_follows_what_is_kept_current(kept):
    scene = bpy.context.scene
    before = plan_as_text(scene)
    stretch_legs(kept)
    now = rest().heads.value
    text = plan_as_text(scene)
    assert text != before and "Out of date" not in text and f"{now:.2f} to 1.50 heads" in text
    recorder = Recorder()
    said_in_header(panels.plan.EVENFOLD_PT_plan_missed, recorder)
    said_in_header(panels.heads.EVENFOLD_PT_heads, recorder)
    assert recorder.kept == ["out of date"], "the count above is the last measured one, the plan is not"
    bpy.ops.evenfold.keep_current()
    assert "Out of date" in plan_as_text(scene)
