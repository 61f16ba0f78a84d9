"""The add-on leaves nothing behind, and no event of the host makes it complain.

Each test runs in a process of its own, because what is left behind would be left to other tests,
and because the host writes its complaints to the console only.
"""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import bpy
import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
BAD = re.compile(r"Traceback|\b[A-Z]\w+Error\b|EXCEPTION|leak|not freed|already registered|[Ss]egmentation")
"""What the host's console says when something went wrong; refusals of our operators are none of it."""
CLOSES_QUIETLY = bpy.app.version >= (5, 0, 0)
"""As a module 4.2 crashes and 4.5 hangs when closed with any Python function in a handler or pointer
(measured with one empty handler and nothing of ours), so there only the way to the end is tested."""
HEAD = """
import json, os, sys
sys.path[:0] = [{addon!r}, {tests!r}, {host!r}]
import bpy
import evenfold
from evenfold.ui import live, state
import scenes

def at_work(name="Keeper"):
    rig = scenes.add_rig("Rig of " + name)
    body = scenes.add_box(name)
    scenes.deform(body, rig, "Spine")
    body.data.vertices[0].co.x += 0.05
    for item in bpy.context.view_layer.objects:
        item.select_set(item == body)
    bpy.context.view_layer.objects.active = body
    bpy.context.view_layer.update()
    return rig, body

def heard():
    "Everything of the host that calls or shows something of an add-on, by name."
    found = []
    for name in dir(bpy.app.handlers):
        entries = getattr(bpy.app.handlers, name)
        if isinstance(entries, list):
            found += ["handler " + name + " " + one.__module__ + "." + one.__qualname__ for one in entries]
    for name in dir(bpy.types):
        kind = getattr(bpy.types, name)
        if "evenfold" in name.lower():
            found.append("type " + name)
        drawn = getattr(getattr(kind, "draw", None), "_draw_funcs", ())
        found += ["menu " + name + " " + one.__module__ + "." + one.__qualname__ for one in drawn if not one.__module__.startswith("bl_ui")]
    for kind in (bpy.types.Scene, bpy.types.Object, bpy.types.WindowManager, bpy.types.Mesh, bpy.types.Armature):
        found += [kind.__name__ + "." + one for one in dir(kind) if "evenfold" in one.lower()]
        found += [kind.__name__ + "." + one.identifier for one in kind.bl_rna.properties if "evenfold" in one.identifier]
    found += ["operator " + one for one in dir(bpy.ops) if "evenfold" in one]
    configs = bpy.context.window_manager.keyconfigs
    for config in configs:
        for keymap in config.keymaps:
            found += ["key " + keymap.name + " " + one.idname for one in keymap.keymap_items if "evenfold" in one.idname]
    found += timers()
    return sorted(set(found))  # bundled add-ons of the host may be there twice after its factory settings

def timers():
    import gc, types
    return ["timer " + one.__qualname__ for one in gc.get_objects()
            if type(one) is types.FunctionType and (one.__module__ or "").startswith("evenfold")
            and bpy.app.timers.is_registered(one)]

class Space:
    "Stands in for the 3D view, which takes no draw callbacks without a window."
    callbacks = []
    def draw_handler_add(self, function, *_):
        self.callbacks.append(function)
        return function
    def draw_handler_remove(self, handle, _region):
        self.callbacks.remove(handle)

from evenfold.ui.overlay import manager
manager.in_background, manager.view_space = (lambda: False), Space

def try_op(call):
    try:
        call()
    except RuntimeError as error:
        print("refused", error)
"""
TAIL = """
sys.stdout.flush(); sys.stderr.flush()
os._exit(0)
"""


