"""Moving vertices of the neutral shape, with every key that builds on it; nothing else is written."""

import bpy
import numpy as np

from ...core.repair.applied import with_change
from ...core.repair.changes import Moved
from ..read.keys import read_keys
from ..read.mesh import mesh_of, neutral_positions
from .keys import write_keys


def write_moved(item: bpy.types.Object, change: Moved) -> None:
    """The neutral key, the keys carried along, and the mesh's own places, which mirror tools read."""
    mesh = mesh_of(item)
    keys, _ = read_keys(mesh)
    _, after = with_change(neutral_positions(mesh), keys, change)
    if keys is not None and after is not None:
        write_keys(mesh, keys, after)
    places = np.zeros(len(mesh.vertices) * 3, np.float32)
    mesh.vertices.foreach_get("co", places)
    table = places.reshape(-1, 3)
    table[change.vertices] = change.places
    mesh.vertices.foreach_set("co", places)
