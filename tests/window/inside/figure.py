"""The demo's keeper in the open scene: head with ears, body, limbs and armature. Invented."""

import sys

import bpy
from common import OUT

sys.path.insert(0, str(OUT))
from build_figures import BUILDS, add_keys, add_mesh, add_rig
from half_body import body

PLANTED_PUSH = 0.06


def build(name="keeper", plant=False, change=lambda whole: whole):
    """Put the figure alone into the scene; returns its mesh object and the planted vertex."""
    for item in list(bpy.data.objects):
        bpy.data.objects.remove(item)
    build, title = BUILDS[name], name.capitalize()
    rig = add_rig(title, build)
    whole = change(body(build))
    made = add_mesh(f"{title} body", whole, rig, "Skin")
    add_keys(made, whole, build)
    bpy.context.view_layer.objects.active = made
    made.select_set(True)
    planted = -1
    if plant:
        left = [i for i, share in enumerate(whole.shares)
                if share == {"head": 1.0} and whole.points[i, 0] > 0.1]
        planted = left[20]
        for key in made.data.shape_keys.key_blocks:
            key.points[planted].co.y -= PLANTED_PUSH
        made.data.vertices[planted].co.y -= PLANTED_PUSH
    bpy.ops.ed.undo_push(message="Built")
    return made, planted
