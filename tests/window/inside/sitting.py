"""A keeper with one fault of each of five kinds; tells what a whole sitting changes on it."""

import hashlib
import sys
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
import bpy
import common
import figure
import looks
import numpy as np
from common import ADDON, OUT, asked

FILE = OUT / "sitting.blend"
PUSHES = (0.002, 0.004, 0.008)
"""Metres that three vertices of the left cheek are pushed forward."""
BADGE = (0.06, -0.14, 0.17)
ROLL = 0.3
WEIGHT = 0.6
PANELS = ("plan_missed", "plan", "compare", "landmarks", "guides", "repair", "allowed", "baseline", "ready", "budget", "told")
SHOWN = set()
"""Names of the panels that may be seen now, apart from the three that always are."""


def with_badge(whole):
    """A sheet of four quads and no counterpart on the left of the chest."""
    x, y, z = BADGE
    points = [(x + 0.02 * i, y, z + 0.02 * j) for j in range(3) for i in range(3)]
    first = len(whole.points)
    corners = [first + 3 * j + i for j in range(2) for i in range(2)]
    faces = [(at, at + 1, at + 4, at + 3) for at in corners]
    return replace(
        whole, points=np.vstack([whole.points, points]), faces=[*whole.faces, *faces],
        shares=[*whole.shares, *[{"spine": 1.0}] * len(points)],
        partner=[*whole.partner, *range(first, first + len(points))],
    )


def plant(item, rig):
    """Push, weigh, move in one key and roll; the pushed vertices, the smallest push first."""
    points = np.array([vertex.co[:] for vertex in item.data.vertices])
    cheek = (points[:, 0] > 0.08) & (points[:, 1] < -0.1) & (points[:, 2] > 0.35) & (points[:, 2] < 0.45)
    chosen = np.flatnonzero(cheek)[[0, 2, 4]].tolist()
    for vertex, far in zip(chosen, PUSHES, strict=True):
        for key in item.data.shape_keys.key_blocks:
            key.points[vertex].co.y -= far
        item.data.vertices[vertex].co.y -= far
    ear = item.vertex_groups["Ear2.L"]
    held = next(v.index for v in item.data.vertices if any(g.group == ear.index for g in v.groups))
    ear.add([held], WEIGHT, "REPLACE")
    blink, rest = (item.data.shape_keys.key_blocks[name] for name in ("blinkLeft", "Basis"))
    lid = next(i for i in range(len(points)) if (blink.points[i].co - rest.points[i].co).length > 0.01)
    blink.points[lid].co.z -= 0.01
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    rig.data.edit_bones["Hand.R"].roll += ROLL
    bpy.ops.object.mode_set(mode="OBJECT")
    bpy.context.view_layer.objects.active = item
    return chosen


@asked
def prints():
    """One print of each thing that repairs may write, of every bit of it."""
    mesh, rig = bpy.data.objects["Keeper body"].data, bpy.data.objects["Keeper"]
    places = np.empty(3 * len(mesh.vertices), np.float32)
    mesh.vertices.foreach_get("co", places)
    found = {"places": places.tobytes()}
    for key in mesh.shape_keys.key_blocks:
        key.points.foreach_get("co", places)
        found[key.name] = places.tobytes()
    weights = [[(g.group, g.weight) for g in v.groups] for v in mesh.vertices]
    bones = [(b.name, *[tuple(row) for row in b.matrix_local]) for b in rig.data.bones]
    found |= {"weights": repr(weights).encode(), "bones": repr(bones).encode()}
    return {name: hashlib.sha256(content).hexdigest() for name, content in found.items()}


@asked
def want(heads):
    bpy.context.scene.evenfold.has_target = heads > 0
    if heads > 0:
        bpy.context.scene.evenfold.target_heads = heads


@asked
def compare_with(name):
    bpy.context.scene.evenfold_plan.compare_with = f"canon:{name}"


@asked
def only(names):
    """Show these of the panels that can be hidden."""
    SHOWN.clear()
    SHOWN.update(names)
    common.view_area().tag_redraw()