def run(code: str, tmp_path: Path, addon: Path | None = None) -> dict[str, object]:
    """What the code prints as its last line, as JSON; fails when the host's console complains."""
    folders = {"addon": str(addon or ROOT / "addon"), "tests": str(ROOT / "tests"), "host": str(ROOT / "tests/host")}
    head = HEAD
    for name, folder in folders.items():
        head = head.replace(f"{{{name}!r}}", repr(folder))
    script = tmp_path / "code.py"
    script.write_text(head + code + TAIL, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, str(script)], cwd=tmp_path, capture_output=True, text=True, check=False, timeout=120,
        env={**os.environ, "EVENFOLD_TEST": "1"},
    )
    said = done.stdout.splitlines()
    complaints = [
        line for line in (*said, *done.stderr.splitlines())
        if BAD.search(line) and not line.startswith("{")
    ]
    assert done.returncode == 0 and not complaints, done.stdout[-3000:] + done.stderr[-3000:]
    found = [line for line in said if line.startswith("{")]
    return json.loads(found[-1])


def test_twenty_times_on_and_off_leave_nothing_behind(tmp_path):
    told = run("""
scenes.empty_scene()
before = heard()
for turn in range(20):
    evenfold.register()
    if turn in (0, 19):
        at_work()
        bpy.ops.evenfold.measure()
        bpy.ops.evenfold.check_symmetry()
        bpy.ops.evenfold.keep_current()
        during = heard() + ["callback"] * len(Space.callbacks)
    evenfold.unregister()
    if turn in (0, 19):
        assert heard() == before, sorted(set(heard()) ^ set(before))
        scenes.empty_scene()
print(json.dumps({"before": before, "during": during, "after": heard(), "drawn": len(Space.callbacks)}))
""", tmp_path)
    assert told["after"] == told["before"]
    assert not [entry for entry in told["before"] if "evenfold" in entry.lower()]
    assert told["drawn"] == 0 and told["during"].count("callback") == 2
    during = "\n".join(told["during"])
    for kind in ("handler ", "type EVENFOLD_", "Scene.evenfold", "operator evenfold"):
        assert kind in during, f"nothing of this kind was there to be left behind: {kind}"


def test_what_is_left_behind_is_seen(tmp_path):
    told = run("""
scenes.empty_scene()
before = heard()
def evenfold_late(*_): pass
evenfold_late.__module__ = "evenfold.late"
bpy.app.handlers.load_post.append(evenfold_late)
bpy.types.Scene.evenfold_late = bpy.props.IntProperty()
bpy.app.timers.register(evenfold_late, first_interval=60)
bpy.types.VIEW3D_MT_object.append(evenfold_late)
print(json.dumps({"more": sorted(set(heard()) - set(before))}))
""", tmp_path)
    kinds = {entry.split()[0].split(".")[0] for entry in told["more"]}
    assert kinds == {"handler", "Scene", "timer", "menu"}


def test_modules_loaded_anew_five_times_leave_nothing_behind(tmp_path):
    """As "Reload Scripts" does: off, modules forgotten, on again."""
    told = run("""
scenes.empty_scene()
before = heard()
for _ in range(5):
    evenfold.register()
    evenfold.unregister()
    for name in [one for one in sys.modules if one.split(".")[0] == "evenfold"]:
        del sys.modules[name]
    import evenfold
print(json.dumps({"same": heard() == before}))
""", tmp_path)
    assert told["same"]


def test_loading_files_and_factory_settings(tmp_path):
    told = run("""
evenfold.register()
scenes.empty_scene()
at_work()
bpy.ops.evenfold.measure()
bpy.ops.evenfold.check_symmetry()
bpy.context.scene.evenfold_findings.show = True
bpy.context.scene.evenfold_guides.show = True
try_op(lambda: bpy.ops.evenfold.keep_current())
bpy.ops.wm.save_as_mainfile(filepath=os.path.abspath("one.blend"))
known = state.of(bpy.context.scene) is not None
bpy.ops.wm.open_mainfile(filepath=os.path.abspath("one.blend"))
forgotten = state.of(bpy.context.scene) is None
kept = bpy.context.scene.evenfold_guides.show
bpy.ops.evenfold.check_symmetry()
bpy.ops.wm.revert_mainfile()
bpy.ops.evenfold.measure()
bpy.ops.wm.read_homefile(use_empty=True)
bpy.ops.wm.read_factory_settings(use_empty=False)
bpy.context.view_layer.update()
there = hasattr(bpy.types.Scene, "evenfold")
at_work("Cook")
bpy.ops.evenfold.check_symmetry()
with open("broken.blend", "wb") as file:
    file.write(b"BLENDER-v500 no more of it")
evenfold.unregister()
print(json.dumps({"known": known, "forgotten": forgotten, "kept": kept, "there": there}))
""", tmp_path)
    assert told == {"known": True, "forgotten": True, "kept": True, "there": True}


