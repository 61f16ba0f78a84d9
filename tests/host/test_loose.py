"""Meshes without armature and parent are told apart by collection and place. All are invented."""

# isort: off
import bpy

# isort: on
import evenfold
import pytest
from evenfold.core.figure import Worn
from evenfold.host import store
from evenfold.host.read import find_figures
from evenfold.ui import first, panels, state
from evenfold.ui.properties import settings_of
from evenfold.ui.words import length
from figures.people import Person, keeper
from host.scenes import add_box
from host.test_plan_panel import drawn


@pytest.fixture(autouse=True)
def scene():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield bpy.context.scene
    evenfold.unregister()


BASE, REWORK = Person(height=0.9, head=0.3, neck=0.05), Person(height=0.6, head=0.3, neck=0.0)


def add_person(name, person, x=0.0, collection=None):
    part = keeper(person).parts[-1]
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(part.points.tolist(), [], part.triangles.tolist())
    item = bpy.data.objects.new(name, mesh)
    (collection or bpy.context.scene.collection).objects.link(item)
    item.location.x = x
    return item


def add_collection(name):
    made = bpy.data.collections.new(name)
    bpy.context.scene.collection.children.link(made)
    return made


def box(name, low, high, collection=None):
    points = [(x, y, z) for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])]
    item = add_box(name, points=points)
    if collection is not None:
        bpy.context.scene.collection.objects.unlink(item)
        collection.objects.link(item)
    return item


def groups():
    bpy.context.view_layer.update()
    return {one.name: one.mesh_names for one in find_figures(bpy.context.scene)}


def notes():
    bpy.context.view_layer.update()
    return {one.name: " ".join(one.notes) for one in find_figures(bpy.context.scene)}


def click(item):
    bpy.context.view_layer.update()
    bpy.context.view_layer.objects.active = item
    assert bpy.ops.evenfold.measure() == {"FINISHED"}
    return state.of(bpy.context.scene)


def test_a_base_and_its_rework_side_by_side_are_two_figures():
    base, rework = add_person("Base", BASE), add_person("Rework", REWORK, 2.0)
    for item, height in ((base, 0.9), (rework, 0.6)):
        found = click(item)
        assert (found.figure_name, list(found.marks), found.notes) == (item.name, [item.name], ())
        assert found.proportion.height == pytest.approx(height, rel=1e-3)


def test_body_head_and_hair_in_one_place_are_one_figure_and_it_is_said():
    box("Body", (-0.2, -0.1, 0), (0.2, 0.1, 0.6))
    box("Hair", (-0.3, -0.3, 0.5), (0.3, 0.3, 1.0))
    box("Hand", (0.32, -0.05, 0.3), (0.4, 0.05, 0.4))
    box("Lamp", (0.45, -0.05, 0.0), (0.55, 0.05, 0.5))
    found = groups()
    assert sorted(found.values()) == [("Body", "Hair", "Hand"), ("Lamp",)]
    assert "Lamp" in found and notes()["Lamp"] == ""
    (said,) = [words for name, words in notes().items() if name != "Lamp"]
    assert "Body, Hair and Hand have neither armature nor parent" in said and "collection of its own" in said


def test_what_is_kept_on_any_of_them_is_listed_whichever_was_clicked():
    body, hair = add_person("Body", BASE), box("Hair", (-0.1, -0.1, 0.7), (0.1, 0.1, 0.95))
    store.pin_vertex(hair, "crown", 0)
    store.mark(body, Worn("material", "Felt", True))
    bpy.context.view_layer.update()
    for item in (body, hair):
        bpy.context.view_layer.objects.active = item
        assert [one.name for one in first.chosen_items(bpy.context)] == ["Body", "Hair"]
        shown = drawn(panels.told.EVENFOLD_PT_told)
        assert "Crown on Hair, at a vertex" in shown and "Felt is left out" in shown


def test_what_is_taken_together_is_said_when_measuring():
    body = add_person("Body", BASE)
    box("Hair", (-0.1, -0.1, 0.7), (0.1, 0.1, 0.95))
    found = click(body)
    assert found.figure_name == "Body" and set(found.marks) == {"Body", "Hair"}
    assert any("taken for one figure" in note for note in found.notes)
    assert "taken for one figure" in drawn(panels.heads.EVENFOLD_PT_notes)


def test_versions_in_one_place_are_told_apart_by_their_collections():
    base = add_person("Base", BASE, collection=add_collection("Old"))
    rework = add_person("Rework", REWORK, collection=add_collection("New"))
    assert click(base).proportion.height == pytest.approx(0.9, rel=1e-3)
    found = click(rework)
    assert found.proportion.height == pytest.approx(0.6, rel=1e-3)
    (note,) = found.notes
    assert note.startswith("Base stands in the same place, but in another collection")


def test_a_second_collection_does_not_split_what_shares_one():
    body, hair = box("Body", (0, 0, 0), (1, 1, 1)), box("Hair", (0, 0, 0.5), (1, 1, 1.5))
    export = add_collection("Export")
    export.objects.link(hair)
    assert list(groups().values()) == [("Body", "Hair")]
    bpy.context.scene.collection.objects.unlink(hair)
    assert groups() == {"Body": ("Body",), "Hair": ("Hair",)}
    assert body.users_collection[0] == bpy.context.scene.collection


def test_a_floor_joins_nothing():
    box("Base", (0, 0, 0), (1, 1, 1))
    box("Rework", (3, 0, 0), (4, 1, 1))
    box("Floor", (-9, -9, 0), (9, 9, 0))
    assert groups() == {name: (name,) for name in ("Base", "Rework", "Floor")}


def test_groups_of_several_meshes_have_names_of_their_own(scene):
    for x in (0.0, 5.0):
        box(f"Body {x:g}", (x, 0, 0), (x + 1, 1, 1))
        box(f"Hair {x:g}", (x, 0, 0.5), (x + 1, 1, 1.5))
    assert groups() == {"Body 0": ("Body 0", "Hair 0"), "Body 5": ("Body 5", "Hair 5")}
    for x, name in ((0, "Old"), (5, "New")):
        made = add_collection(name)
        for part in ("Body", "Hair"):
            item = bpy.data.objects[f"{part} {x}"]
            made.objects.link(item)
            scene.collection.objects.unlink(item)
    assert set(groups()) == {"Old", "New"}


def test_where_there_are_no_units_lengths_and_tolerance_are_plain(scene):
    units = scene.unit_settings
    units.scale_length, units.system = 0.01, "NONE"
    scene.evenfold.tolerance = 0.001
    found = click(add_person("Base", BASE))
    assert found.metres_per_unit == 1.0 and settings_of(scene).tolerance == pytest.approx(0.001)
    assert length(scene, 0.9) == "0.9"
    assert "Height 0.9 " in drawn(panels.heads.EVENFOLD_PT_heads) + " "


def test_a_profiles_tolerance_arrives_where_there_are_no_units(scene, tmp_path):
    scene.unit_settings.scale_length, scene.unit_settings.system = 0.01, "NONE"
    path = tmp_path / "staff.toml"
    path.write_text("tolerance = 0.002\n", "utf-8")
    scene.evenfold_plan.profile = str(path)
    bpy.ops.evenfold.load_profile()
    assert scene.evenfold.tolerance == pytest.approx(0.002)
    assert settings_of(scene).tolerance == pytest.approx(0.002)
