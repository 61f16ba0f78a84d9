"""Allowances and baselines in the artist's file: edits, saving, appending and joining keep them."""

import json

import bpy
import numpy as np
import pytest
from evenfold.core.baseline import Baseline, Inherited, Shape
from evenfold.core.errors import EvenfoldError
from evenfold.core.findings import Finding
from evenfold.host import allowances, baselines
from host.scenes import add_box, add_rig, deform, empty_scene, enter, read_only

REASON = "a badge on one side only"


def grid(name: str = "Coat", cuts: int = 6) -> bpy.types.Object:
    bpy.ops.mesh.primitive_grid_add(x_subdivisions=cuts, y_subdivisions=cuts)
    item = bpy.context.active_object
    item.name = name
    return item


def covered(item: bpy.types.Object) -> list[list[int]]:
    return [one.vertices.tolist() for one in allowances.read_allowances([item])]


@pytest.fixture(autouse=True)
def _fresh() -> None:
    empty_scene()


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
def test_a_selection_is_kept_and_read_in_every_mode(mode: str) -> None:
    item = grid()
    enter(item, mode)
    mark = allowances.allow_vertices(item, np.array([3, 4, 10]), REASON)
    assert covered(item) == [[3, 4, 10]]
    bpy.ops.object.mode_set(mode="OBJECT")
    (one,) = allowances.read_allowances([item])
    assert (one.mark, one.kind, one.reason, one.owner) == (mark, "selection", REASON, "Coat")
    assert one.vertices.tolist() == [3, 4, 10]


def test_a_selection_moves_with_its_vertices_when_others_are_deleted() -> None:
    item = grid()
    places = [item.data.vertices[v].co[:] for v in (20, 21)]
    allowances.allow_vertices(item, np.array([20, 21]), REASON)
    enter(item)
    import bmesh

    edit = bmesh.from_edit_mesh(item.data)
    edit.verts.ensure_lookup_table()
    bmesh.ops.delete(edit, geom=[edit.verts[v] for v in range(6)], context="VERTS")
    bmesh.update_edit_mesh(item.data)
    bpy.ops.object.mode_set(mode="OBJECT")
    (now,) = covered(item)
    assert [item.data.vertices[v].co[:] for v in now] == places


def test_saving_and_opening_keeps_reason_and_vertices(tmp_path) -> None:
    item = grid()
    allowances.allow_vertices(item, np.array([1, 2]), REASON)
    allowances.allow(item, "key", "mouthLeft", "drives the blush too")
    path = tmp_path / "keeper.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    empty_scene()
    bpy.ops.wm.open_mainfile(filepath=str(path), use_scripts=False)
    found = allowances.read_allowances([bpy.data.objects["Coat"]])
    assert [(one.kind, one.subject, one.reason) for one in found] == [
        ("selection", "", REASON), ("key", "mouthLeft", "drives the blush too"),
    ]
    assert found[0].vertices.tolist() == [1, 2]


def test_appending_keeps_them(tmp_path) -> None:
    item = grid()
    allowances.allow_vertices(item, np.array([1, 2]), REASON)
    path = tmp_path / "keeper.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    empty_scene()
    with bpy.data.libraries.load(str(path)) as (there, here):
        here.objects = list(there.objects)
    (item,) = here.objects
    bpy.context.scene.collection.objects.link(item)
    (one,) = allowances.read_allowances([item])
    assert (one.reason, one.vertices.tolist()) == (REASON, [1, 2])


def test_joining_objects_keeps_reason_and_vertices() -> None:
    coat, badge = grid("Coat"), grid("Badge", 3)
    places = sorted(badge.data.vertices[v].co[:] for v in (0, 5))
    allowances.allow_vertices(badge, np.array([0, 5]), REASON)
    allowances.allow_vertices(coat, np.array([7]), "torn hem")
    badge.vertex_groups.new(name="Pin").add([2], 1.0, "REPLACE")
    allowances.allow(badge, "group", "Pin", "a pin")
    bpy.context.view_layer.objects.active = coat
    coat.select_set(True)
    badge.select_set(True)
    bpy.ops.object.join()
    found = {one.reason: one for one in allowances.read_allowances([coat])}
    assert set(found) == {REASON, "torn hem", "a pin"}
    joined = found[REASON].vertices
    assert sorted(coat.data.vertices[v].co[:] for v in joined) == places
    assert len(found["torn hem"].vertices) == 1
    assert found["a pin"].kind == "group"
    assert {one.owner for one in found.values()} == {"Coat"}


