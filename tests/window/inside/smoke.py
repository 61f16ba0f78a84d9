"""The keeper of the symmetry scenario, with a print of every vertex's place."""

import hashlib
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
import bpy
import numpy as np
import symmetry
from common import asked


@asked
def print_of_places():
    mesh = bpy.data.objects["Keeper body"].data
    places = np.empty(3 * len(mesh.vertices), np.float32)
    prints = hashlib.sha256()
    for points in (mesh.vertices, *(key.points for key in mesh.shape_keys.key_blocks)):
        points.foreach_get("co", places)
        prints.update(places.tobytes())
    return prints.hexdigest()


BACK = 0.054
"""Metres; what is left of the push is small enough to be mended without asking."""
for one in (bpy.data.objects["Keeper body"].data, *bpy.data.shape_keys[0].key_blocks):
    points = one.points if hasattr(one, "points") else one.vertices
    points[symmetry.PLANTED].co.y += BACK
bpy.ops.ed.undo_push(message="Planted")
