"""What an unknown file says of itself before anything was measured. All figures are invented."""

import bpy
import evenfold
import pytest
from evenfold.core.figure import Worn
from evenfold.core.proportion.parts.body import gather
from evenfold.host import store
from evenfold.host.read import armature_of, read_figure
from evenfold.ui import CLASSES, first, left_out, panels, state
from evenfold.ui.choice import Choice, choice_of, source_of
from evenfold.ui.rig_choice import rig_of
from host import scenes
from host.test_ui import drawn, keeper


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


def said():
    return " ".join(one.text for one in first.look_now(bpy.context).said)


def shown():
    return " ".join(drawn(panels.figure.EVENFOLD_PT_figure))


def click(item):
    for other in bpy.context.view_layer.objects:
        other.select_set(other == item)
    bpy.context.view_layer.objects.active = item


def eared_keeper():
    """A ball on a rig with two ear chains that carry vertices, a hat and a hat bone without any."""
    item, rig = keeper(), scenes.add_rig("Keeper Rig")
    scenes.enter(rig)
    head = rig.data.edit_bones["Head"]
    for name, side in (("Ear.L", 1), ("Ear.R", -1), ("Hat", 0)):
        bone = rig.data.edit_bones.new(name)
        bone.head, bone.tail, bone.parent = (side, 0, 2), (side, 0, 3), head
    tip = rig.data.edit_bones.new("Ear.L.tip")
    tip.head, tip.tail, tip.parent = (1, 0, 3), (1, 0, 4), rig.data.edit_bones["Ear.L"]
    bpy.ops.object.mode_set(mode="OBJECT")
    for name, numbers in (("Head", range(60)), ("Ear.L.tip", range(60, 70)), ("Ear.R", range(70, 80))):
        item.vertex_groups.new(name=name).add(list(numbers), 1.0, "REPLACE")
    scenes.deform(item, rig)
    cap = scenes.add_box("Cap", 0.1)
    scenes.deform(cap, rig)
    bpy.context.view_layer.update()
    click(rig)
    return item, rig


def test_an_empty_file_asks_for_a_mesh():
    assert said() == "There is no mesh in this scene: open or import a figure first."
    assert "open or import" in shown()


def test_something_that_is_no_figure_offers_those_there_are():
    item = keeper()
    light = bpy.data.objects.new("Lamp light", bpy.data.lights.new("Lamp light", "POINT"))
    bpy.context.scene.collection.objects.link(light)
    click(light)
    assert said() == "Lamp light is no part of a figure: click a mesh or armature instead."
    assert first.look_now(bpy.context).others == ("Keeper",)
    assert "evenfold.choose_figure" in drawn(panels.figure.EVENFOLD_PT_figure)
    assert bpy.ops.evenfold.choose_figure(name="Keeper") == {"FINISHED"}
    assert bpy.context.view_layer.objects.active == item and item.select_get() and not light.select_get()
    assert first.look_now(bpy.context).others == ()


def test_a_box_is_hardly_a_figure_and_a_ball_is_not_told_so():
    click(scenes.add_box("Lantern"))
    assert "Lantern has 8 vertices" in said()
    keeper()
    assert "vertices" not in said() and "no armature" in said()


@pytest.mark.parametrize(("case", "words"), [
    ("whole", None), ("half", "looks like one half"), ("mirrored", "A Mirror modifier makes the other half"),
])
def test_half_a_figure_is_told_by_what_makes_it_whole(case, words):
    item, _ = eared_keeper()
    bpy.data.objects.remove(bpy.data.objects["Cap"])
    if case != "whole":
        for vertex in item.data.vertices:
            vertex.co.x = abs(vertex.co.x)
    if case == "mirrored":
        item.modifiers.new("Mirror", "MIRROR")
    bpy.context.view_layer.update()
    found = [one.text for one in first.look_now(bpy.context).said]
    assert (len(found) == 0) if words is None else (len(found) == 1 and words in found[0])


