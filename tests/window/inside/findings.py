"""A keeper with planted faults of several kinds; tells what is marked, looked at and selected."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
import bmesh
import bpy
import common
import figure
import looks
import numpy as np
from common import ADDON, asked

PUSHES = tuple(0.0008 * 1.5 ** step for step in range(12))
"""Metres that vertices of the left cheek are pushed forward."""
BADGE = (0.07, -0.17, 0.2)


def push(item):
    """Push single vertices of the face, the worst last; their numbers."""
    points = np.array([vertex.co[:] for vertex in item.data.vertices])
    cheek = np.flatnonzero((points[:, 0] > 0.05) & (points[:, 1] < -0.1) & (points[:, 2] > 0.42) & (points[:, 2] < 0.8))
    chosen = cheek[:: max(len(cheek) // len(PUSHES), 1)][: len(PUSHES)].tolist()
    for vertex, far in zip(chosen, PUSHES, strict=True):
        for key in item.data.shape_keys.key_blocks:
            key.points[vertex].co.y -= far
        item.data.vertices[vertex].co.y -= far
    return chosen


def badge():
    """A small sheet and a single quad on the left of the chest, with nothing on the right."""
    x, y, z = BADGE
    points = [(x + 0.015 * i, y, z + 0.015 * j) for j in range(3) for i in range(3)]
    faces = [(3 * j + i, 3 * j + i + 1, 3 * j + i + 4, 3 * j + i + 3) for j in range(2) for i in range(2)]
    points += [(x + 0.06 + 0.015 * i, y, z + 0.015 * j) for j in range(2) for i in range(2)]
    faces.append((9, 10, 12, 11))
    mesh = bpy.data.meshes.new("Lantern badge")
    mesh.from_pydata(points, [], faces)
    item = bpy.data.objects.new("Lantern badge", mesh)
    bpy.context.scene.collection.objects.link(item)
    item.parent = bpy.data.objects["Keeper"]
    return item


def paint(item):
    """Another material on a few faces of the left ear."""
    item.data.materials.append(bpy.data.materials.new("Lining"))
    for face in item.data.polygons:
        if face.center.x > 0.2 and face.center.z > 0.95 and face.center.y < 0:
            face.material_index = 1


def weigh(item):
    """Other weights on a few vertices of the left arm."""
    arm = [vertex for vertex in item.data.vertices if vertex.co.x > 0.2 and vertex.co.z < 0.35][::3][:6]
    for number, vertex in enumerate(arm, 1):
        item.vertex_groups[vertex.groups[0].group].add([vertex.index], 1.0 - 0.12 * number, "REPLACE")


def bend(rig):
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    rig.data.edit_bones["Hand.R"].tail.z -= 0.06
    bpy.ops.object.mode_set(mode="OBJECT")


@asked
def where():
    """Where the worst pushed vertex stands, halfway to where it should be."""
    x, y, z = BODY.data.vertices[PUSHED[-1]].co
    return x, y + PUSHES[-1] / 2, z


@asked
def mark(kinds):
    bpy.context.scene.evenfold_findings.kinds = kinds


@asked
def middle():
    """The middle of the 3D view in window pixels, from the lower left."""
    region = common.region_of(common.view_area(), "WINDOW")
    return region.x + region.width // 2, region.y + region.height // 2


def look():
    scene = bpy.context.scene
    chosen = getattr(scene, "evenfold_findings", None)
    results = common.state() if chosen is not None else None
    looking = results.looking if results else None
    region = common.view_area().spaces.active.region_3d
    item = bpy.data.objects["Keeper body"]
    selected = []
    if item.mode == "EDIT":
        selected = [v.index for v in bmesh.from_edit_mesh(item.data).verts if v.select]
    check = results.check if results else None
    return {
        "checked": bool(check), "show": bool(chosen and chosen.show),
        "kinds": chosen.kinds if chosen else "", "at": looking.at if looking else None,
        "step": looking.step if looking else -1, "stale": bool(results and results.stale),
        "view": [*region.view_location, region.view_distance], "selected": selected,
        "codes": [[f.code for f in entry.findings] for entry in check.objects] if check else [],
        "pushed": PUSHED, "on": f"{ADDON}.ui.state" in sys.modules and chosen is not None,
        "active": bpy.context.view_layer.objects.active.name,
    }


BODY, _ = figure.build("keeper")
PUSHED = push(BODY)
paint(BODY)
weigh(BODY)
badge()
bend(bpy.data.objects["Keeper"])
bpy.context.view_layer.objects.active = BODY
looks.look_from("front")
bpy.ops.ed.undo_push(message="Planted")
common.begin(look)
