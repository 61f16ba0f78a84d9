"""Guide objects, the panel's switch, and draw handlers that leave nothing behind."""

import bpy
import evenfold
import numpy as np
import pytest
from evenfold.core.findings import Landmark, Proportion
from evenfold.core.guides import make_guides
from evenfold.host.read import find_figures
from evenfold.host.read.bounds import corners_of
from evenfold.host.write import guides as written
from evenfold.ui import state
from evenfold.ui.overlay import buffers, guides, manager, palette
from evenfold.ui.overlay.records import Legend, Picture, View
from evenfold.ui.panels import guides as panel_guides
from evenfold.ui.panels.guides import EVENFOLD_PT_guides
from host import scenes
from mathutils import Matrix

POINT = {"crown": 0.9, "chin": 0.3, "sole": 0.0}
"""Invented: 1.5 heads."""


def proportion(target=None):
    marks = {
        name: Landmark(height, np.array([0, 0, height]), "shape", height, height)
        for name, height in POINT.items()
    }
    return Proportion(1.5, 1.5, 1.5, 0.6, 0.9, 0.9, marks, target)


@pytest.fixture(autouse=True)
def addon():
    scenes.empty_scene()
    evenfold.register()
    yield
    evenfold.unregister()


def measured(scene, item=None):
    marks = () if item is None else (item.name,)
    results = state.SceneResults("Keeper", 1.0, state.marks_of(scene, marks), proportion())
    state.keep(scene, results)
    return results


class View3D:
    """Stands in for the host's list of draw handlers."""

    def __init__(self):
        self.added = []

    def draw_handler_add(self, function, arguments, region, kind):
        self.added.append((function, region, kind))
        return self.added[-1]

    def draw_handler_remove(self, handle, region):
        assert region == "WINDOW"
        self.added.remove(handle)


@pytest.fixture
def view(monkeypatch):
    made = View3D()
    monkeypatch.setattr(manager, "in_background", lambda: False)
    monkeypatch.setattr(manager, "view_space", lambda: made)
    return made


def test_the_background_gets_no_draw_handler():
    assert bpy.app.background and not manager._handles


def test_one_handler_of_each_kind_however_often_it_starts(view):
    for _ in range(3):
        manager.start()
    assert [kind for _, _, kind in view.added] == ["POST_VIEW", "POST_PIXEL"]
    manager.stop()
    manager.stop()
    assert view.added == []


def test_loading_a_file_and_disabling_leave_no_handler(view):
    manager.start()
    bpy.context.scene.evenfold_guides.show = True
    measured(bpy.context.scene)
    assert guides.source(bpy.context.scene) is not None and guides._made
    manager._before_load()
    assert view.added == [] and not manager._layers
    manager._after_load()
    assert len(view.added) == 2 and not guides._made
    evenfold.unregister()
    assert view.added == []
    evenfold.register()
    assert len(view.added) == 2
    bpy.ops.wm.read_homefile(use_empty=True)
    assert len(view.added) == 2
    manager.stop()


def test_nothing_is_drawn_unless_measured_and_switched_on():
    scene = bpy.context.scene
    chosen = scene.evenfold_guides
    assert not chosen.show and manager.pictures(scene) == {}
    chosen.show = True
    assert manager.pictures(scene) == {}
    measured(scene)
    assert set(manager.pictures(scene)) == {"guides"}
    chosen.show = False
    assert manager.pictures(scene) == {} and not guides._made


def test_the_picture_is_the_same_record_until_something_changes():
    scene = bpy.context.scene
    scene.evenfold_guides.show = True
    measured(scene)
    first = guides.source(scene)
    assert guides.source(scene) is first
    scene.evenfold_guides.heads = False
    less = guides.source(scene)
    assert less is not first and len(less.views[0].labels) < len(first.views[0].labels)
    measured(scene)
    assert guides.source(scene) is not less


def test_buffers_are_made_again_only_for_another_view(monkeypatch):
    made = []
    monkeypatch.setattr(buffers, "make_layers", lambda view: made.append(view) or (view,))
    one, two = View(), View()
    for view in (one, one, two, two, one):
        manager.layers_of(1, "guides", 0, view)
    assert [id(view) for view in made] == [id(one), id(two), id(one)]
    manager.layers_of(1, "guides", 1, two)
    manager.layers_of(1, "guides", 0, one)
    assert len(made) == 4, "views of other numbers have buffers of their own"
    manager.remove_source("guides")
    assert not manager._layers


def test_the_view_is_chosen_by_where_the_viewer_is():
    picture = guides.picture_of(make_guides(proportion()))
    assert picture.facing(np.array([0.0, -1.0, 0.0])) == 0 == picture.facing(np.array([0.0, 1.0, 0.0]))
    assert picture.facing(np.array([1.0, 0.0, 0.0])) == 1 == picture.facing(np.array([-1.0, 0.0, 0.0]))
    assert picture.facing(np.array([0.0, 0.0, 1.0])) is None
    assert Picture(legend=Legend("Off by")).facing(np.array([0.0, 0.0, 1.0])) is None


