"""Selecting by kind, by the worst share and by half of the figure. All figures are invented."""

import bpy
import evenfold
import numpy as np
import pytest
from evenfold.host.select import SelectionError, Wanted, select_vertices
from evenfold.ui import panels, state, words
from host.test_ui import chosen, drawn, keeper, sided


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    yield
    evenfold.unregister()


def pushed(count=8):
    """A ball with single vertices of both halves pushed up, each further than the last; by number."""
    item = keeper()
    left = sided(item)[: 6 * count : 12]
    right = [v.index for v in item.data.vertices if v.co.x < -0.2][6 : 6 * count + 6 : 12]
    pushes = {}
    for place, vertex in enumerate((*left, *right)):
        pushes[vertex] = 0.02 + 0.01 * place
        item.data.vertices[vertex].co.z += pushes[vertex]
    bpy.ops.evenfold.check_symmetry()
    return item, pushes


def place_of(code):
    return next(
        (number, place) for number, entry in enumerate(state.of(bpy.context.scene).check.objects)
        for place, finding in enumerate(entry.findings) if finding.code == code
    )


def select(**options):
    number, place = place_of("drifted")
    bpy.ops.evenfold.select_finding(object_index=number, finding_index=place, **options)


@pytest.mark.parametrize(("side", "sign"), [("LEFT", 1), ("RIGHT", -1)])
def test_a_half_holds_found_and_partners_of_that_half_alone(side, sign):
    item, _ = pushed()
    select(side="BOTH")
    both = chosen(item)
    assert both == {v for v in both if item.data.vertices[v].co.x}, "none of them lies on the middle"
    expected = {v for v in both if item.data.vertices[v].co.x * sign > 0}
    select(side=side)
    assert chosen(item) == expected and 0 < len(expected) < len(both)


def test_what_lies_on_the_middle_belongs_to_both_halves():
    item = keeper()
    middle = next(v.index for v in item.data.vertices if abs(v.co.x) < 1e-7)
    item.data.vertices[middle].co.x += 3e-5
    bpy.context.scene.evenfold.tolerance = 1e-5
    bpy.ops.evenfold.check_symmetry()
    halves = state.of(bpy.context.scene).looking.halves["Keeper"]
    left = {v.index for v in item.data.vertices if v.co.x > 1e-5}
    right = {v.index for v in item.data.vertices if v.co.x < -1e-5}
    numbers = np.arange(len(item.data.vertices))
    assert set(halves.on(1, "vertex", numbers).tolist()) == set(numbers.tolist()) - right
    assert set(halves.on(-1, "vertex", numbers).tolist()) == set(numbers.tolist()) - left
    assert middle in left


def test_the_worst_share_is_the_worst_by_size():
    item, _ = pushed()
    number, place = place_of("drifted")
    finding = state.of(bpy.context.scene).check.objects[number].findings[place]
    order = np.argsort(-np.asarray(finding.sizes))
    for percent in (1.0, 25.0, 50.0):
        count = max(1, int(np.ceil(len(order) * percent / 100)))
        select(worst=percent)
        assert chosen(item) == {int(finding.elements[row]) for row in order[:count]}
    select()
    assert chosen(item) == {int(one) for one in finding.elements}


def test_a_kind_is_selected_on_every_object_and_no_other_kind():
    item, _ = pushed()
    both = keeper("Coat")
    both.data.vertices[sided(both)[5]].co.y += 0.05
    for one in (item, both):
        one.select_set(True)
    bpy.context.scene.evenfold.figure_from = "SELECTED"
    bpy.ops.evenfold.check_symmetry()
    objects = state.of(bpy.context.scene).check.objects
    wanted = {
        entry.name: {int(n) for f in entry.findings if f.code == "drifted" for n in f.elements} for entry in objects
    }
    assert all(wanted.values()) and set(wanted) == {"Keeper", "Coat"}
    assert "evenfold.select_kind" in drawn(panels.symmetry.EVENFOLD_PT_symmetry)
    bpy.ops.evenfold.select_kind(code="drifted")
    assert {"Keeper": chosen(item), "Coat": chosen(both)} == wanted
    with pytest.raises(TypeError, match="enum"):
        bpy.ops.evenfold.select_kind(code="key-swapped")


@pytest.mark.parametrize(("metres", "digits", "text"), [
    (8.999e-5, 2, "0.09 mm"), (1.95e-4, 4, "0.195 mm"), (2e-6, 4, "0.002 mm"), (5e-7, 4, "< 0.001 mm"), (0.069, 4, "6.9 cm"),
])
def test_small_lengths_stay_in_millimetres(metres, digits, text):
    assert words.length(bpy.context.scene, metres, digits) == text


SENTENCES = (
    "The bones Ear1.L and Ear1.R are left out of the count: their names say 'ear'.",
    "骨「Ear1.L」は名前に「耳」とあるため、体から除外されました。確認してください。",
    "The materials KeeperOfTheNorthernLighthouse_Oilskin_Shoulders and KeeperOfTheNorthernLighthouse_Buttons are left out.",
    "One", "", "Keeperhousekeepinglighthousekeeperslanternroomstaircasewindow and more",
)


@pytest.mark.parametrize("sentence", SENTENCES)
@pytest.mark.parametrize("room", [120.0, 190.0, 400.0])
def test_wrapped_lines_fit_and_say_the_same(sentence, room):
    lines = words.wrapped(sentence, room)
    assert "".join(lines).replace(" ", "") == sentence.replace(" ", "")
    for number, line in enumerate(lines):
        hanging = bool(line) and line[-1] in "、。」"
        assert hanging or words.text_width(line, 11.0) <= room
        if number:
            first = lines[number].split(" ")[0] if line.isascii() else line[0]
            assert first in "、。」" or words.text_width(f"{lines[number - 1]} {first}", 11.0) > room - 12
    assert not any(line[:1] in tuple("、。」") for line in lines[1:])


@pytest.mark.parametrize(("kind", "number"), [("face", 3), ("edge", 900), ("vertex", 900), ("face", -1)])
def test_numbers_that_are_gone_are_refused_before_anything_is_changed(kind, number):
    item = keeper()
    other = keeper("Other")
    size = len(item.data.vertices)
    if kind == "face":
        mesh = item.data
        mesh.clear_geometry()
        mesh.vertices.add(size)
    before = [one.select_get() for one in (item, other)]
    with pytest.raises(SelectionError, match="was changed since the check"):
        select_vertices(bpy.context, {item.name: Wanted(np.array([number]), size, kind)})
    assert item.mode == other.mode == "OBJECT"
    assert [one.select_get() for one in (item, other)] == before
    outcome = select_vertices(bpy.context, {
        item.name: Wanted(np.array([number]), size, kind), other.name: Wanted(np.array([0]), size),
    })
    assert outcome.count == 1 and len(outcome.refused) == 1 and item.mode == "OBJECT"


def test_an_object_that_is_no_mesh_any_more_is_refused():
    empty = bpy.data.objects.new("Gone", None)
    bpy.context.scene.collection.objects.link(empty)
    bpy.context.view_layer.update()
    with pytest.raises(SelectionError, match="Gone is no mesh any more"):
        select_vertices(bpy.context, {"Gone": Wanted(np.array([0]), 3)})