@asked
def reopen():
    bpy.ops.wm.open_mainfile(filepath=str(FILE), load_ui=False)


def _when_shown(name, own):
    def poll(_cls, context):
        return name in SHOWN and (own is None or own(context))

    return poll


def open_panels():
    """Register the closed panels again, open, each seen only when asked for."""
    panels = {name: getattr(bpy.types, f"EVENFOLD_PT_{name}") for name in PANELS}
    for panel in reversed(panels.values()):
        bpy.utils.unregister_class(panel)
    for name, panel in panels.items():
        panel.poll = classmethod(_when_shown(name, getattr(panel, "poll", None)))
        panel.bl_options = set()
        bpy.utils.register_class(panel)


def _handlers():
    lists = (getattr(bpy.app.handlers, name) for name in dir(bpy.app.handlers))
    return [f"{one.__module__}.{one.__name__}" for entries in lists if isinstance(entries, list) for one in entries]


def _in_menus():
    return [
        one.__module__ for name in dir(bpy.types) if "_MT_" in name
        for one in getattr(getattr(bpy.types, name).draw, "_draw_funcs", ())
    ]


TIMER = sys.modules[f"{ADDON}.ui.state"]._compare_due


@asked
def left_over():
    """What of the add-on is still with Blender."""
    ours = [name for name in (*_handlers(), *_in_menus()) if name.startswith(ADDON)]
    kinds = (bpy.types.Scene, bpy.types.Object, bpy.types.WindowManager)
    properties = (one.identifier for kind in kinds for one in kind.bl_rna.properties)
    ours += [name for name in properties if name.startswith("evenfold")]
    ours += [name for name in dir(bpy.types) if name.lower().startswith("evenfold")]
    ours += [f"evenfold.{name}" for name in dir(bpy.ops.evenfold)]
    ours += [f"draw {kind}" for kind in looks.MANAGER._handles]
    return ours + ["timer"] * bpy.app.timers.is_registered(TIMER)


def look():
    scene = bpy.context.scene
    if not hasattr(scene, "evenfold"):
        return {"on": False}
    results = common.state()
    check = results.check if results else None
    proportion = results.proportion if results else None
    looking = results.looking if results else None
    allowances = sys.modules[f"{ADDON}.host.allowances"]
    baselines = sys.modules[f"{ADDON}.host.baselines"]
    budgeting = sys.modules[f"{ADDON}.ui.budgeting"]
    items = [item for item in scene.objects if item.type in ("MESH", "ARMATURE")]
    findings = [
        [place, number, entry.name, f.code, f.subject or "", sorted(set(f.elements.tolist())), f.new]
        for place, entry in enumerate(check.objects) for number, f in enumerate(entry.findings)
    ] if check else []
    return {
        "on": True, "measured": bool(proportion), "heads": proportion.heads_tall if proportion else None,
        "within": proportion.within_target if proportion else None, "planned": bool(results and results.plan),
        "checked": bool(check), "stale": bool(results and results.stale), "findings": findings,
        "excused": sum(entry.allowed for entry in check.objects) if check else 0,
        "reasons": [row.reason for item in items for row in allowances.stored_on(item)],
        "kept": [item.name for item in items if baselines.KEY in item],
        "ready": [[one.level, one.message] for one in budgeting.readiness_now(scene, check)] if check else [],
        "triangles": check.size.triangles if check else 0, "limit": scene.evenfold_budget.triangles,
        "at": looking.at if looking else None, "pushed": PUSHED, "badge": BADGED,
        "opened": scene.evenfold_landmarks.opened, "saved": not bpy.data.is_dirty,
        "file": bpy.data.filepath,
    }


open_panels()
BODY, _ = figure.build("keeper", change=with_badge)
BADGED = list(range(len(BODY.data.vertices) - 9, len(BODY.data.vertices)))
PUSHED = plant(BODY, bpy.data.objects["Keeper"])
looks.look_from("front")
bpy.ops.wm.save_as_mainfile(filepath=str(FILE))
bpy.ops.ed.undo_push(message="Planted")
common.begin(look)
