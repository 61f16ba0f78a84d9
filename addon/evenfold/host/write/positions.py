"""Writing places: of the neutral shape and of single keys, everything that builds on them along."""

from collections.abc import Sequence

import bpy
import numpy as np

from ...core.repair.applied import with_change
from ...core.repair.changes import KeyMoved, Moved
from ..read.keys import read_keys
from ..read.mesh import mesh_of, neutral_positions
from .keys import write_keys


def write_places(item: bpy.types.Object, changes: Sequence[Moved | KeyMoved]) -> None:
    """Several changes in their order, each key read and written once.

    Of the neutral shape the mesh's own places are written too, which the host's mirror tools read.
    """
    mesh = mesh_of(item)
    before, _ = read_keys(mesh)
    positions, after = neutral_positions(mesh), before
    own = np.zeros(len(mesh.vertices) * 3, np.float32)
    mesh.vertices.foreach_get("co", own)
    for one in changes:
        positions, after = with_change(positions, after, one)
        if isinstance(one, Moved):
            own.reshape(-1, 3)[one.vertices] = one.places
    if before is not None and after is not None:
        write_keys(mesh, before, after)
    if any(isinstance(one, Moved) for one in changes):
        mesh.vertices.foreach_set("co", own)
