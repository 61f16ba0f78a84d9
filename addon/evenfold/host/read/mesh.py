"""A mesh object's neutral shape as stored: whatever key is active, whatever is posed."""

from collections.abc import Iterator
from contextlib import contextmanager

import bpy
import numpy as np
from mathutils import Matrix
from numpy.typing import NDArray

from ...core.figure import FloatArray, IntArray, MirrorModifier, Placement, Surface
from ...core.layers import SurfaceLayers
from ..named import unique_name
from .place import as_array, rest_world

TURNED = 1e-5
"""An object counts as turned from this angle on, in radians. Our choice."""


def read_surface(
    item: bpy.types.Object, world: Matrix, base: Matrix, layers: SurfaceLayers | None = None
) -> Surface:
    """The surface of a mesh object that stands at ``world``; ``base`` carries what it mirrors about."""
    mesh = mesh_of(item)
    flush(item)
    corners, starts = read_faces(mesh)
    hidden = np.zeros(len(mesh.vertices), np.bool_)
    mesh.vertices.foreach_get("hide", hidden)
    return Surface(
        unique_name(item), neutral_positions(mesh), _edges(mesh), corners, starts, as_array(world),
        hidden, tuple(_mirrors(item, world, base)), layers, _placement(item),
    )


def mesh_of(item: bpy.types.Object) -> bpy.types.Mesh:
    """The mesh of a mesh object. Raises TypeError for any other object."""
    if not isinstance(item.data, bpy.types.Mesh):
        raise TypeError(f"{item.name} is no mesh object.")
    return item.data


def flush(item: bpy.types.Object) -> None:
    """Bring an open edit session's state into the stored mesh; the session goes on."""
    if mesh_of(item).is_editmode:
        item.update_from_editmode()


def neutral_positions(mesh: bpy.types.Mesh) -> NDArray[np.float32]:
    """(n, 3) local positions of the reference key, or of the mesh where it has no keys."""
    places = np.zeros(len(mesh.vertices) * 3, np.float32)
    if mesh.shape_keys is not None:
        points = mesh.shape_keys.reference_key.points
        if len(points) == len(mesh.vertices):
            points.foreach_get("co", places)
            return places.reshape(-1, 3)
    attribute = None if mesh.is_editmode else mesh.attributes.get("position")
    if attribute is not None:
        attribute.data.foreach_get("vector", places)
    else:
        mesh.vertices.foreach_get("co", places)
    return places.reshape(-1, 3)


@contextmanager
def readable(item: bpy.types.Object) -> Iterator[bpy.types.Mesh]:
    """The object's mesh; in an open edit session, where attributes are empty, a passing copy."""
    mesh = mesh_of(item)
    if not mesh.is_editmode:
        yield mesh
        return
    try:
        yield item.to_mesh()
    finally:
        item.to_mesh_clear()


def read_faces(mesh: bpy.types.Mesh) -> tuple[IntArray, IntArray]:
    """The faces' corners (c,) and where each face's begin (f + 1,)."""
    corners = np.zeros(len(mesh.loops), np.int32)
    mesh.loops.foreach_get("vertex_index", corners)
    starts = np.zeros(len(mesh.polygons), np.int32)
    mesh.polygons.foreach_get("loop_start", starts)
    return corners.astype(np.int64), np.append(starts, len(corners)).astype(np.int64)


def _edges(mesh: bpy.types.Mesh) -> IntArray:
    ends = np.zeros(len(mesh.edges) * 2, np.int32)
    mesh.edges.foreach_get("vertices", ends)
    return ends.reshape(-1, 2).astype(np.int64)


def material_names(item: bpy.types.Object) -> tuple[str, ...]:
    """The name of each slot's material, empty where the slot has none."""
    return tuple(s.material.name if s.material is not None else "" for s in item.material_slots)


def face_materials(mesh: bpy.types.Mesh) -> IntArray:
    """The slot of each face (f,)."""
    numbers = np.zeros(len(mesh.polygons), np.int32)
    mesh.polygons.foreach_get("material_index", numbers)
    return numbers.astype(np.int64)


def fan_triangles(starts: IntArray) -> tuple[IntArray, IntArray]:
    """Faces split from their first corner: the triangles' corners (t, 3), and the face each came from (t,).

    A corner is told by its place among the mesh's own.
    """
    counts = np.maximum(np.diff(starts) - 2, 0)
    face = np.repeat(np.arange(len(counts)), counts)
    step = np.arange(len(face)) - np.repeat(np.cumsum(counts) - counts, counts)
    first = starts[face]
    return np.stack([first, first + step + 1, first + step + 2], axis=1).reshape(-1, 3), face


def live_modifiers(item: bpy.types.Object, kinds: frozenset[str]) -> list[bpy.types.Modifier]:
    """The modifiers of these kinds that are switched on in the viewport, in their order."""
    return [one for one in item.modifiers if one.type in kinds and one.show_viewport]


def _mirrors(item: bpy.types.Object, world: Matrix, base: Matrix) -> list[MirrorModifier]:
    """One record for each axis of each live Mirror modifier, in the order of the stack."""
    found: list[MirrorModifier] = []
    above: list[tuple[str, str]] = []
    for index, modifier in enumerate(item.modifiers):
        if not modifier.show_viewport:
            continue
        if modifier.type == "MIRROR":
            other = modifier.mirror_object
            frame = as_array(world if other is None else base @ rest_world(other))
            found += [
                _mirror(modifier, axis, frame, tuple(above), index)
                for axis in range(3)
                if modifier.use_axis[axis]
            ]
        above.append((modifier.name, modifier.type))
    return found


def mirrors_mark(item: bpy.types.Object) -> str:
    """All that the record of its Mirror modifiers says, to tell whether a result is out of date."""
    return repr(_mirrors(item, rest_world(item), Matrix.Identity(4)))


def _mirror(
    modifier: bpy.types.Modifier,
    axis: int,
    frame: FloatArray,
    above: tuple[tuple[str, str], ...],
    index: int,
) -> MirrorModifier:
    """``frame`` (4, 4) is what it mirrors about; its bisecting keeps the side of its own axis."""
    normal = np.cross(frame[:3, (axis + 1) % 3], frame[:3, (axis + 2) % 3])
    length = float(np.linalg.norm(normal))
    unit = normal / length if length > 0.0 else np.eye(3)[axis]
    bisect = 0
    if modifier.use_bisect_axis[axis]:
        bisect = -1 if modifier.use_bisect_flip_axis[axis] else 1
        bisect = bisect if float(frame[:3, axis] @ unit) >= 0.0 else -bisect
    other = modifier.mirror_object
    return MirrorModifier(
        modifier.name, axis, frame[:3, 3].copy(), unit,
        modifier.merge_threshold if modifier.use_mirror_merge else None,
        modifier.use_clip, bisect, None if other is None else other.name,
        modifier.use_mirror_vertex_groups, above, index,
    )


def _placement(item: bpy.types.Object) -> Placement:
    turn = item.matrix_basis.to_quaternion()
    x, y, z = (item.scale[axis] * item.delta_scale[axis] for axis in range(3))
    kept = item.matrix_parent_inverse.to_scale() if item.parent is not None else (1.0, 1.0, 1.0)
    moved = item.animation_data
    return Placement(
        (x, y, z), bool(abs(turn.angle) > TURNED), (kept[0], kept[1], kept[2]), item.data.users,
        moved is not None and (moved.action is not None or len(moved.nla_tracks) > 0 or len(moved.drivers) > 0),
        item.library is not None or item.data.library is not None,
    )
