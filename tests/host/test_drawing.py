"""The reference drawing in the background: geometry, marks, matching. All figures are invented."""

# isort: off
import bpy

# isort: on
import math

import evenfold
import numpy as np
import pytest
from evenfold.core.drawing import DrawingError
from evenfold.host import drawing as host
from evenfold.ui import operators, panels, sheet, state
from evenfold.ui.overlay import drawing as overlay
from evenfold.ui.overlay import manager
from figures.people import Person, keeper

PIXELS = (300, 600)


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


def scene():
    return bpy.context.scene


def image(name="Sheet", size=PIXELS):
    return bpy.data.images.new(name, *size)


def add_empty(name="Sheet", size=PIXELS, matrix=None, choose=True):
    """An empty with a picture, standing upright and facing -Y unless a matrix is given."""
    item = bpy.data.objects.new(name, None)
    item.empty_display_type = "IMAGE"
    item.data = image(name, size)
    scene().collection.objects.link(item)
    if matrix is None:
        item.rotation_euler = (math.pi / 2, 0, 0)
    else:
        item.matrix_world = matrix
    bpy.context.view_layer.update()
    if choose:
        scene().evenfold_drawing.item = item
    return item


def add_keeper():
    """Height 0.9, chin at 0.6: three heads tall; crotch at 0.3. Measured."""
    figure = keeper(Person(height=0.9, head=0.3, neck=0.05))
    mesh = bpy.data.meshes.new("Keeper")
    part = figure.parts[-1]
    mesh.from_pydata(part.points.tolist(), [], part.triangles.tolist())
    item = bpy.data.objects.new("Keeper", mesh)
    scene().collection.objects.link(item)
    bpy.context.view_layer.objects.active = item
    item.select_set(True)
    bpy.context.view_layer.update()
    for landmark, height in {"crown": 0.9, "chin": 0.6, "sole": 0.0, "crotch": 0.3}.items():
        evenfold.host.store.pin_place(item, landmark, (0.0, 0.0, height))
    bpy.ops.evenfold.measure()
    return item


def mark(item, **shares):
    for name, share in shares.items():
        host.set_mark(item, name, np.array(share))


SHARES = {"crown": (0.5, 0.9), "chin": (0.5, 0.5), "sole": (0.4, 0.1), "crotch": (0.5, 0.2)}
"""Two heads tall, its crotch 1.75 heads below the crown."""


def in_world(item):
    bpy.context.view_layer.update()
    picture = host.picture_of(item)
    return {name: picture.points(share)[0] for name, share in host.marks_on(item).items()}


def corners(item):
    return host.picture_of(item).points(np.array([[0, 0], [1, 1]]))


@pytest.mark.parametrize(("size", "aspect", "width", "height"), [
    ((400, 100), (1, 1), 2.0, 0.5), ((100, 400), (1, 1), 0.5, 2.0), ((100, 100), (1, 1), 2.0, 2.0),
    ((400, 100), (1, 2), 2.0, 1.0), ((100, 100), (2, 1), 2.0, 1.0),
])
def test_the_longer_side_spans_the_empty_and_the_offset_counts_in_sides(size, aspect, width, height):
    item = add_empty(size=size)
    item.empty_display_size = 2.0
    item.data.display_aspect = aspect
    bpy.context.view_layer.update()
    assert corners(item) == pytest.approx(np.array([[-width / 2, 0, -height / 2], [width / 2, 0, height / 2]]), abs=1e-6)
    item.empty_image_offset = (0.0, -1.0)
    assert corners(item) == pytest.approx(np.array([[0, 0, -height], [width, 0, 0]]), abs=1e-6)
    item.location, item.scale = (1.0, 2.0, 3.0), (2.0, 3.0, 1.0)
    bpy.context.view_layer.update()
    assert corners(item) == pytest.approx(np.array([[1, 2, 3 - 3 * height], [1 + 2 * width, 2, 3]]), abs=1e-5)