def test_a_linked_figure_is_told(tmp_path):
    keeper()
    path = str(tmp_path / "base.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True)
    with bpy.data.libraries.load(path, link=True) as (there, here):
        here.objects, here.collections = [], []
        here.meshes = ["Keeper"]
        assert there.meshes == ["Keeper"]
    item = bpy.data.objects.new("Copy", here.meshes[0])
    bpy.context.scene.collection.objects.link(item)
    bpy.context.view_layer.update()
    click(item)
    assert "Copy is linked from another file" in said()


def test_an_instanced_collection_is_a_figure_to_measure():
    item = keeper()
    home = bpy.data.collections.new("Base")
    home.objects.link(item)
    bpy.context.scene.collection.objects.unlink(item)
    empty = bpy.data.objects.new("Base instance", None)
    empty.instance_type, empty.instance_collection = "COLLECTION", home
    bpy.context.scene.collection.objects.link(empty)
    bpy.context.view_layer.update()
    click(empty)
    look = first.look_now(bpy.context)
    assert look.meshes == ("Keeper",) and "shows a linked collection" in look.said[0].text
    assert bpy.ops.evenfold.check_symmetry() == {"FINISHED"}
    assert state.of(bpy.context.scene).check.objects[0].name == "Keeper"


def test_guesses_of_a_figure_on_a_rig_agree_with_measuring():
    eared_keeper()
    look = first.look_now(bpy.context)
    assert (look.armature, look.head_bone, look.middle) == ("Keeper Rig", "Head", "armature")
    assert set(look.meshes) == {"Keeper", "Cap"} and look.said == ()
    rows = {(one.kind, name) for one in look.left_out for name in one.names}
    assert rows == {("object", "Cap"), ("bone", "Ear.L"), ("bone", "Ear.R")}, "no hat bone: it carries nothing"
    figure = read_figure(source_of(bpy.context), bpy.context.scene)
    named, others = left_out.told_apart(gather(figure).guesses)
    assert {(one.kind, name) for one in named for name in one.names} == rows and others == ()


@pytest.mark.parametrize(("names", "told"), [
    (("FaceCapSkin", "FaceCapCloth"), set()), (("FaceSkin", "FaceCap"), {("material", "FaceCap")}),
])
def test_a_prefix_of_every_material_is_no_guess_as_in_measuring(names, told):
    item = keeper()
    for name in names:
        item.data.materials.append(bpy.data.materials.new(name))
    item.data.polygons.foreach_set("material_index", [n % 2 for n in range(len(item.data.polygons))])
    look = first.look_now(bpy.context)
    assert {(one.kind, name) for one in look.left_out for name in one.names} == told
    named, _ = left_out.told_apart(gather(read_figure(source_of(bpy.context), bpy.context.scene)).guesses)
    assert {(one.kind, name) for one in named for name in one.names} == told


@pytest.mark.parametrize("alone", [True, False])
@pytest.mark.parametrize("name", ["Hat Keeper", "Hat"])
def test_a_word_of_the_figures_own_name_is_a_guess_only_where_it_is_one_in_measuring(name, alone):
    """Also where the mesh has a single bone's group, whose name then tells nothing apart among groups."""
    item, rig = keeper(), scenes.add_rig("Keeper Rig")
    item.name = name
    scenes.enter(rig)
    for bone in rig.data.edit_bones:
        bone.name = f"Cap_{bone.name}"
    bpy.ops.object.mode_set(mode="OBJECT")
    scenes.deform(item, rig, "Cap_Head")
    if not alone:
        item.vertex_groups.new(name="Cap_Spine").add([0, 1], 0.2, "REPLACE")
    bpy.context.view_layer.update()
    click(rig)
    guessed = {(one.kind, each) for one in first.look_now(bpy.context).left_out for each in one.names}
    named, _ = left_out.told_apart(gather(read_figure(source_of(bpy.context), bpy.context.scene)).guesses)
    assert guessed == {(one.kind, each) for one in named for each in one.names}
    assert guessed == ({("object", "Hat")} if name == "Hat" else set())


def test_ears_share_a_line_and_can_be_counted_after_all():
    eared_keeper()
    first.look_now(bpy.context)
    text = " ".join(drawn(panels.figure.EVENFOLD_PT_first_guesses))
    assert "The bones Ear.L and Ear.R are left out of the count: their names say 'ear'." in text
    assert text.count("evenfold.count_as_body") == 2
    assert bpy.ops.evenfold.count_as_body(kind="bone", names="Ear.L\nEar.R") == {"FINISHED"}
    assert [one.word for one in first.look_now(bpy.context).left_out] == ["cap"]
    figure = read_figure(source_of(bpy.context), bpy.context.scene)
    assert set(figure.worn) == {Worn("bone", name, False) for name in ("Ear.L", "Ear.L.tip", "Ear.R")}
    assert not any("Ear" in sentence for sentence in gather(figure).guesses)
    assert bpy.ops.evenfold.count_as_body(kind="object", names="Cap") == {"FINISHED"}
    assert first.look_now(bpy.context).left_out == ()


def test_the_head_bone_can_be_chosen_and_guessed_again():
    _, rig = eared_keeper()
    with pytest.raises(RuntimeError, match="no bone 'Nose'"):
        bpy.ops.evenfold.choose_head_bone(bone="Nose")
    assert bpy.ops.evenfold.choose_head_bone(bone="Spine") == {"FINISHED"}
    look = first.look_now(bpy.context)
    assert look.head_bone == "Spine"
    bpy.ops.evenfold.choose_head_bone(bone="")
    assert first.look_now(bpy.context).head_bone == "Head" and store.HEAD_KEY not in rig


def test_a_rig_without_a_head_asks_for_its_bone():
    _, rig = eared_keeper()
    rig.data.bones["Head"].name = "Lampkopf 7"
    assert "No bone of Keeper Rig is named like a head" in said()


def test_drawing_computes_nothing(monkeypatch):
    eared_keeper()
    first.look_now(bpy.context)

    def computed(*_arguments):
        raise AssertionError("a panel computed while it was drawn")

    for name in ("find_figures", "source_of", "look_at", "find_head_bone", "left_out_of"):
        monkeypatch.setattr(first, name, computed)
    for kind in (panels.figure.EVENFOLD_PT_figure, panels.figure.EVENFOLD_PT_first_guesses):
        assert "Keeper" in " ".join(drawn(kind))
    click(bpy.data.objects["Keeper"])
    bpy.data.objects["Cap"].location.z = 2
    bpy.context.view_layer.update()
    assert drawn(panels.figure.EVENFOLD_PT_figure)
    first.forget()
    assert "Looking at the figure" in " ".join(drawn(panels.figure.EVENFOLD_PT_first_guesses))
    with pytest.raises(AssertionError, match="while it was drawn"):
        first.look_now(bpy.context)


def test_it_is_looked_over_again_only_after_a_change(monkeypatch):
    eared_keeper()
    asked = []
    monkeypatch.setattr(first, "_soon", lambda: asked.append(1))
    first.look_now(bpy.context)
    first.look(bpy.context)
    assert not asked
    bpy.data.objects["Cap"].location.z = 2
    bpy.context.view_layer.update()
    assert first.look(bpy.context).head_bone == "Head" and len(asked) == 1, "what is known stays meanwhile"
    bpy.context.scene.evenfold.plane = "world"
    first.look_now(bpy.context)
    assert first.look(bpy.context).middle == "world" and len(asked) == 1


def test_the_first_steps_go_once_the_figure_was_measured():
    keeper()
    first.look_now(bpy.context)
    assert "First press Measure" in shown()
    assert panels.figure.EVENFOLD_PT_first_guesses.poll(bpy.context)
    assert not panels.figure.EVENFOLD_PT_guesses.poll(bpy.context)
    bpy.ops.evenfold.measure()
    assert "First press Measure" not in shown()
    assert panels.figure.EVENFOLD_PT_guesses.poll(bpy.context)
    assert not panels.figure.EVENFOLD_PT_first_guesses.poll(bpy.context)


def test_every_sentence_on_what_is_left_out_is_understood():
    rows = left_out.told_apart((
        "The bone 'Ear1.L' is left out of the body because its name says 'ear'.",
        "The vertex group 'it's' is left out of the body because its name says 'hat'.",
        "The bone 'Ear1.R' is left out of the body because its name says 'ear'.",
        "Leaving out would leave nothing.",
    ))
    assert rows == (
        (left_out.LeftOut("bone", "ear", ("Ear1.L", "Ear1.R")), left_out.LeftOut("vertex group", "hat", ("it's",))),
        ("Leaving out would leave nothing.",),
    )
    many = left_out.LeftOut("bone", "hair", tuple(f"Hair{number}" for number in range(9)))
    assert "Hair0, Hair1, Hair2 and 6 more" in many.sentence


@pytest.mark.parametrize("name", sorted(entry.bl_idname for entry in CLASSES if issubclass(entry, bpy.types.Operator)))
def test_a_disabled_button_gives_its_reason(name):
    group, function = name.split(".")
    call = getattr(getattr(bpy.ops, group), function)
    if call.poll():
        return
    with pytest.raises(RuntimeError) as refused:
        call()
    reason = str(refused.value).split(":", 1)[-1].strip()
    assert reason.endswith(".") and "context is incorrect" not in reason


def test_what_hangs_on_a_rigged_mesh_belongs_to_its_rig_whichever_is_clicked():
    _, rig = eared_keeper()
    keeper = bpy.data.objects["Keeper"]
    hat = bpy.data.objects.new("Hat", keeper.data.copy())
    bpy.context.scene.collection.objects.link(hat)
    hat.parent = keeper
    bpy.context.view_layer.update()
    assert armature_of(hat) == armature_of(keeper) == rig
    sources = []
    for item in (keeper, hat, rig):
        click(item)
        sources.append(source_of(bpy.context))
        assert choice_of(bpy.context) == Choice("ARMATURE", rig.name)
        assert rig_of(bpy.context) == rig
    assert sources[0] == sources[1] == sources[2] and "Hat" in sources[0].mesh_names
