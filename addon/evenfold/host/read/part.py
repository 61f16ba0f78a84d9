"""A mesh object as measuring sees it: rest pose, neutral keys, Mirror and Subdivision on."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace

import bpy
from mathutils import Matrix

from ...core.figure import Part, Weights, transform_points
from ...core.size import finer
from ..named import unique_name
from .mesh import (
    face_materials,
    fan_triangles,
    flush,
    live_modifiers,
    material_names,
    mesh_of,
    neutral_positions,
    read_faces,
    readable,
)
from .paint import read_paint
from .place import as_array, bone_parent, rest_world
from .sent import read_sent
from .weights import read_weights

SHAPING = frozenset({"MIRROR", "SUBSURF"})
WORDS = {"MIRROR": "Mirror", "SUBSURF": "Subdivision"}
SMOOTHEST = 2
"""Subdivision levels used at most: further ones hardly move the surface."""
COPIED = {
    "MIRROR": (
        "use_axis", "use_bisect_axis", "use_bisect_flip_axis", "use_clip", "use_mirror_merge",
        "merge_threshold", "bisect_threshold", "use_mirror_vertex_groups",
    ),
    "SUBSURF": ("levels", "subdivision_type", "boundary_smooth", "use_creases", "use_limit_surface"),
}


def shaping_mark(item: bpy.types.Object) -> str:
    """All that is read of the shaping modifiers, to tell whether a result is out of date."""
    live = live_modifiers(item, SHAPING)
    return repr([(one.type, *(_plain(getattr(one, name)) for name in COPIED[one.type])) for one in live])


def _plain(value: object) -> object:
    return tuple(value) if isinstance(value, Iterable) and not isinstance(value, str) else value


def read_part(
    item: bpy.types.Object, world: Matrix, base: Matrix, weights: Weights | None = None, *, sent: bool = False
) -> Part:
    """The object's shape for measuring, standing at ``world``; leaves no trace in the file.

    ``weights`` are those of the stored mesh, where they have been read already; ``sent`` asks for
    what an engine gets of it too.
    """
    flush(item)
    if not live_modifiers(item, SHAPING) or not len(mesh_of(item).polygons):
        with readable(item) as painted:
            return _part_of(item, item, mesh_of(item), painted, world, "stored", weights, sent=sent)
    with _evaluated_copy(item, world, base) as (copy, mesh, how):
        part = _part_of(item, copy, mesh, mesh, world, how, sent=sent)
    return part if part.sent is None else replace(part, sent=finer(part.sent, _left_out(item)))


def _part_of(
    item: bpy.types.Object,
    grouped: bpy.types.Object,
    mesh: bpy.types.Mesh,
    painted: bpy.types.Mesh,
    world: Matrix,
    how: str,
    weights: Weights | None = None,
    *,
    sent: bool,
) -> Part:
    """``grouped`` owns the vertex groups that ``mesh`` refers to; ``painted`` is the same mesh with its attributes."""
    corners, starts = read_faces(mesh)
    rows, faces = fan_triangles(starts)
    materials = face_materials(mesh)
    slots = materials[faces]
    return Part(
        unique_name(item),
        transform_points(as_array(world), neutral_positions(mesh)),
        corners[rows],
        read_weights(mesh, grouped.vertex_groups) if weights is None else weights,
        material_names(item),
        slots,
        how,
        bone_parent(item),
        read_paint(item, painted, rows, slots),
        read_sent(painted, corners, starts, materials) if sent else None,
    )


def _left_out(item: bpy.types.Object) -> int:
    """How many levels of Subdivision are not evaluated here."""
    levels = [one.levels for one in live_modifiers(item, SHAPING) if one.type == "SUBSURF"]
    return sum(max(one - SMOOTHEST, 0) for one in levels)


@contextmanager
def _evaluated_copy(
    item: bpy.types.Object, world: Matrix, base: Matrix
) -> Iterator[tuple[bpy.types.Object, bpy.types.Mesh, str]]:
    """A copy with only the shaping modifiers, evaluated in a scene of its own, then removed."""
    neutral = neutral_positions(mesh_of(item))
    scene = bpy.data.scenes.new("Evenfold reading")
    mesh = mesh_of(item).copy()
    extra: list[bpy.types.Object] = []
    try:
        copy = bpy.data.objects.new("Evenfold reading", mesh)
        extra.append(copy)
        _drop_keys(copy)
        mesh.vertices.foreach_set("co", neutral.ravel())
        copy.matrix_world = world
        how = _copy_modifiers(item, copy, base, extra)
        for one in extra:
            scene.collection.objects.link(one)
        layer = scene.view_layers[0]
        layer.update()
        evaluated = copy.evaluated_get(layer.depsgraph)
        try:
            yield copy, evaluated.to_mesh(), how
        finally:
            evaluated.to_mesh_clear()
    finally:
        bpy.data.scenes.remove(scene)
        for one in reversed(extra):
            bpy.data.objects.remove(one)
        bpy.data.meshes.remove(mesh)


def _drop_keys(copy: bpy.types.Object) -> None:
    """Remove the copy's keys; hosts before 5.0 leave the emptied block itself in the file."""
    keys = mesh_of(copy).shape_keys
    if keys is None:
        return
    own = keys.session_uid
    copy.shape_key_clear()
    left = [key for key in bpy.data.shape_keys if key.session_uid == own]
    if left:
        bpy.data.batch_remove(left)


def _copy_modifiers(
    item: bpy.types.Object, copy: bpy.types.Object, base: Matrix, extra: list[bpy.types.Object]
) -> str:
    """Give ``copy`` the shaping modifiers of ``item``; returns what they are, in words."""
    words: list[str] = []
    for modifier in live_modifiers(item, SHAPING):
        twin = copy.modifiers.new(modifier.name, modifier.type)
        for name in COPIED[modifier.type]:
            setattr(twin, name, getattr(modifier, name))
        if modifier.type == "SUBSURF":
            twin.levels = min(modifier.levels, SMOOTHEST)
        elif modifier.mirror_object is not None:
            stand_in = bpy.data.objects.new("Evenfold reading", None)
            extra.append(stand_in)
            stand_in.matrix_world = base @ rest_world(modifier.mirror_object)
            twin.mirror_object = stand_in
        words.append(WORDS[modifier.type])
    return ", ".join(words)