def test_places_rays_and_shares_agree():
    item = add_empty()
    item.location = (4.0, 1.0, 2.0)
    item.rotation_euler = (1.2, 0.1, 0.6)
    bpy.context.view_layer.update()
    picture = host.picture_of(item)
    share = np.array([0.3, 0.8])
    (point,) = picture.points(share)
    assert picture.shares(point)[0] == pytest.approx(share)
    eye = np.array([2.0, -6.0, 3.0])
    assert picture.hit(eye, point - eye) == pytest.approx(share)
    away = eye - point
    with pytest.raises(DrawingError, match="behind you"):
        picture.hit(eye, away)
    assert picture.hit(eye, away, behind=True) == pytest.approx(share)
    with pytest.raises(DrawingError, match="beside the picture"):
        picture.hit(eye, picture.points(np.array([1.01, 0.5]))[0] - eye)
    with pytest.raises(DrawingError, match="from its edge"):
        picture.hit(eye, picture.to_world[:3, 0])


@pytest.mark.parametrize(("change", "words"), [
    (lambda item: setattr(item, "empty_display_type", "CUBE"), "shows no image"),
    (lambda item: setattr(item, "data", None), "has no image yet"),
    (lambda item: setattr(item.data, "source", "MOVIE"), "is a film"),
    (lambda item: setattr(item.data, "source", "SEQUENCE"), "is a sequence"),
    (lambda item: setattr(item.data, "source", "TILED"), "is made of tiles"),
    (lambda item: setattr(item.data, "source", "FILE"), "cannot be found"),
    (lambda item: setattr(item, "scale", (0, 1, 1)), "no extent"),
])
def test_what_is_no_drawing_is_said_in_the_panel_and_by_the_operators(change, words):
    item = add_empty()
    mark(item, **SHARES)
    add_keeper()
    assert panel_text().count("evenfold.match_drawing") == 1
    change(item)
    bpy.context.view_layer.update()
    assert words in sheet.sheet_of(scene()).fault and words in panel_text()
    assert "evenfold.match_drawing" not in panel_text()
    with pytest.raises(RuntimeError, match=words):
        bpy.ops.evenfold.match_drawing()


def test_the_3d_cursor_marks_what_lies_behind_it_and_goes_on():
    item = add_empty()
    chosen = scene().evenfold_drawing
    for name, height in (("crown", 0.4), ("chin", 0.1), ("sole", -0.4)):
        assert chosen.landmark == name
        scene().cursor.location = (0.05, -3.0, height)
        assert bpy.ops.evenfold.mark_drawing_cursor() == {"FINISHED"}
    assert chosen.landmark == "eye_line"
    assert host.marks_on(item)["crown"] == pytest.approx([0.5 + 0.05 / 0.5, 0.9])
    assert sheet.sheet_of(scene()).drawn.heads_tall == pytest.approx(0.8 / 0.3)
    scene().cursor.location = (0.3, 0, 0)
    with pytest.raises(RuntimeError, match="beside the picture"):
        bpy.ops.evenfold.mark_drawing_cursor()
    assert len(host.marks_on(item)) == 3
    assert bpy.ops.evenfold.unmark_drawing(landmark="chin") == {"FINISHED"}
    assert set(host.marks_on(item)) == {"crown", "sole"} and chosen.landmark == "chin"
    assert "Mark the chin" in panel_text()
    with pytest.raises(RuntimeError, match="chin is not marked"):
        bpy.ops.evenfold.unmark_drawing(landmark="chin")
    for name in ("crown", "sole"):
        bpy.ops.evenfold.unmark_drawing(landmark=name)
    assert host.MARKS_KEY not in item


def test_a_click_without_a_window_is_refused():
    add_empty()
    with pytest.raises(RuntimeError, match="3D cursor"):
        bpy.ops.evenfold.mark_drawing()


def test_marks_hold_when_the_picture_changes_its_size():
    item = add_empty()
    mark(item, **SHARES)
    before = sheet.sheet_of(scene())
    item.empty_display_size, item.empty_image_offset = 7.0, (0.0, 0.0)
    item.scale = (1.0, 3.0, 1.0)
    bpy.context.view_layer.update()
    after = sheet.sheet_of(scene())
    assert after.drawn.heads_tall == pytest.approx(before.drawn.heads_tall) == pytest.approx(2.0)
    assert after.drawn.levels["crotch"] == pytest.approx(1.75)
    assert after.drawn.height == pytest.approx(before.drawn.height * 21, rel=1e-6)


