"""What cannot be written on one of several objects is written on none. Invented figures."""

import bpy
import evenfold
import numpy as np
import pytest
from evenfold.host import allowances, baselines, store
from host.scenes import add_rig, deform, empty_scene
from host.test_ui import keeper


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


def linked(tmp_path, name: str) -> bpy.types.Object:
    """A rig or a ball that stands in another file, linked into the open one."""
    path = str(tmp_path / "staff.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    empty_scene()
    with bpy.data.libraries.load(path, link=True) as (_, here):
        here.objects = [name]
    (item,) = here.objects
    bpy.context.scene.collection.objects.link(item)
    return item


def test_a_baseline_is_kept_on_the_whole_figure_or_not_at_all(tmp_path) -> None:
    add_rig("Rig")
    rig = linked(tmp_path, "Rig")
    body = keeper()
    deform(body, rig)
    bpy.context.view_layer.update()
    with pytest.raises(RuntimeError, match="Rig is linked from another file"):
        bpy.ops.evenfold.save_baseline()
    assert baselines.KEY not in body


def test_several_things_count_as_body_or_none_does(tmp_path) -> None:
    keeper("Cap")
    cap = linked(tmp_path, "Cap")
    body = keeper()
    cap.hide_set(False)
    bpy.context.view_layer.update()
    with pytest.raises(RuntimeError, match="Cap is linked from another file"):
        bpy.ops.evenfold.count_as_body(kind="object", names=f"{body.name}\n{cap.name}")
    with pytest.raises(RuntimeError, match="Gone is not in this scene"):
        bpy.ops.evenfold.count_as_body(kind="object", names=f"{body.name}\nGone")
    assert store.WORN_KEY not in body
    assert bpy.ops.evenfold.count_as_body(kind="object", names=body.name) == {"FINISHED"}
    assert store.WORN_KEY in body


def test_vertices_of_several_meshes_are_excused_or_none_are(monkeypatch) -> None:
    first, second = keeper("First"), keeper("Second")
    for item in (first, second):
        item.select_set(True)
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    asked = []

    def refuse(item: bpy.types.Object) -> None:
        asked.append(item)
        if len(set(asked)) == 2:
            raise store.PinError(f"{item.name} is linked from another file.")

    monkeypatch.setattr(allowances, "require_editable", refuse)
    with pytest.raises(RuntimeError, match="is linked from another file"):
        bpy.ops.evenfold.allow_selection(reason="a badge")
    assert all(allowances.KEY not in item for item in (first, second))
    monkeypatch.undo()
    assert bpy.ops.evenfold.allow_selection(reason="a badge") == {"FINISHED"}
    assert all(allowances.KEY in item for item in (first, second))
    assert all(np.size(one.vertices) for one in allowances.read_allowances([first, second]))
