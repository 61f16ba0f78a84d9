"""Vertex weights. The host has no bulk way to read them, so read them once for all who ask."""

from collections.abc import Iterable

import bpy
import numpy as np

from ...core.figure import Weights


def read_weights(mesh: bpy.types.Mesh, groups: Iterable[bpy.types.VertexGroup]) -> Weights:
    """Every membership of the mesh's vertices in the groups named, in vertex order.

    The plain loop: of five further exact ways measured in 4.2 and 5.2 (whole columns through map,
    foreach_get on each vertex and the like) none was more than a tenth faster.
    """
    names = tuple(group.name for group in groups)
    if not names:
        return Weights.none()
    vertex: list[int] = []
    group: list[int] = []
    weight: list[float] = []
    for index, entry in enumerate(mesh.vertices):
        for member in entry.groups:
            vertex.append(index)
            group.append(member.group)
            weight.append(member.weight)
    numbers = np.array(group, np.int64)
    known = numbers < len(names)
    return Weights(
        names,
        np.array(vertex, np.int64)[known],
        numbers[known],
        np.array(weight, np.float64)[known],
    )