def test_a_scan_that_lies_on_its_side_counts_as_it_stands():
    """The page was scanned with the crown to the left; the empty was turned until it stood."""
    item = add_empty(size=(600, 300))
    item.rotation_euler = (math.pi / 2, math.pi / 2, 0)
    mark(item, **{name: (1 - rise, across) for name, (across, rise) in SHARES.items()})
    bpy.context.view_layer.update()
    assert in_world(item)["crown"][2] > in_world(item)["chin"][2] > in_world(item)["sole"][2]
    assert sheet.sheet_of(scene()).drawn.heads_tall == pytest.approx(2.0)
    item.rotation_euler = (0, 0, math.pi / 2)
    bpy.context.view_layer.update()
    assert "Mark the" not in sheet.sheet_of(scene()).refusal


def test_marks_survive_saving_and_appending(tmp_path):
    item = add_empty()
    mark(item, **SHARES)
    item.data.pack()
    file = str(tmp_path / "sheet.blend")
    bpy.ops.wm.save_as_mainfile(filepath=file)
    bpy.ops.wm.read_homefile(use_empty=True)
    assert sheet.sheet_of(scene()) is None
    bpy.ops.wm.open_mainfile(filepath=file, load_ui=False)
    opened = scene().evenfold_drawing.item
    assert {n: tuple(p) for n, p in host.marks_on(opened).items()} == SHARES
    assert sheet.sheet_of(scene()).drawn.heads_tall == pytest.approx(2.0)
    bpy.ops.wm.read_homefile(use_empty=True)
    with bpy.data.libraries.load(file, link=False) as (_, wanted):
        wanted.objects = ["Sheet"]
    assert set(host.marks_on(bpy.data.objects["Sheet"])) == set(SHARES)


def test_linked_drawings_are_not_changed(tmp_path):
    item = add_empty()
    mark(item, **SHARES)
    item.data.pack()
    file = str(tmp_path / "sheet.blend")
    bpy.ops.wm.save_as_mainfile(filepath=file)
    bpy.ops.wm.read_homefile(use_empty=True)
    with bpy.data.libraries.load(file, link=True) as (_, wanted):
        wanted.objects = ["Sheet"]
    linked = bpy.data.objects["Sheet"]
    scene().collection.objects.link(linked)
    scene().evenfold_drawing.item = linked
    add_keeper()
    before = host.marks_on(linked)
    scene().cursor.location = tuple(in_world(linked)["chin"])
    calls = (
        bpy.ops.evenfold.mark_drawing_cursor, bpy.ops.evenfold.match_drawing,
        lambda: bpy.ops.evenfold.unmark_drawing(landmark="chin"),
    )
    for call in calls:
        with pytest.raises(RuntimeError, match="linked from another file"):
            call()
    assert str(host.marks_on(linked)) == str(before)
    assert sheet.sheet_of(scene()).rows, "it can be looked at all the same"


def test_spoilt_marks_are_left_out():
    item = add_empty()
    item[host.MARKS_KEY] = '[{"landmark": "chin", "place": [0.5, 0.5]}, {"landmark": "sole"}, 7, {"place": [1]}]'
    assert set(host.marks_on(item)) == {"chin"}
    for text in ("{", '"a"', "null"):
        item[host.MARKS_KEY] = text
        assert host.marks_on(item) == {}
    item[host.MARKS_KEY] = 5
    assert host.marks_on(item) == {}


def levels(item):
    return {name: point[2] for name, point in in_world(item).items()}


@pytest.mark.parametrize("way", ["height", "head"])
@pytest.mark.parametrize("units", [1.0, 0.01])
def test_matching_brings_the_marks_to_the_models_heights(way, units):
    scene().unit_settings.scale_length = units
    item = add_empty()
    item.location, item.scale, item.empty_display_size = (3.0, 2.0, -5.0), (0.2, 0.2, 0.2), 4.0
    mark(item, **SHARES)
    model = add_keeper()
    still = model.matrix_world.copy()
    scene().evenfold_drawing.way = way
    assert bpy.ops.evenfold.match_drawing() == {"FINISHED"}
    found = levels(item)
    if way == "height":
        # two heads drawn over 0.9: the drawn chin comes to 0.45, the crotch to 0.9 / 8
        wanted = {"crown": 0.9, "chin": 0.45, "sole": 0.0, "crotch": 0.1125}
    else:
        wanted = {"crown": 0.9, "chin": 0.6, "sole": 0.3, "crotch": 0.375}
    assert found == pytest.approx(wanted, abs=1e-5)
    places = in_world(item)
    assert places["crown"][0] == pytest.approx(0.0, abs=1e-5)
    assert [p[1] for p in places.values()] == pytest.approx([2.0] * 4, abs=1e-5)
    assert model.matrix_world == still and state.of(scene()).stale is False
    assert tuple(item.rotation_euler) == pytest.approx((math.pi / 2, 0, 0))
    again = item.matrix_world.copy()
    bpy.ops.evenfold.match_drawing()
    assert np.array(item.matrix_world) == pytest.approx(np.array(again), abs=1e-6)