def test_a_plan_draws_its_target(monkeypatch):
    scene = bpy.context.scene
    scene.evenfold_guides.show = True
    results = measured(scene)
    before = guides.source(scene)
    results.plan = type("Plan", (), {"after": {"crown": 0.9, "chin": 0.45, "sole": 0.0}})()
    after = guides.source(scene)
    texts = [{label.text for label in picture.views[0].labels} for picture in (before, after)]
    assert texts[1] - texts[0] == {"Target chin"} and not texts[0] - texts[1]
    scene.evenfold_guides.target = False
    assert {label.text for label in guides.source(scene).views[0].labels} == texts[0]


def test_boxes_reach_around_moved_and_scaled_meshes():
    item = scenes.add_box("Keeper", 0.5)
    item.location, item.scale = (1.0, 2.0, 3.0), (2.0, 1.0, 1.0)
    bpy.context.view_layer.update()
    corners = corners_of(bpy.context.scene, ("Keeper", "Nobody"))
    assert np.allclose(corners.min(0), (0.0, 1.5, 3.0)) and np.allclose(corners.max(0), (2.0, 2.5, 4.0))
    assert corners_of(bpy.context.scene, ("Nobody",)).shape == (0, 3)


def guide_objects(scene):
    return [item for item in scene.objects if item.get(written.GUIDE_KEY)]


def test_guide_objects_are_made_replaced_and_removed():
    scene = bpy.context.scene
    item = scenes.add_box("Keeper", 0.45)
    bpy.context.view_layer.update()
    measured(scene, item)
    before = scenes.counts()
    assert bpy.ops.evenfold.make_guides() == {"FINISHED"}
    made = {one.name: one for one in guide_objects(scene)}
    assert set(made) == {
        "Guide Heads", "Guide Landmarks", "Guide Head 1", "Guide 0.50 of a head",
        "Guide Crown 1.50 heads", "Guide Chin 0.50 heads", "Guide Sole 0.00 heads",
    }
    sizes = [one.empty_display_size for one in made.values() if one.type == "EMPTY"]
    assert sizes == pytest.approx([0.009] * 5), "a hundredth of 0.9 m"
    assert all(one.hide_select and one.hide_render for one in made.values())
    assert all(one.users_collection[0].name == written.COLLECTION for one in made.values())
    lines = np.array([vertex.co[:] for vertex in made["Guide Heads"].data.vertices])
    assert {round(float(z), 4) for z in lines[:, 2]} >= {0.0, 0.3, 0.9}
    assert len(made["Guide Heads"].data.edges) * 2 == len(lines)
    once = scenes.counts()
    bpy.ops.evenfold.make_guides()
    assert scenes.counts() == once and {one.name for one in guide_objects(scene)} == set(made)
    assert bpy.ops.evenfold.remove_guides() == {"FINISHED"}
    assert scenes.counts() == before and not guide_objects(scene)


def test_lines_of_each_kind_are_an_object_of_their_own():
    scene = bpy.context.scene
    guides = make_guides(proportion(), target={"chin": 0.45})
    written.make_guide_objects(scene, guides)
    for name, kinds in (("Heads", {"head", "partial", "ruler"}), ("Landmarks", {"landmark"}), ("Target", {"target"})):
        (item,) = [one for one in guide_objects(scene) if one.name == f"Guide {name}"]
        wanted = [
            ends for plane in (guides.front, guides.side)
            for ends, kind in zip(plane.segments, plane.kinds, strict=True) if kind in kinds
        ]
        points = np.array([vertex.co[:] for vertex in item.data.vertices]).reshape(-1, 2, 3)
        assert np.allclose(points, wanted, atol=1e-6) and len(item.data.edges) == len(wanted) > 0


@pytest.mark.parametrize(("turn", "position", "told"), [
    (0.0, "POSE", False), (0.3, "POSE", True), (0.3, "REST", False), (0.004, "POSE", False),
])
def test_guides_of_a_posed_figure_say_that_they_belong_to_its_rest_pose(turn, position, told):
    scene, rig = bpy.context.scene, scenes.add_rig("Keeper")
    rig.pose.bones["Head"].matrix_basis = Matrix.Rotation(turn, 4, "X")
    rig.data.pose_position = position
    bpy.context.view_layer.update()
    results = measured(scene, rig)
    said, _icon = panel_guides.status_of(bpy.context, results)
    assert ("rest pose" in said) == told and ("from the front" in said) != told


