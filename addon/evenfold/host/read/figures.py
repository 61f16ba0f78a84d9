"""Which objects make one figure, and reading them all."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import bpy
from mathutils import Matrix

from ...core.errors import NothingToCheckError
from ...core.figure import Figure
from ...core.proportion.directions.lying import as_one, guess_up_by_shape
from ...core.proportion.directions.upright import guess_up, names_its_way
from ..named import find, unique_name
from .armature import read_armature
from .layers import read_layers
from .loose import LooseGroup, loose_groups
from .mesh import read_surface
from .others import names_outside
from .part import read_part
from .place import metres_per_unit, rest_world

IMPORTER_COLLECTION = "glTF_not_exported"
"""Where the host's glTF importer hides the shape it draws bones with."""
GUIDE_KEY = "evenfold_guide"
"""Marks objects and collections that only show guides."""


@dataclass(frozen=True)
class FigureSource:
    """One figure by the names of its objects, as ``named.unique_name`` gives them.

    ``instancer`` names the empty whose instanced collection holds them, if they are not in
    the scene themselves. ``notes`` say what was uncertain in taking them together.
    """

    name: str
    mesh_names: tuple[str, ...]
    armature_name: str | None = None
    instancer: str | None = None
    notes: tuple[str, ...] = ()


def find_figures(scene: bpy.types.Scene) -> list[FigureSource]:
    """The figures of a scene, by name: those with an armature first. May be empty.

    A script that has just linked objects updates the view layer before it calls this.
    """
    layer = view_layer_of(scene)
    items = [item for item in layer.objects if not item.get(GUIDE_KEY)]
    found = _figures_among(items, _fallback_name(scene), None)
    for empty in items:
        if empty.type == "EMPTY" and empty.instance_type == "COLLECTION" and empty.instance_collection:
            inside = list(empty.instance_collection.all_objects)
            found += _figures_among(inside, unique_name(empty), unique_name(empty))
    return found


def view_layer_of(scene: bpy.types.Scene) -> bpy.types.ViewLayer:
    """The view layer the artist is in, or the scene's first when another scene is open."""
    return bpy.context.view_layer if bpy.context.scene == scene else scene.view_layers[0]


def read_figure(source: FigureSource, scene: bpy.types.Scene, *, layers: bool = False) -> Figure:
    """Read one figure at rest. Raises NothingToCheckError when its meshes are gone.

    ``layers`` reads what else the meshes carry, for comparing the halves.
    """
    pool, base = _pool(source, scene)
    meshes = [pool[name] for name in source.mesh_names if name in pool]
    if not meshes:
        raise NothingToCheckError(f"The meshes of {source.name} are gone: choose the figure again.")
    armature = pool.get(source.armature_name) if source.armature_name else None
    placed = [(item, base @ rest_world(item)) for item in meshes]
    carried = [read_layers(item, armature) if layers else None for item, _ in placed]
    figure = Figure(
        source.name,
        tuple(
            read_surface(item, world, base, own)
            for (item, world), own in zip(placed, carried, strict=True)
        ),
        tuple(
            read_part(item, world, base, None if own is None else own.weights, sent=layers)
            for (item, world), own in zip(placed, carried, strict=True)
        ),
        None if armature is None else read_armature(armature, base @ rest_world(armature)),
        metres_per_unit(scene),
        notes=(*source.notes, *_notes(meshes)),
        outside=names_outside(pool.values(), meshes, armature),
    )
    return _with_stored(_upright(figure), armature, meshes)


def _upright(figure: Figure) -> Figure:
    """The figure with the up direction of its rig or its shape, where that lies in the scene."""
    if figure.armature is not None and names_its_way(figure.armature):
        up = guess_up(figure.armature)
        note = f"The rig {figure.armature.name} lies in the scene, so its own way from hips to head is taken for up."
    else:
        up = guess_up_by_shape(*as_one(figure.parts))
        axis = None if up is None else _axis(up)
        note = f"The figure lies in the scene, so {axis} is taken for up, from its soles to the other end."
        if axis is None:
            note = "The figure lies in the scene, so its own long way is taken for up, from its soles to the other end."
    return figure if up is None else replace(figure, up=up, notes=(*figure.notes, note))


def _axis(up: tuple[float, float, float]) -> str | None:
    """The axis of the scene that is ``up``, with its sign; None where it is none."""
    axis = max(range(3), key=lambda one: abs(up[one]))
    if abs(up[axis]) < 1 - 1e-9:
        return None
    return f"{'+' if up[axis] > 0 else '-'}{'XYZ'[axis]}"


