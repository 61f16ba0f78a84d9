"""Runs inside a Blender with a window: builds an invented figure and answers what was selected.

The runner outside clicks and types; this side only builds the scene, opens the sidebar, and
writes what it sees to a file each quarter of a second, so that the runner can wait for it.
"""

import json
import sys
from pathlib import Path

import bmesh
import bpy

OUT = Path(sys.argv[sys.argv.index("--") + 1])
PLANTED_PUSH = 0.06


def ball(name, radius, centre, squash=1.0):
    """A ball mirrored exactly about X = 0."""
    edit = bmesh.new()
    bmesh.ops.create_uvsphere(edit, u_segments=24, v_segments=13, radius=radius)
    everything = edit.verts[:] + edit.edges[:] + edit.faces[:]
    bmesh.ops.bisect_plane(
        edit, geom=everything, dist=1e-4, plane_co=(0, 0, 0), plane_no=(-1, 0, 0), clear_outer=True
    )
    bmesh.ops.mirror(
        edit, geom=edit.verts[:] + edit.edges[:] + edit.faces[:], axis="X", merge_dist=1e-4
    )
    for vertex in edit.verts:
        vertex.co.z = vertex.co.z * squash + centre
    mesh = bpy.data.meshes.new(name)
    edit.to_mesh(mesh)
    edit.free()
    item = bpy.data.objects.new(name, mesh)
    bpy.context.scene.collection.objects.link(item)
    return item


def rig_of(items):
    """An armature with a body and a head bone, each deforming one ball wholly."""
    rig = bpy.data.objects.new("Keeper", bpy.data.armatures.new("Keeper"))
    bpy.context.scene.collection.objects.link(rig)
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    places = (("spine", 0.1, 1.0), ("neck", 1.0, 1.1), ("head", 1.1, 1.9))
    previous = None
    for name, low, high in places:
        bone = rig.data.edit_bones.new(name)
        bone.head, bone.tail, bone.parent = (0, 0, low), (0, 0, high), previous
        previous = bone
    bpy.ops.object.mode_set(mode="OBJECT")
    for item, bone in zip(items, ("spine", "head"), strict=True):
        group = item.vertex_groups.new(name=bone)
        group.add(list(range(len(item.data.vertices))), 1.0, "REPLACE")
        item.modifiers.new("Armature", "ARMATURE").object = rig
        item.parent = rig
    return rig


def build():
    for item in list(bpy.data.objects):
        bpy.data.objects.remove(item)
    body, head = ball("Keeper body", 0.5, 0.6, 1.2), ball("Keeper head", 0.45, 1.5)
    bpy.context.view_layer.objects.active = rig_of((body, head))
    bpy.ops.evenfold.pin_cursor(landmark="sole")
    left = [v.index for v in head.data.vertices if v.co.x > 0.2 and v.co.z > 1.55]
    head.data.vertices[left[4]].co.y -= PLANTED_PUSH
    bpy.context.view_layer.objects.active = head
    head.select_set(True)
    bpy.ops.ed.undo_push(message="Built")
    return left[4]


def look():
    """What the scene looks like now, as plain data."""
    selected = {}
    for item in bpy.context.scene.objects:
        if item.type == "MESH" and item.mode == "EDIT":
            edit = bmesh.from_edit_mesh(item.data)
            selected[item.name] = [v.index for v in edit.verts if v.select]
    state = sys.modules["bl_ext.user_default.evenfold.ui.state"]
    results = state.of(bpy.context.scene)
    check = results.check if results else None
    findings = [
        [entry.name, f.code, f.elements.tolist(), f.partners.tolist()]
        for entry in (check.objects if check else ()) for f in entry.findings
    ]
    heads = results.proportion.heads_tall if results and results.proportion else None
    return {
        "planted": PLANTED, "mode": bpy.context.mode, "selected": selected, "findings": findings,
        "measured": bool(results and results.proportion), "heads": heads, "checked": bool(check),
        "stale": bool(results and results.stale), "area": AREA,
    }


def tell():
    part = OUT / "seen.part"
    part.write_text(json.dumps(look()), encoding="utf-8")
    part.replace(OUT / "seen.json")
    return 0.25


def open_sidebar():
    """Open the sidebar and say where it is, in window pixels from the lower left."""
    for area in bpy.context.window.screen.areas:
        if area.type == "VIEW_3D":
            area.spaces.active.show_region_ui = True
            area.spaces.active.region_3d.view_distance = 6.0
            region = next(r for r in area.regions if r.type == "UI")
            AREA.update(x=region.x, y=region.y, width=region.width, height=region.height)
    return 1.0


AREA = {}
bpy.context.preferences.view.show_splash = False
PLANTED = build()
bpy.app.timers.register(open_sidebar, first_interval=1.0)
bpy.app.timers.register(tell, first_interval=2.0)