def test_guide_objects_are_only_made_of_a_fresh_measuring():
    scene = bpy.context.scene
    item = scenes.add_box("Keeper", 0.45)
    bpy.context.view_layer.update()
    measured(scene, item).stale = True
    with pytest.raises(RuntimeError, match="measure it again"):
        bpy.ops.evenfold.make_guides()
    assert not guide_objects(scene)


def test_guides_that_are_out_of_date_say_so_and_go_with_the_figure():
    scene = bpy.context.scene
    item = scenes.add_box("Keeper", 0.45)
    bpy.context.view_layer.update()
    scene.evenfold_guides.show = True
    results = measured(scene, item)
    fresh = guides.source(scene).legend
    assert fresh.title == "Guides" and [colour for colour, _ in fresh.entries] == [palette.BLUE, palette.CREAM]
    results.stale = True
    stale = guides.source(scene)
    assert stale.legend.title == "Guides as last measured" and guides.source(scene) is stale
    results.stale = False
    assert guides.source(scene).legend.title == "Guides"
    bpy.data.objects.remove(item)
    assert guides.source(scene) is None


def test_labels_give_way_in_their_order():
    picture = guides.picture_of(make_guides(proportion(), target={"chin": 0.45}))
    rank = {label.text: label.priority for label in picture.views[0].labels}
    assert rank["Crown 1.50 heads"] > rank["Target chin"] > rank["0.50 of a head"] > rank["Head 1"]


def test_guide_objects_are_no_part_of_any_figure():
    scene = bpy.context.scene
    rig = scenes.add_rig("Rig")
    item = scenes.add_box("Keeper")
    scenes.deform(item, rig)
    scenes.add_box("Lamp")
    found = scenes.sources_of(scene)
    written.make_guide_objects(scene, make_guides(proportion()))
    assert scenes.sources_of(scene) == found and len(found) == 2
    for one in guide_objects(scene):
        one.parent = rig
    assert scenes.sources_of(scene) == found
    del next(one for one in guide_objects(scene) if one.type == "MESH")[written.GUIDE_KEY]
    scene.view_layers[0].update()
    assert find_figures(scene) != found, "the mark is what keeps them out"


def test_what_an_artist_put_among_the_guides_stays():
    scene = bpy.context.scene
    written.make_guide_objects(scene, make_guides(proportion()))
    collection = written.guides_collection(scene)
    item = scenes.add_box("Lamp")
    scene.collection.objects.unlink(item)
    collection.objects.link(item)
    inner = bpy.data.collections.new("Oil")
    collection.children.link(inner)
    written.remove_guide_objects(scene)
    assert scene.objects.get("Lamp") is item and "Oil" in scene.collection.children


def test_guides_of_two_scenes_do_not_meddle():
    scene, other = bpy.context.scene, bpy.data.scenes.new("Pier")
    written.make_guide_objects(scene, make_guides(proportion()))
    written.make_guide_objects(other, make_guides(proportion()))
    written.remove_guide_objects(other)
    assert len(guide_objects(scene)) == 7 and not guide_objects(other)


def test_operators_say_what_is_missing():
    with pytest.raises(RuntimeError, match="Measure the figure first"):
        bpy.ops.evenfold.make_guides()
    with pytest.raises(RuntimeError, match="no guide objects"):
        bpy.ops.evenfold.remove_guides()
    scene = bpy.context.scene
    measured(scene)
    scene.evenfold_guides.heads = scene.evenfold_guides.landmarks = False
    with pytest.raises(RuntimeError, match="turn on heads or landmarks"):
        bpy.ops.evenfold.make_guides()
    assert not guide_objects(scene)


class Recorder:
    def __init__(self, kept):
        self.__dict__["kept"] = kept

    def label(self, text="", icon="NONE", translate=True):
        self.kept.append(text)

    def prop(self, owner, name, **_options):
        assert name in owner.bl_rna.properties
        self.kept.append(name)

    def operator(self, name, **_options):
        self.kept.append(name)

    def __getattr__(self, _name):
        return lambda *args, **options: Recorder(self.kept)


def drawn():
    kept = []
    EVENFOLD_PT_guides.draw(type("Panel", (), {"layout": Recorder(kept)})(), bpy.context)
    return kept


def test_the_panel_tells_why_nothing_is_seen():
    scene = bpy.context.scene
    assert "show" in drawn() and "Measure" not in " ".join(drawn())
    scene.evenfold_guides.show = True
    assert "Measure the figure" in " ".join(drawn())
    results = measured(scene)
    assert "Shown for Keeper" in " ".join(drawn())
    assert "evenfold.remove_guides" not in drawn()
    written.make_guide_objects(scene, make_guides(proportion()))
    assert "evenfold.remove_guides" in drawn()
    results.stale = True
    assert "measure again" in " ".join(drawn())
