"""What the artist says in Edit Mode is taken back by one step of undo. Invented figures."""

import bpy
import evenfold
import pytest
from evenfold.core.figure import Worn
from evenfold.host import allowances, baselines, bone_map, drawing, store
from evenfold.ui import operators
from host.scenes import add_rig, deform
from host.test_ui import keeper, sided

KEYS = (
    store.PINS_KEY, store.WORN_KEY, store.HEAD_KEY, allowances.KEY, baselines.KEY,
    bone_map.BONE_MAP_KEY, drawing.MARKS_KEY,
)
REASON = "a badge"
PUSHED = 8


@pytest.fixture(autouse=True)
def addon():
    bpy.ops.wm.read_homefile(use_empty=True)
    evenfold.register()
    bpy.context.preferences.edit.use_global_undo = True
    yield
    evenfold.unregister()


def figure():
    """A rigged ball with a pushed vertex and a group, checked, with something of every kind said."""
    body = keeper()
    rig = add_rig("Rig")
    deform(body, rig)
    body.vertex_groups.new(name="Patch").add([0], 1.0, "REPLACE")
    body.data.vertices[sided(body)[PUSHED]].co.z += 0.07
    store.pin_vertex(body, "sole", 0)
    store.mark(body, Worn("group", "Patch", True))
    store.name_head_bone(rig, "Head")
    allowances.allow(body, "group", "Patch", REASON)
    bpy.context.view_layer.update()
    bpy.context.view_layer.objects.active = body
    assert bpy.ops.evenfold.check_symmetry() == {"FINISHED"}
    return body, rig


def said() -> dict[str, str]:
    """All that is kept on objects and scenes, and the marks on meshes."""
    holders = (*bpy.data.objects, *bpy.data.scenes)
    kept = {f"{one.name}/{key}": str(one[key]) for one in holders for key in KEYS if key in one}
    for mesh in bpy.data.meshes:
        kept[f"{mesh.name}/attributes"] = "/".join(
            sorted(one.name for one in mesh.attributes if one.name.startswith("evenfold"))
        )
    return {**kept, "objects": "/".join(sorted(bpy.data.objects.keys()))}


def in_object_mode() -> dict[str, str]:
    """The same, once an edit session is closed; the next step of undo must not depend on it."""
    if bpy.context.mode != "OBJECT":
        bpy.ops.object.mode_set(mode="OBJECT")
    return said()


def patch() -> str:
    return next(row.mark for row in allowances.stored_on(bpy.data.objects["Keeper"]) if row.kind == "group")


WRITERS = {
    "pin_vertex": lambda: {"landmark": "chin"},
    "pin_cursor": lambda: {"landmark": "crown"},
    "remove_pin": lambda: {"object_name": "Keeper", "landmark": "sole"},
    "leave_out": lambda: {"kind": "object"},
    "forget_left_out": lambda: {"object_name": "Keeper", "kind": "group", "name": "Patch"},
    "name_head_bone": lambda: {"clear": True},
    "choose_head_bone": lambda: {"bone": "Spine"},
    "count_as_body": lambda: {"kind": "object", "names": "Keeper"},
    "allow_selection": lambda: {"reason": REASON},
    "allow_named": lambda: {"kind": "object", "reason": REASON},
    "allow_layer": lambda: {"layer": "uv", "reason": REASON},
    "allow_finding": lambda: {"object_index": 0, "finding_index": 0, "reason": REASON},
    "forget_allowance": lambda: {"object_name": "Keeper", "mark": patch()},
    "save_baseline": dict,
    "forget_baseline": dict,
    "make_guides": dict,
    "remove_guides": dict,
    "map_bone": lambda: {"standard": "head", "bone": "Head"},
    "guess_bones": dict,
    "clear_bones": dict,
    "read_bone_map": dict,
    "mark_drawing": dict,
    "mark_drawing_cursor": dict,
    "unmark_drawing": lambda: {"landmark": "crown"},
    "match_drawing": dict,
    "load_drawing": dict,
}
"""Every operator that writes custom properties or makes objects, and how it is called."""

ON_BONES = {"name_head_bone"}
"""Those that want the armature in Edit Mode."""

REFUSED = {
    "choose_head_bone", "count_as_body", "map_bone", "guess_bones", "clear_bones", "read_bone_map", "mark_drawing",
    "mark_drawing_cursor", "unmark_drawing", "match_drawing", "load_drawing",
}
"""Those that ask for Object Mode first."""


