"""A file that cannot be loaded leaves the open one as it is, and what is known of it. All invented."""

import bpy
import evenfold
import pytest
from evenfold.ui import live, state
from evenfold.ui.overlay import findings, manager
from host.test_ui import keeper


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


@pytest.fixture
def broken(tmp_path):
    """A file of half its bytes, an empty one and one that is none, by name."""
    whole = tmp_path / "whole.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(whole), copy=True, compress=False)
    content = whole.read_bytes()
    for name, part in (("cut", content[: len(content) // 2]), ("empty", b""), ("letter", b"Ahoy keeper")):
        (tmp_path / f"{name}.blend").write_bytes(part)
    return tmp_path


def heard():
    lists = (getattr(bpy.app.handlers, name) for name in dir(bpy.app.handlers))
    return sorted(
        one.__module__ + one.__name__ for entries in lists if isinstance(entries, list)
        for one in entries if one.__module__.startswith("evenfold")
    )


def at_work():
    """A figure that is checked, marked and kept current."""
    item = keeper(moved=[20])
    scene = bpy.context.scene
    bpy.ops.evenfold.check_symmetry()
    bpy.ops.evenfold.keep_current()
    scene.evenfold_findings.show = True
    state.remember("Cook", state.of(scene).proportion)
    return item, scene


@pytest.mark.parametrize("name", ["cut", "empty", "letter", "missing"])
def test_results_marks_and_the_live_check_outlive_a_failed_load(broken, name):
    item, scene = at_work()
    results, session, ours = state.of(scene), live.session_of(scene), heard()
    marks = findings.source(scene)
    assert marks is not None and marks.views
    with pytest.raises(RuntimeError):
        bpy.ops.wm.open_mainfile(filepath=str(broken / f"{name}.blend"))
    assert state.of(scene) is results and not results.stale and set(state.remembered()) == {"Cook"}
    assert live.session_of(scene) is session and heard() == ours
    assert findings.source(scene).views[0].dots and set(manager.pictures(scene)) >= {"findings"}
    item.data.vertices[30].co.y += 0.05
    item.data.update()
    bpy.context.view_layer.update()
    assert results.stale, "a later change is still noticed"
    live.turn(scene, 10.0, forced=True)
    assert live.session_of(scene).now.counts["drifted"] >= 2, "and followed"


def test_a_file_that_loads_still_clears_them(broken):
    _, scene = at_work()
    uid = scene.session_uid
    bpy.ops.wm.open_mainfile(filepath=str(broken / "whole.blend"))
    assert uid not in state._results and not state.remembered()
    assert not live.watch._sessions and not any("live" in name for name in heard())
    assert not findings._marked