def _with_stored(
    figure: Figure, armature: bpy.types.Object | None, meshes: list[bpy.types.Object]
) -> Figure:
    from .. import bone_map, store

    if armature is None:
        return store.with_notes(figure, meshes)
    return bone_map.with_bones(store.with_notes(figure, [armature, *meshes]), armature)


def _pool(
    source: FigureSource, scene: bpy.types.Scene
) -> tuple[dict[str, bpy.types.Object], Matrix]:
    """The objects a source's names refer to, and the matrix that carries all of them."""
    if source.instancer is None:
        pool = {unique_name(item): item for item in view_layer_of(scene).objects}
        for name in (*source.mesh_names, source.armature_name):
            hidden = find(bpy.data.objects, name) if name and name not in pool else None
            if name and hidden is not None:
                pool[name] = hidden
        return pool, Matrix.Identity(4)
    empty = find(scene.objects, source.instancer)
    collection = empty.instance_collection if empty is not None else None
    if empty is None or collection is None:
        return {}, Matrix.Identity(4)
    base = rest_world(empty) @ Matrix.Translation((-collection.instance_offset)[:])
    return {unique_name(item): item for item in collection.all_objects}, base


def _figures_among(
    items: Iterable[bpy.types.Object], fallback: str, instancer: str | None
) -> list[FigureSource]:
    shapes = _bone_shapes(items)
    meshes = [item for item in items if item.type == "MESH" and item not in shapes]
    solid = [item for item in meshes if _has_vertices(item)]
    rigged: dict[str, list[str]] = {}
    hung: dict[str, list[str]] = {}
    alone: list[bpy.types.Object] = []
    for item in sorted(solid or meshes, key=unique_name):
        armature = armature_of(item)
        if armature is not None:
            rigged.setdefault(unique_name(armature), []).append(unique_name(item))
        else:
            root = _root(item)
            if root == item and not any(one.parent == item for one in meshes):
                alone.append(item)
            else:
                hung.setdefault(unique_name(root), []).append(unique_name(item))
    found = [FigureSource(name, tuple(own), name, instancer) for name, own in sorted(rigged.items())]
    apart = sorted(_named(loose_groups(alone), fallback))
    found += [FigureSource(name, own, None, instancer, notes) for name, own, notes in apart]
    return found + [FigureSource(name, tuple(own), None, instancer) for name, own in sorted(hung.items())]


def _named(groups: list[LooseGroup], fallback: str) -> list[tuple[str, tuple[str, ...], tuple[str, ...]]]:
    """Each group's name, meshes and notes: several meshes go by their file or collection."""
    several = len({group.collection for group in groups}) > 1
    titles = [
        group.names[0] if len(group.names) == 1 else group.collection if several else fallback
        for group in groups
    ]
    return [
        (group.names[0] if titles.count(title) > 1 else title, group.names, group.notes)
        for title, group in zip(titles, groups, strict=True)
    ]


def armature_of(item: bpy.types.Object) -> bpy.types.Object | None:
    """The armature that deforms or carries an object, or one of the objects above it."""
    current: bpy.types.Object | None = item
    while current is not None:
        for modifier in current.modifiers:
            if modifier.type == "ARMATURE" and modifier.object is not None:
                return modifier.object
        current = current.parent
        if current is not None and current.type == "ARMATURE":
            return current
    return None


def _has_vertices(item: bpy.types.Object) -> bool:
    """True also in an open edit session, whose state only reading brings into the mesh."""
    return item.data.is_editmode or len(item.data.vertices) > 0


def _root(item: bpy.types.Object) -> bpy.types.Object:
    while item.parent is not None:
        item = item.parent
    return item


def _bone_shapes(items: Iterable[bpy.types.Object]) -> set[bpy.types.Object]:
    """Objects that only show how a bone is drawn."""
    found = {
        bone.custom_shape
        for item in items
        if item.type == "ARMATURE" and item.pose is not None
        for bone in item.pose.bones
        if bone.custom_shape is not None
    }
    for collection in bpy.data.collections:
        if collection.name.split(".")[0] == IMPORTER_COLLECTION:
            found.update(collection.objects)
    return found


def _fallback_name(scene: bpy.types.Scene) -> str:
    return Path(bpy.data.filepath).stem or scene.name


def _notes(meshes: list[bpy.types.Object]) -> Iterable[str]:
    for item in meshes:
        if item.data.library is not None or item.library is not None:
            yield f"{unique_name(item)} is linked from another file: it is checked, but cannot be changed here."
        if len(item.constraints):
            yield f"{unique_name(item)} has constraints: it is read where they put it."
        if rest_world(item).determinant() < 0.0:
            yield f"{unique_name(item)} has a negative scale: its left and right are exchanged in the scene."
