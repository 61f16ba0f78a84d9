"""Objects of one name, one of the file and others linked, are told apart everywhere. All invented."""

import bpy
import evenfold
import numpy as np
import pytest
from evenfold.core.errors import EvenfoldError
from evenfold.host import allowances, named
from evenfold.host.read import find_figures, read_figure
from evenfold.host.select import SelectionError, Wanted, select_vertices
from evenfold.host.write.apply import refusal_of
from evenfold.ui import live, state
from host.scenes import add_rig, deform
from host.test_ui import chosen, keeper

SHIFTS = {"keeper.blend": 0.0, "cook.blend": 3.0}
"""Metres that the coat of each library stands aside; its vertex 20 is pushed there."""


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


def save(path):
    bpy.ops.wm.save_as_mainfile(filepath=str(path), copy=True)
    bpy.ops.wm.read_homefile(use_empty=True)


def link(path, *names):
    with bpy.data.libraries.load(str(path), link=True) as (_, wanted):
        wanted.objects = list(names)
    for item in wanted.objects:
        bpy.context.scene.collection.objects.link(item)
    bpy.context.view_layer.update()
    return wanted.objects


@pytest.fixture
def coats(tmp_path):
    """The file's own coat, even, and one of each of two libraries with a push, all in one place."""
    for name in SHIFTS:
        coat = keeper("Coat", moved=[20])
        allowances.allow(coat, "layer", "uv" if name == "cook.blend" else "masks", f"of {name}")
        save(tmp_path / name)
    own = keeper("Coat")
    return own, *(link(tmp_path / name, "Coat")[0] for name in SHIFTS)


def test_labels_are_names_unless_two_objects_share_one(coats):
    own, first, second = coats
    assert [named.unique_name(item) for item in coats] == ["Coat", "Coat [keeper.blend]", "Coat [cook.blend]"]
    for pool in (bpy.data.objects, bpy.context.scene.objects, bpy.context.view_layer.objects):
        assert [named.find(pool, named.unique_name(item)) for item in coats] == list(coats)
        assert named.find(pool, "Coat [mate.blend]") is None and named.find(pool, "Hat") is None
    bpy.context.scene.collection.objects.unlink(own)
    assert named.find(bpy.context.scene.objects, "Coat") is None, "the one meant is not in the scene"
    bpy.data.objects.remove(own)
    bpy.data.objects.remove(second)
    assert named.unique_name(first) == "Coat"
    assert named.find(bpy.data.objects, "Coat") == first == named.find(bpy.data.objects, "Coat [keeper.blend]")


def test_each_is_read_as_itself(coats):
    _, first, _ = coats
    (source,) = find_figures(bpy.context.scene)
    assert len(source.mesh_names) == len(set(source.mesh_names)) == 3
    figure = read_figure(source, bpy.context.scene, layers=True)
    read = {surface.name: surface.positions for surface in figure.surfaces}
    for item in coats:
        wanted = np.array([vertex.co[:] for vertex in item.data.vertices], np.float32)
        assert np.array_equal(read[named.unique_name(item)], wanted)
    assert not np.array_equal(read["Coat"], read[named.unique_name(first)])
    said = {(one.owner, one.subject) for one in figure.allowances}
    assert said == {("Coat [keeper.blend]", "masks"), ("Coat [cook.blend]", "uv")}
    assert sum("is linked from another file" in note for note in figure.notes) == 2


def checked():
    bpy.ops.evenfold.check_symmetry()
    return state.of(bpy.context.scene)


def test_findings_selection_and_marks_belong_to_the_right_one(coats):
    own, first, second = coats
    bpy.context.view_layer.objects.active = own
    results = checked()
    drifted = {entry.name for entry in results.check.objects for f in entry.findings if f.code == "drifted"}
    assert drifted == {named.unique_name(first), named.unique_name(second)}
    assert set(results.marks) == {named.unique_name(item) for item in coats} and not results.stale
    size = len(own.data.vertices)
    with pytest.raises(SelectionError, match=r"Coat \[cook.blend\] is linked"):
        select_vertices(bpy.context, {named.unique_name(second): Wanted(np.array([20]), size)})
    assert select_vertices(bpy.context, {"Coat": Wanted(np.array([20]), size)}).count == 1
    assert chosen(own) == {20}
    bpy.ops.object.mode_set(mode="OBJECT")
    own.data.vertices[5].co.y += 0.1
    own.data.update()
    bpy.context.view_layer.update()
    assert results.stale


def test_only_the_files_own_may_be_written_to(coats):
    own, first, _ = coats
    assert refusal_of(own) is None and "linked" in refusal_of(first)
    (source,) = find_figures(bpy.context.scene)
    for name in source.mesh_names:
        item = named.find(bpy.context.scene.objects, name)
        if item == own:
            allowances.allow(item, "object", "", "Made so")
        else:
            with pytest.raises(EvenfoldError, match="linked"):
                allowances.allow(item, "object", "", "Made so")


def test_the_live_check_follows_each(coats):
    own, *_ = coats
    bpy.context.view_layer.objects.active = own
    bpy.ops.evenfold.keep_current()
    session = live.session_of(bpy.context.scene)
    assert set(session.uids) == {item.session_uid for item in coats}
    before = session.now.counts["drifted"]
    own.data.vertices[20].co.y += 0.05
    own.data.update()
    bpy.context.view_layer.update()
    live.turn(bpy.context.scene, 10.0, forced=True)
    session = live.session_of(bpy.context.scene)
    assert session.now.counts["drifted"] == before + 1 and not session.owed & {"anew"}


def test_two_rigged_figures_of_the_same_names_stay_apart(tmp_path):
    def figure(push):
        rig, body = add_rig("Rig"), keeper("Body")
        deform(body, rig, "Spine")
        body.data.vertices[20].co.y += push
        return rig, body

    figure(0.05)
    save(tmp_path / "cook.blend")
    rig, body = figure(0.0)
    linked_rig, linked_body = link(tmp_path / "cook.blend", "Rig", "Body")
    found = find_figures(bpy.context.scene)
    assert [(one.armature_name, one.mesh_names) for one in found] == [
        ("Rig", ("Body",)), ("Rig [cook.blend]", ("Body [cook.blend]",))
    ]
    for clicked, differing in ((body, 0), (linked_body, 1), (rig, 0), (linked_rig, 1)):
        bpy.context.view_layer.objects.active = clicked
        results = checked()
        assert sum(f.code == "drifted" for entry in results.check.objects for f in entry.findings) == differing
        assert set(results.marks) == {
            named.unique_name(item) for item in ((rig, body) if clicked in (rig, body) else (linked_rig, linked_body))
        }
