"""Figure records around invented meshes."""

import numpy as np
from evenfold.core.figure import Figure, Part, Surface, Weights


def surface_of(mesh, name="Body", to_world=None, **more):
    """A Surface whose stored positions are the mesh's points, as float32."""
    matrix = np.eye(4) if to_world is None else np.asarray(to_world, float)
    return Surface(
        name,
        mesh.points.astype(np.float32),
        mesh.edges,
        mesh.corners,
        mesh.face_starts,
        matrix,
        **more,
    )


def figure_of(*surfaces, **more):
    """A figure of surfaces alone; its parts carry the points but no triangles."""
    empty = np.zeros((0, 3), np.int64)
    parts = tuple(Part(one.name, one.world, empty, Weights.none()) for one in surfaces)
    return Figure("Keeper", tuple(surfaces), parts, **more)