def named(kind: str, name: str) -> bpy.types.Object:
    """An object that has a Tail of this kind, excused."""
    if kind == "bones":
        item = add_rig(name)
        item.data.bones["Head"].name = "Tail"
    else:
        item = grid(name)
    if kind == "group":
        item.vertex_groups.new(name="Tail")
    elif kind == "material":
        item.data.materials.append(bpy.data.materials.get("Tail") or bpy.data.materials.new("Tail"))
    elif kind == "key":
        item.shape_key_add(name="Basis")
        item.shape_key_add(name="Tail")
    return item


NAMED = ["group", "material", "key", "bones"]


@pytest.mark.parametrize("kind", NAMED)
def test_renaming_or_deleting_the_object_excuses_nothing_on_others(kind: str) -> None:
    coat, other = named(kind, "Coat"), named(kind, "Other")
    allowances.allow(coat, kind, "Tail", REASON)
    coat.name = "Cape"
    assert [row.owner for row in allowances.stored_on(coat)] == ["Cape"]
    assert allowances.stored_on(other) == ()
    bpy.data.objects.remove(coat)
    assert allowances.stored_on(other) == ()


@pytest.mark.parametrize("kind", NAMED)
def test_joining_keeps_what_was_excused_by_name_and_forgetting_removes_it(kind: str) -> None:
    coat, cape = named(kind, "Coat"), named(kind, "Cape")
    mark = allowances.allow(cape, kind, "Tail", REASON)
    bpy.ops.object.select_all(action="DESELECT")
    bpy.context.view_layer.objects.active = coat
    coat.select_set(True)
    cape.select_set(True)
    bpy.ops.object.join()
    (row,) = allowances.stored_on(coat)
    assert (row.mark, row.kind, row.reason, row.owner) == (mark, kind, REASON, "Coat")
    allowances.forget(coat, mark)
    assert allowances.stored_on(coat) == ()
    assert not list(allowances._named_marks(coat))


@pytest.mark.parametrize("mode", ["OBJECT", "EDIT"])
@pytest.mark.parametrize("kind", NAMED)
def test_what_is_excused_by_name_is_marked_in_every_mode(kind: str, mode: str) -> None:
    coat = named(kind, "Coat")
    enter(coat, mode)
    mark = allowances.allow(coat, kind, "Tail", REASON)
    bpy.ops.object.mode_set(mode="OBJECT")
    assert list(allowances._named_marks(coat)) == [mark]
    enter(coat, mode)
    allowances.forget(coat, mark)
    bpy.ops.object.mode_set(mode="OBJECT")
    assert not list(allowances._named_marks(coat))


def test_a_mesh_shared_by_two_objects_is_excused_by_name_on_one() -> None:
    coat = named("group", "Coat")
    twin = bpy.data.objects.new("Twin", coat.data)
    bpy.context.scene.collection.objects.link(twin)
    allowances.allow(coat, "group", "Tail", REASON)
    assert len(allowances.stored_on(coat)) == 1 and allowances.stored_on(twin) == ()


def test_forgetting_leaves_nothing_behind() -> None:
    item = grid()
    attributes = sorted(a.name for a in item.data.attributes)
    mark = allowances.allow_vertices(item, np.array([1]), REASON)
    allowances.forget(item, mark)
    assert allowances.read_allowances([item]) == ()
    assert sorted(a.name for a in item.data.attributes) == attributes
    assert allowances.KEY not in item and allowances.KEY not in bpy.context.scene


def test_undo_takes_an_allowance_back() -> None:
    item = grid()
    bpy.context.preferences.edit.use_global_undo = True
    bpy.ops.ed.undo_push(message="before")
    allowances.allow_vertices(item, np.array([1]), REASON)
    bpy.ops.ed.undo_push(message="excused")
    bpy.ops.ed.undo()
    item = bpy.data.objects["Coat"]
    assert allowances.read_allowances([item]) == ()
    assert not [a for a in item.data.attributes if a.name.startswith(allowances.PREFIX)]