def test_matching_all_marks_and_staying_beside_the_model():
    item = add_empty()
    item.location = (3.0, 2.0, -5.0)
    mark(item, **SHARES)
    add_keeper()
    chosen = scene().evenfold_drawing
    chosen.way, chosen.sideways = "all", False
    middle = np.mean([p[0] for p in in_world(item).values()])
    bpy.ops.evenfold.match_drawing()
    found, wanted = levels(item), {"crown": 0.9, "chin": 0.6, "sole": 0.0, "crotch": 0.3}
    names = list(SHARES)
    slope, offset = np.polyfit([SHARES[n][1] for n in names], [wanted[n] for n in names], 1)
    assert found == pytest.approx({n: slope * SHARES[n][1] + offset for n in names}, abs=1e-5)
    assert np.mean([p[0] for p in in_world(item).values()]) == pytest.approx(middle, abs=1e-5)


def test_a_crooked_drawing_is_straightened():
    item = add_empty()
    mark(item, **{**SHARES, "sole": (0.6, 0.1), "crown": (0.4, 0.9)})
    add_keeper()
    scene().evenfold_drawing.straighten = True
    bpy.ops.evenfold.match_drawing()
    places = in_world(item)
    assert places["crown"][0] == pytest.approx(places["sole"][0], abs=1e-5)
    assert (places["crown"][2], places["sole"][2]) == pytest.approx((0.9, 0.0), abs=1e-5)
    assert [p[1] for p in places.values()] == pytest.approx([0.0] * 4, abs=1e-5)


def parented(item, scale):
    above = bpy.data.objects.new("Stand", None)
    scene().collection.objects.link(above)
    above.location, above.rotation_euler, above.scale = (1, 2, 3), (0.0, 0.0, 0.4), scale
    item.parent = above
    item.delta_location, item.delta_scale = (0.1, 0.2, 0.3), (1.5, 1.5, 1.5)
    bpy.context.view_layer.update()


@pytest.mark.parametrize("scale", [(2, 2, 2), (2, 3, 1)])
def test_a_drawing_that_hangs_on_something_is_matched_too(scale):
    item = add_empty()
    mark(item, **SHARES)
    parented(item, scale)
    add_keeper()
    bpy.ops.evenfold.match_drawing()
    found = levels(item)
    assert (found["crown"], found["sole"]) == pytest.approx((0.9, 0.0), abs=1e-4)
    assert item.parent.name == "Stand"


@pytest.mark.parametrize("scale", [(-1, 1, 1), (1, 1, -1), (2, 3, 4)])
def test_a_mirrored_or_stretched_drawing_is_matched_too(scale):
    item = add_empty()
    item.scale = scale
    mark(item, **SHARES)
    add_keeper()
    bpy.context.view_layer.update()
    before = np.array(item.scale)
    bpy.ops.evenfold.match_drawing()
    found, places = levels(item), in_world(item)
    assert (found["crown"], found["sole"]) == pytest.approx((0.9, 0.0), abs=1e-5)
    assert places["crown"][0] == pytest.approx(0, abs=1e-5)
    assert np.array(item.scale) / before == pytest.approx([0.9 / 0.8 / scale[1]] * 3)


def test_straightening_under_a_stretched_parent_is_refused():
    item = add_empty()
    mark(item, **{**SHARES, "crown": (0.6, 0.9)})
    parented(item, (2, 1, 1))
    add_keeper()
    before = item.matrix_world.copy()
    scene().evenfold_drawing.straighten = True
    with pytest.raises(RuntimeError, match="stretched by its parent"):
        bpy.ops.evenfold.match_drawing()
    bpy.context.view_layer.update()
    assert np.array(item.matrix_world) == pytest.approx(np.array(before), abs=1e-6)


def lock(item):
    item.lock_location[2] = True


def constrain(item):
    item.constraints.new("LIMIT_LOCATION")


def animate(item):
    item.keyframe_insert("location", frame=1)