def test_undo_and_redo_across_a_check(tmp_path):
    told = run("""
evenfold.register()
scenes.empty_scene()
rig, body = at_work()
bpy.ops.ed.undo_push(message="Figure")
bpy.ops.evenfold.check_symmetry()
first = [f.code for o in state.of(bpy.context.scene).check.objects for f in o.findings]
bpy.data.objects["Keeper"].location.z += 1.0
bpy.ops.ed.undo_push(message="Moved")
bpy.ops.evenfold.check_symmetry()
for _ in range(3):
    try_op(lambda: bpy.ops.ed.undo())
    bpy.context.view_layer.update()
    try_op(lambda: bpy.ops.evenfold.select_asymmetric())
for _ in range(3):
    try_op(lambda: bpy.ops.ed.redo())
    bpy.context.view_layer.update()
bpy.ops.evenfold.check_symmetry()
again = [f.code for o in state.of(bpy.context.scene).check.objects for f in o.findings]
evenfold.unregister()
print(json.dumps({"first": first, "again": again}))
""", tmp_path)
    assert told["first"] and told["first"] == told["again"]


def test_deleted_and_renamed_things_after_a_check(tmp_path):
    told = run("""
evenfold.register()
scenes.empty_scene()
rig, body = at_work()
scene = bpy.context.scene
scene.evenfold.figure_from = "ARMATURE"
scene.evenfold.armature = rig
scene.evenfold_plan.other = body
bpy.ops.evenfold.measure()
bpy.ops.evenfold.check_symmetry()
rig.data.bones["Spine"].name = "Column"
bpy.context.view_layer.update()
try_op(lambda: bpy.ops.evenfold.select_asymmetric())
body.name = "Someone"
bpy.context.view_layer.update()
try_op(lambda: bpy.ops.evenfold.select_asymmetric())
bpy.ops.evenfold.check_symmetry()
fresh = [one.name for one in state.of(scene).check.objects]
bpy.data.objects.remove(body)
bpy.context.view_layer.update()
for call in (bpy.ops.evenfold.select_asymmetric, bpy.ops.evenfold.measure, bpy.ops.evenfold.check_symmetry, bpy.ops.evenfold.repair_all):
    try_op(call)
bpy.data.objects.remove(rig)
bpy.context.view_layer.update()
pointer = scene.evenfold.armature
for call in (bpy.ops.evenfold.measure, bpy.ops.evenfold.check_symmetry):
    try_op(call)
from evenfold.ui.overlay import manager
found = {name: source(scene) is None for name, source in manager._sources.items()}
evenfold.unregister()
print(json.dumps({"fresh": fresh, "pointer": pointer is None, "other": scene.get("evenfold_plan") is not None}))
""", tmp_path)
    assert set(told["fresh"]) == {"Someone", "Rig of Keeper"}
    assert told["pointer"]