def in_edit_mode(name: str) -> None:
    body, rig = figure()
    if name == "forget_baseline":
        bpy.ops.evenfold.save_baseline()
    if name == "remove_guides":
        bpy.ops.evenfold.make_guides()
    if name in ("match_drawing", "unmark_drawing", "mark_drawing", "mark_drawing_cursor"):
        sheet = bpy.data.objects.new("Sheet", None)
        bpy.context.scene.collection.objects.link(sheet)
        bpy.context.scene.evenfold_drawing.item = sheet
    bpy.context.view_layer.objects.active = rig if name in ON_BONES else body
    for vertex in body.data.vertices:
        vertex.select = vertex.index == 3
    for part in (*body.data.edges, *body.data.polygons):
        part.select = False
    bpy.ops.ed.undo_push(message="Built")
    bpy.ops.object.mode_set("EXEC_DEFAULT", True, mode="EDIT")


@pytest.mark.parametrize("name", sorted(set(WRITERS) - REFUSED))
def test_one_step_of_undo_takes_back_what_was_said_in_edit_mode(name) -> None:
    in_edit_mode(name)
    mode = bpy.context.mode
    before = said()
    call = getattr(bpy.ops.evenfold, name)
    assert call("EXEC_DEFAULT", True, **WRITERS[name]()) == {"FINISHED"}
    assert bpy.context.mode == mode
    bpy.ops.object.mode_set(mode="OBJECT")
    after = said()
    bpy.ops.object.mode_set(mode="EDIT")
    assert after != before
    bpy.ops.ed.undo()
    assert bpy.context.mode == mode
    assert in_object_mode() == before
    bpy.ops.ed.redo()
    assert in_object_mode() == after


@pytest.mark.parametrize("name", sorted(REFUSED))
def test_what_cannot_be_undone_in_edit_mode_asks_for_object_mode(name) -> None:
    in_edit_mode(name)
    with pytest.raises(RuntimeError, match="Go to object mode first"):
        getattr(bpy.ops.evenfold, name)("EXEC_DEFAULT", True, **WRITERS[name]())


@pytest.mark.parametrize("name", ["pin_cursor", "leave_out", "allow_named", "save_baseline"])
def test_one_step_of_undo_is_enough_in_object_mode_too(name) -> None:
    figure()
    before = said()
    bpy.ops.ed.undo_push(message="Built")
    getattr(bpy.ops.evenfold, name)("EXEC_DEFAULT", True, **WRITERS[name]())
    assert said() != before
    bpy.ops.ed.undo()
    assert said() == before
    bpy.ops.ed.redo()
    assert said() != before


def test_sculpting_which_cannot_take_it_back_asks_for_object_mode() -> None:
    figure()
    bpy.ops.object.mode_set(mode="SCULPT")
    before = said()
    with pytest.raises(RuntimeError, match="Go to object mode first"):
        bpy.ops.evenfold.leave_out(kind="object")
    assert said() == before


def test_the_edit_session_goes_on_as_it_was() -> None:
    in_edit_mode("allow_selection")
    bpy.ops.object.mode_set(mode="OBJECT")
    other = keeper("Other")
    body = bpy.data.objects["Keeper"]
    body.select_set(True)
    other.select_set(True)
    bpy.context.view_layer.objects.active = body
    bpy.ops.object.mode_set("EXEC_DEFAULT", True, mode="EDIT")
    assert (body.mode, other.mode) == ("EDIT", "EDIT")
    bpy.ops.evenfold.allow_named(kind="object", reason=REASON)
    assert (body.mode, other.mode) == ("EDIT", "EDIT")
    assert bpy.context.view_layer.objects.active == body
    body.update_from_editmode()
    assert [one.index for one in body.data.vertices if one.select] == [3]


def test_every_operator_that_writes_what_is_said_is_in_the_list() -> None:
    """Those that neither write on objects nor on scenes but by themselves are named here."""
    others = {
        "measure", "check_symmetry", "show_allowance", "choose_figure", "open_landmark", "copy_plan",
    }
    names = {
        cls.bl_idname.removeprefix("evenfold.")
        for module in (operators.allowed, operators.drawing, operators.guessed, operators.guides, operators.landmarks, operators.pin, operators.worn)
        for cls in module.CLASSES
    }
    assert names - others == set(WRITERS)