def drive(item):
    item.driver_add("scale", 0).driver.expression = "1"


def lay_down(item):
    item.rotation_euler = (0, 0, 0)


@pytest.mark.parametrize(("hold", "words"), [
    (lock, "is locked"), (constrain, "has constraints"), (animate, "is animated"),
    (drive, "is animated"), (lay_down, "lies down"),
    (lambda item: host.remove_mark(item, "sole"), "Mark the sole"),
])
def test_what_cannot_be_matched_is_refused_and_stays(hold, words):
    item = add_empty()
    mark(item, **SHARES)
    add_keeper()
    hold(item)
    bpy.context.view_layer.update()
    before = item.matrix_world.copy()
    with pytest.raises(RuntimeError, match=words):
        bpy.ops.evenfold.match_drawing()
    bpy.context.view_layer.update()
    assert item.matrix_world == before


def test_matching_needs_a_measured_figure_that_is_up_to_date():
    item = add_empty()
    mark(item, **SHARES)
    with pytest.raises(RuntimeError, match="Measure the figure first"):
        bpy.ops.evenfold.match_drawing()
    assert "Measure the figure" in panel_text()
    model = add_keeper()
    model.data.vertices[0].co.z += 0.1
    model.data.update()
    bpy.context.view_layer.update()
    state.compare(scene())
    with pytest.raises(RuntimeError, match="measure it again"):
        bpy.ops.evenfold.match_drawing()


def test_in_edit_mode_nothing_that_could_not_be_undone_is_done():
    item = add_empty()
    mark(item, **SHARES)
    add_keeper()
    bpy.ops.object.mode_set(mode="EDIT")
    for call in (bpy.ops.evenfold.match_drawing, bpy.ops.evenfold.mark_drawing_cursor, bpy.ops.evenfold.load_drawing):
        assert not call.poll()
    bpy.ops.object.mode_set(mode="OBJECT")
    assert bpy.ops.evenfold.match_drawing.poll()
    scene().evenfold_drawing.item = None
    assert not bpy.ops.evenfold.match_drawing.poll()


def write_picture(path, size=PIXELS):
    made = image("written", size)
    made.filepath_raw, made.file_format = str(path), "PNG"
    made.save()
    bpy.data.images.remove(made)


def test_a_loaded_drawing_stands_upright_behind_the_figure(tmp_path):
    write_picture(tmp_path / "keeper front.png")
    model = add_keeper()
    assert bpy.ops.evenfold.load_drawing(filepath=str(tmp_path / "keeper front.png")) == {"FINISHED"}
    item = scene().evenfold_drawing.item
    assert (item.name, item.type, item.empty_display_type) == ("keeper front", "EMPTY", "IMAGE")
    assert item.use_empty_image_alpha and 0.3 < item.color[3] < 0.9 and not item.hide_select
    assert (item.empty_image_depth, item.empty_image_side) == ("FRONT", "FRONT")
    assert bpy.context.view_layer.objects.active == model, "the figure stays the active object"
    box = np.array([model.matrix_world @ v.co for v in model.data.vertices])
    low, high = corners(item)
    middle = (box[:, 0].min() + box[:, 0].max()) / 2
    tall = np.ptp(box[:, 2])
    behind = box[:, 1].max() + 0.1 * tall
    assert low == pytest.approx([middle - tall / 4, behind, box[:, 2].min()], abs=1e-5)
    assert high == pytest.approx([middle + tall / 4, behind, box[:, 2].max()], abs=1e-5)
    bpy.ops.evenfold.load_drawing(filepath=str(tmp_path / "keeper front.png"))
    assert scene().evenfold_drawing.item.data == item.data, "one file is loaded once"


def test_a_drawing_is_loaded_before_anything_is_measured_or_chosen(tmp_path):
    write_picture(tmp_path / "sheet.png")
    bpy.ops.evenfold.load_drawing(filepath=str(tmp_path / "sheet.png"))
    assert corners(scene().evenfold_drawing.item) == pytest.approx(np.array([[-0.25, 0, 0], [0.25, 0, 1]]), abs=1e-6)
    model = add_keeper()
    model.location.z = 2.0
    bpy.context.view_layer.update()
    state.clear()
    bpy.ops.evenfold.load_drawing(filepath=str(tmp_path / "sheet.png"))
    assert corners(scene().evenfold_drawing.item)[0, 2] == pytest.approx(2.0, abs=1e-5)