def test_what_cannot_be_excused_is_refused_in_a_sentence() -> None:
    item = grid()
    with pytest.raises(EvenfoldError, match="select what is meant"):
        allowances.allow_vertices(item, np.zeros(0, np.int64), REASON)
    allowances.allow(item, "object", "", REASON)
    with pytest.raises(EvenfoldError, match="already"):
        allowances.allow(item, "object", "", "again")


def test_a_read_figure_carries_them() -> None:
    rig = add_rig("Keeper")
    coat = add_box("Coat")
    deform(coat, rig)
    allowances.allow(rig, "bones", "Head", "tilted on purpose")
    allowances.allow(rig, "layer", "uv", "free layout", whole=True)
    allowances.allow_vertices(coat, np.array([0]), REASON)
    figure = read_only()
    assert [(one.kind, one.owner) for one in figure.allowances] == [
        ("bones", "Keeper"), ("layer", ""), ("selection", "Coat"),
    ]


def test_what_came_from_a_finding_keeps_its_code_names_and_size() -> None:
    coat = grid()
    drop = Finding(
        "key-pair-drifted", np.array([3]), np.array([4]), np.array([0.02]), "A / B.L / A / B.R",
        subjects=("A / B.L", "A / B.R"),
    )
    allowances.allow_vertices(coat, np.array([3]), REASON, drop)
    lost = Finding("group-unpaired", np.array([0]), np.array([-1]), np.array([np.nan]), kind="group", names=("Pin.L",))
    allowances.allow_found(coat, "group", lost, "a pin")
    with pytest.raises(EvenfoldError, match="already"):
        allowances.allow_found(coat, "group", lost, "again")
    first, second = allowances.read_allowances([coat])
    assert (first.code, first.names, first.worst) == (drop.code, frozenset(drop.subjects), 0.02)
    assert (second.kind, second.code, second.names, second.worst) == (
        "group", "group-unpaired", frozenset({"Pin.L"}), None,
    )


def test_rows_kept_before_there_were_codes_are_wide() -> None:
    item = grid()
    item[allowances.KEY] = json.dumps([
        {"mark": "a", "kind": "key", "subject": "Jaw", "reason": "crooked", "owner": "Coat", "whole": False}
    ])
    (one,) = allowances.read_allowances([item])
    assert (one.kind, one.subject, one.owner, one.code, one.names, one.worst) == (
        "key", "Jaw", "Coat", "", frozenset(), None,
    )


def test_damaged_notes_are_ignored() -> None:
    item = grid()
    item[allowances.KEY] = "{not json"
    item[baselines.KEY] = "neither"
    assert allowances.read_allowances([item]) == ()
    assert baselines.read_baselines([item]) == {}


def test_a_baseline_comes_back_as_it_was_kept(tmp_path) -> None:
    item = grid()
    kept = Baseline(
        Shape(36, 60, 25, 4_000_000_001, ("Basis", "smile")),
        (
            Inherited("drifted", None, "vertex", np.array([4, 9]), np.array([0.25, np.nan]),
                      np.array([[0.1, 0.2, 0.3], [1.0, 2.0, 3.0]])),
            Inherited("bone-unpaired", None, "bone", np.array([0]), np.array([np.nan]),
                      np.zeros((0, 3)), ("Ear.L",)),
        ),
    )
    baselines.keep_baseline(item, kept)
    path = tmp_path / "keeper.blend"
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    bpy.ops.wm.open_mainfile(filepath=str(path), use_scripts=False)
    found = baselines.read_baselines([bpy.data.objects["Coat"]])["Coat"]
    assert found.shape == kept.shape
    for old, new in zip(kept.findings, found.findings, strict=True):
        assert (old.code, old.kind, old.names) == (new.code, new.kind, new.names)
        assert np.array_equal(old.elements, new.elements)
        assert np.array_equal(old.sizes, new.sizes, equal_nan=True)
        assert np.allclose(old.places, new.places)
