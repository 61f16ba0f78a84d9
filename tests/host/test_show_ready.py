"""Lines of the hand-off list that show what they are about, in the background. All figures are invented."""

# isort: off
import bpy
import bmesh  # exists only once bpy is there

# isort: on
import pytest
from evenfold.ui import state
from evenfold.ui.once import handed_off
from evenfold.ui.panels.ready import EVENFOLD_PT_ready
from host import scenes
from host.test_live import Recorder

pytestmark = pytest.mark.usefixtures("empty_with_addon")


@pytest.fixture
def keeper():
    """A box on a rig: two of its vertices follow no bone, a key moves nothing, the object is stretched."""
    rig, item = scenes.add_rig("Rig"), scenes.add_box("Keeper", 0.5)
    scenes.deform(item, rig)
    for group in item.vertex_groups:
        group.remove([2, 5])
    item.shape_key_add(name="Basis")
    item.shape_key_add(name="Puff")
    item.active_shape_key_index = 0
    item.scale = (1.0, 1.0, 2.0)
    bpy.context.view_layer.objects.active = item
    bpy.context.view_layer.update()
    assert bpy.ops.evenfold.check_symmetry() == {"FINISHED"}
    return item


def lines():
    return handed_off(state.of(bpy.context.scene).check.readiness)


def press(words):
    """Press the button of the line with these words."""
    (number,) = [number for number, one in enumerate(lines()) if words in one.text]
    return bpy.ops.evenfold.show_ready(number=number)


def test_vertices_are_selected(keeper):
    assert press("follow no bone") == {"FINISHED"}
    assert bpy.context.mode == "EDIT_MESH"
    edit = bmesh.from_edit_mesh(keeper.data)
    assert [vertex.index for vertex in edit.verts if vertex.select] == [2, 5]


def test_a_key_becomes_the_active_one_outside_edit_mode(keeper):
    press("follow no bone")
    assert press("Puff moves nothing") == {"FINISHED"}
    assert bpy.context.mode == "OBJECT" and keeper.active_shape_key.name == "Puff"


def test_an_object_is_selected_alone(keeper):
    other = scenes.add_box("Other")
    other.select_set(True)
    assert press("scaled unevenly") == {"FINISHED"}
    assert [item.name for item in bpy.context.selected_objects] == ["Keeper"]
    assert bpy.context.view_layer.objects.active == keeper


def test_a_hidden_object_is_refused_and_nothing_changes(keeper):
    other = scenes.add_box("Other")
    bpy.context.view_layer.objects.active = other
    keeper.hide_set(True)
    state.compare(bpy.context.scene)
    with pytest.raises(RuntimeError, match="Keeper is hidden"):
        press("scaled unevenly")
    assert bpy.context.view_layer.objects.active == other


def test_a_result_out_of_date_shows_nothing(keeper):
    keeper.scale.z = 1.5
    bpy.context.view_layer.update()
    state.compare(bpy.context.scene)
    assert not bpy.ops.evenfold.show_ready.poll()


def test_each_line_with_places_has_its_button(keeper):
    recorder = Recorder()
    EVENFOLD_PT_ready.draw(type("Panel", (), {"layout": recorder})(), bpy.context)
    assert recorder.kept.count("evenfold.show_ready") == sum(bool(one.places) for one in lines()) >= 3


def test_lines_joined_over_several_objects_show_them_all():
    for name in ("Coat", "Cap"):
        item = scenes.add_box(name, 0.5)
        item.scale = (1.0, 1.0, 2.0)
    bpy.context.scene.collection.objects["Coat"].select_set(True)
    bpy.context.view_layer.objects.active = item
    bpy.ops.object.select_all(action="SELECT")
    bpy.context.view_layer.update()
    assert bpy.ops.evenfold.check_symmetry() == {"FINISHED"}
    (line,) = [one for one in lines() if "scaled unevenly" in one.text]
    assert line.others, "said once of both"
    assert press("scaled unevenly") == {"FINISHED"}
    assert {item.name for item in bpy.context.selected_objects} == {"Coat", "Cap"}