@pytest.mark.parametrize(("content", "words"), [(None, "is not there"), (b"no picture", "cannot be read")])
def test_what_cannot_be_loaded_leaves_nothing_behind(tmp_path, content, words):
    path = tmp_path / "sheet.png"
    if content is not None:
        path.write_bytes(content)
    counts = len(bpy.data.images), len(bpy.data.objects)
    with pytest.raises(RuntimeError, match=words):
        bpy.ops.evenfold.load_drawing(filepath=str(path))
    assert (len(bpy.data.images), len(bpy.data.objects)) == counts
    assert scene().evenfold_drawing.item is None
    with pytest.raises(RuntimeError, match="is not there"):
        bpy.ops.evenfold.load_drawing(filepath=str(tmp_path))


def test_each_step_is_undone_by_one_step_of_undo(tmp_path):
    item = add_empty()
    mark(item, **SHARES)
    add_keeper()
    bpy.ops.ed.undo_push(message="Built")
    bpy.ops.evenfold.match_drawing("INVOKE_DEFAULT", True)
    moved = np.array(bpy.data.objects["Sheet"].matrix_world)
    scene().cursor.location = tuple(in_world(bpy.data.objects["Sheet"])["crown"])
    bpy.ops.evenfold.unmark_drawing("INVOKE_DEFAULT", True, landmark="chin")
    assert set(host.marks_on(bpy.data.objects["Sheet"])) == {"crown", "sole", "crotch"}
    bpy.ops.ed.undo()
    assert set(host.marks_on(bpy.data.objects["Sheet"])) == set(SHARES)
    assert np.array(bpy.data.objects["Sheet"].matrix_world) == pytest.approx(moved)
    bpy.ops.ed.undo()
    bpy.context.view_layer.update()
    assert levels(bpy.data.objects["Sheet"])["crown"] == pytest.approx(0.4, abs=1e-6)
    bpy.ops.ed.redo()
    bpy.context.view_layer.update()
    assert levels(bpy.data.objects["Sheet"])["crown"] == pytest.approx(0.9, abs=1e-5)


class Recorder:
    """Stands in for a layout: keeps texts, properties and operators, and checks that they exist."""

    def __init__(self, kept=None):
        self.__dict__["kept"] = [] if kept is None else kept

    def label(self, text="", icon="NONE", translate=True):
        icons = bpy.types.UILayout.bl_rna.functions["label"].parameters["icon"].enum_items
        assert icon in icons
        self.kept.append(text)

    def prop(self, owner, name, icon="NONE", **_options):
        assert name in owner.bl_rna.properties
        self.label(f"prop {name}", icon)

    def operator(self, name, text="", icon="NONE"):
        group, function = name.split(".")
        getattr(getattr(bpy.ops, group), function).get_rna_type()
        self.label(name, icon)
        return type("Options", (), {})()

    def __getattr__(self, _name):
        return lambda *args, **options: Recorder(self.kept)


def panel_text():
    recorder = Recorder()
    panels.drawing.EVENFOLD_PT_drawing.draw(type("Panel", (), {"layout": recorder})(), bpy.context)
    return " ".join(recorder.kept)


def test_the_panel_shows_both_counts_and_the_differences():
    assert "Choose the empty" in panel_text()
    item = add_empty()
    assert "Mark the crown, the chin and the sole" in panel_text()
    mark(item, **SHARES)
    assert "Drawing: 2.00 heads tall" in panel_text() and "Measure the figure" in panel_text()
    add_keeper()
    text = panel_text()
    # the model's crotch is 1 head of 0.3 m above its sole; the drawn one a quarter of a head, and
    # matched by height a drawn head is 0.45 m
    for words in (
        "Model: 3.00 heads tall", "1.00 heads more than drawn", "Crotch, 0.25 heads up",
        "Crown 2.00 3.00 1.00 higher", "Chin 1.00 2.00 1.00 higher", "Crotch 0.25 1.00 0.75 higher",
        "Crown 90 cm 90 cm the same", "Chin 45 cm 60 cm 15 cm higher", "Crotch 11.2 cm 30 cm 18.8 cm higher",
    ):
        assert words in text
    assert "Sole 0.00" not in text and "down" not in text
    scene().evenfold_drawing.way = "head"
    text = panel_text()
    for words in ("Crown 90 cm 90 cm the same", "Chin 60 cm 60 cm the same", "Sole 30 cm 0 cm 30 cm lower"):
        assert words in text