def test_linked_figures_and_overrides(tmp_path):
    told = run("""
evenfold.register()
scenes.empty_scene()
rig, body = at_work()
crew = bpy.data.collections.new("Crew")
bpy.context.scene.collection.children.link(crew)
for item in (rig, body):
    bpy.context.scene.collection.objects.unlink(item)
    crew.objects.link(item)
bpy.ops.wm.save_as_mainfile(filepath=os.path.abspath("crew.blend"))
said = {}
for way in ("linked", "override"):
    scenes.empty_scene()
    with bpy.data.libraries.load(os.path.abspath("crew.blend"), link=True) as (there, here):
        here.collections = ["Crew"]
    bpy.context.scene.collection.children.link(here.collections[0])
    bpy.context.view_layer.update()
    body = bpy.data.objects["Keeper"]
    if way == "override":
        here.collections[0].override_hierarchy_create(bpy.context.scene, bpy.context.view_layer)
        bpy.context.view_layer.update()
        body = next(one for one in bpy.context.view_layer.objects if one.type == "MESH" and one.override_library)
    bpy.context.view_layer.objects.active = body
    bpy.ops.evenfold.measure()
    bpy.ops.evenfold.check_symmetry()
    said[way] = sum(len(one.findings) for one in state.of(bpy.context.scene).check.objects)
    for call in (bpy.ops.evenfold.select_asymmetric, bpy.ops.evenfold.repair_all, bpy.ops.evenfold.keep_current, bpy.ops.evenfold.save_baseline):
        try_op(call)
evenfold.unregister()
print(json.dumps(said))
""", tmp_path)
    assert told["linked"] > 0 and told["override"] > 0


def test_several_scenes_keep_their_results_apart(tmp_path):
    told = run("""
evenfold.register()
scenes.empty_scene()
one = bpy.context.scene
at_work("Keeper")
bpy.ops.evenfold.check_symmetry()
other = bpy.data.scenes.new("Kitchen")
def checked():
    return [None if state.of(s) is None else [o.name for o in state.of(s).check.objects if o.kind == "mesh"] for s in (one, other)]
first = checked()
window = bpy.context.window
with bpy.context.temp_override(scene=other, view_layer=other.view_layers[0]):
    try_op(lambda: bpy.ops.evenfold.check_symmetry())
    body = bpy.data.objects["Keeper"].copy()
    other.collection.objects.link(body)
    other.view_layers[0].objects.active = body
    other.view_layers[0].update()
    bpy.ops.evenfold.check_symmetry()
second = checked()
bpy.data.scenes.remove(other)
bpy.context.view_layer.update()
third = [o.name for o in state.of(one).check.objects if o.kind == "mesh"]
bpy.ops.evenfold.check_symmetry()
evenfold.unregister()
print(json.dumps({"first": first, "second": second, "third": third}))
""", tmp_path)
    assert told == {"first": [["Keeper"], None], "second": [["Keeper"], ["Keeper.001"]], "third": ["Keeper"]}


GONE = {
    "objects": "bpy.data.objects.remove(body)\nbpy.data.objects.remove(rig)",
    "scene": 'bpy.data.scenes.new("Kitchen")\nbpy.data.scenes.remove(scene)',
}
AT_ONCE = "import os; os._exit(0)\n"
ENDINGS = ("", "evenfold.unregister()\n") if CLOSES_QUIETLY else (f"evenfold.unregister()\n{AT_ONCE}",)


@pytest.mark.parametrize("gone", GONE)
def test_the_host_closes_quietly_with_pointers_to_objects(tmp_path, gone):
    """A poll on an object pointer once crashed 4.2 when it was closed: closed here without a short cut."""
    folders = [str(ROOT / "addon"), str(ROOT / "tests"), str(ROOT / "tests/host")]
    code = f"""
import sys
sys.path[:0] = {folders!r}
import bpy, evenfold, scenes
evenfold.register()
scenes.empty_scene()
body = scenes.add_box("Keeper")
rig = scenes.add_rig("Rig")
scene = bpy.context.scene
scene.evenfold_plan.other = body
scene.evenfold.armature = rig
{GONE[gone]}
print("done", flush=True)
"""
    for ending in ENDINGS:
        done = subprocess.run(
            [sys.executable, "-c", code + ending], cwd=tmp_path, capture_output=True, text=True, check=False, timeout=60
        )
        assert done.stdout.strip().endswith("done") and done.returncode == 0, done.stderr[-2000:]