@pytest.mark.parametrize(("landmark", "word"), [("foot_sole", "foot's own sole"), ("neck_base", "neck base")])
def test_what_is_to_be_clicked_is_called_as_everywhere(landmark, word, monkeypatch):
    add_empty()
    scene().evenfold_drawing.landmark = landmark
    said = []
    workspace = type("Workspace", (), {"status_text_set": said.append})
    context = type("Context", (), {"scene": scene(), "workspace": workspace})
    monkeypatch.setattr(operators.drawing, "tr", str)
    operators.drawing.EVENFOLD_OT_mark_drawing._say(type("Marking", (), {"marked": 0}), context)
    assert said[0].startswith(f"Click the {word} on the drawing")


def test_the_panel_reads_anew_only_after_a_change(monkeypatch):
    item = add_empty()
    mark(item, **SHARES)
    add_keeper()
    first = sheet.sheet_of(scene())
    monkeypatch.setattr(sheet, "make_sheet", lambda *_: pytest.fail("nothing has changed"))
    panel_text()
    assert sheet.sheet_of(scene()) is first
    monkeypatch.undo()
    for change in (
        lambda: mark(item, chin=(0.5, 0.6)), lambda: setattr(item, "location", (0, 0, 1)),
        lambda: setattr(item, "empty_display_size", 3), bpy.ops.evenfold.measure,
        lambda: setattr(item, "data", image("Other", (10, 10))),
        lambda: setattr(scene().evenfold_drawing, "way", "head"),
    ):
        before = sheet.sheet_of(scene())
        change()
        bpy.context.view_layer.update()
        assert sheet.sheet_of(scene()) is not before
    scene().evenfold_drawing.item = None
    assert sheet.sheet_of(scene()) is None


def test_the_marks_are_drawn_while_the_drawing_is_shown():
    item = add_empty()
    assert "drawing" not in manager.pictures(scene())
    mark(item, **SHARES)
    add_keeper()
    picture = manager.pictures(scene())["drawing"]
    assert overlay.source(scene()) is picture
    (view,) = picture.views
    assert [label.text for label in view.labels] == [
        "Crown drawn 2.00 heads", "Chin drawn 1.00 heads", "Sole drawn 0.00 heads", "Crotch drawn 0.25 heads",
    ]
    ticks = view.strokes[0].segments[::2]
    places = np.array(list(in_world(item).values()))
    assert ticks.mean(axis=1)[:, [0, 2]] == pytest.approx(places[:, [0, 2]], abs=1e-6)
    assert (ticks.mean(axis=1)[:, 1] < places[:, 1]).all(), "they lie in front of the picture"
    for hide in (lambda on: setattr(scene().evenfold_drawing, "show", not on), item.hide_set,
                 lambda on: setattr(item, "hide_viewport", on)):
        hide(True)
        assert "drawing" not in manager.pictures(scene())
        hide(False)
        assert "drawing" in manager.pictures(scene())
    scene().collection.objects.unlink(item)
    assert "drawing" not in manager.pictures(scene()), "it is kept by the choice, but is in no scene"
    with pytest.raises(RuntimeError, match="not in this scene"):
        bpy.ops.evenfold.match_drawing()
    bpy.data.objects.remove(item)
    assert "drawing" not in manager.pictures(scene())


def test_marks_are_not_drawn_over_a_drawing_whose_collection_is_hidden():
    item = add_empty()
    mark(item, **SHARES)
    add_keeper()
    shelf = bpy.data.collections.new("Shelf")
    scene().collection.children.link(shelf)
    shelf.objects.link(item)
    scene().collection.objects.unlink(item)
    bpy.context.view_layer.update()
    layer = bpy.context.view_layer.layer_collection.children["Shelf"]
    for owner, name in ((layer, "hide_viewport"), (shelf, "hide_viewport"), (layer, "exclude")):
        setattr(owner, name, True)
        bpy.context.view_layer.update()
        assert "drawing" not in manager.pictures(scene()), name
        if name == "exclude":
            with pytest.raises(RuntimeError, match="excluded collection: tick it"):
                bpy.ops.evenfold.match_drawing()
        setattr(owner, name, False)
        bpy.context.view_layer.update()
        assert "drawing" in manager.pictures(scene()), name
