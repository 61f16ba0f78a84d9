"""Which figure the panel means."""

from dataclasses import dataclass, replace

import bpy

from ..core.errors import NothingToCheckError
from ..host.named import find, holds, unique_name
from ..host.read import FigureSource, armature_of, find_figures


@dataclass(frozen=True)
class Choice:
    """``kind`` is ARMATURE, OBJECTS, COLLECTION or INSTANCE (of a collection, by an empty); ``name`` is shown and names the figure."""

    kind: str
    name: str


def choice_of(context: bpy.types.Context) -> Choice | None:
    """What the panel's settings point at; cheap enough for drawing. None when at nothing."""
    panel = context.scene.evenfold
    if panel.figure_from == "ARMATURE":
        rig = panel.armature
        return Choice("ARMATURE", unique_name(rig)) if rig and rig.type == "ARMATURE" else None
    if panel.figure_from == "COLLECTION":
        return Choice("COLLECTION", panel.collection.name) if panel.collection else None
    chosen = [item for item in context.selected_objects if item.type == "MESH"]
    active = context.view_layer.objects.active
    if panel.figure_from == "AUTOMATIC" and active is not None:
        armature = active if active.type == "ARMATURE" else armature_of(active)
        if armature is not None:
            return Choice("ARMATURE", unique_name(armature))
        if active.type == "MESH":
            return Choice("OBJECTS", unique_name(active))
        if active.type == "EMPTY" and active.instance_type == "COLLECTION" and active.instance_collection:
            return Choice("INSTANCE", unique_name(active))
    if not chosen:
        return None
    return Choice("OBJECTS", unique_name(active if active in chosen else chosen[0]))


def source_of(context: bpy.types.Context) -> FigureSource:
    """The figure to read. Raises NothingToCheckError with what to choose."""
    choice = choice_of(context)
    if choice is None:
        raise NothingToCheckError(missing(context))
    scene = context.scene
    if choice.kind == "ARMATURE":
        for source in find_figures(scene):
            if source.armature_name == choice.name:
                return source
        raise NothingToCheckError(f"{choice.name} deforms no mesh of this scene: choose another.")
    if choice.kind == "INSTANCE":
        for source in find_figures(scene):
            if source.instancer == choice.name:
                return source
        raise NothingToCheckError(f"{choice.name} shows no mesh: choose another object.")
    source = _source_of_active(scene, choice)
    if source is not None:
        return source
    if choice.kind == "COLLECTION":
        items = [i for i in scene.evenfold.collection.all_objects if holds(scene.objects, i)]
    else:
        items = _chosen_meshes(context, choice)
    meshes = [item for item in items if item.type == "MESH"]
    if not meshes:
        raise NothingToCheckError(f"{choice.name} holds no mesh of this scene: choose another.")
    rigs = [item for item in items if item.type == "ARMATURE"] + [armature_of(m) for m in meshes]
    rig = next((unique_name(item) for item in rigs if item is not None), None)
    return FigureSource(choice.name, tuple(unique_name(item) for item in meshes), rig)


def _source_of_active(scene: bpy.types.Scene, choice: Choice) -> FigureSource | None:
    """The figure found around the active mesh, named after it where it was clicked."""
    if scene.evenfold.figure_from != "AUTOMATIC":
        return None
    found = (one for one in find_figures(scene) if choice.name in one.mesh_names and not one.instancer)
    source = next(found, None)
    return None if source is None else replace(source, name=choice.name)


def _chosen_meshes(context: bpy.types.Context, choice: Choice) -> list[bpy.types.Object]:
    chosen = [item for item in context.selected_objects if item.type == "MESH"]
    named = find(context.scene.objects, choice.name)
    return chosen if named is None or named in chosen else [named]


def missing(context: bpy.types.Context) -> str:
    """A sentence on what to choose when there is no figure."""
    return {
        "ARMATURE": "Choose the figure's armature first.",
        "COLLECTION": "Choose the figure's collection first.",
        "SELECTED": "Select the figure's meshes first.",
    }.get(context.scene.evenfold.figure_from, "Click a mesh or armature of the figure first.")


def _scenes() -> list[bpy.types.Scene]:
    """Every scene, the open one first."""
    return sorted(bpy.data.scenes, key=lambda scene: scene != bpy.context.scene)


def source_around(item: bpy.types.Object, here_read: set[str]) -> tuple[bpy.types.Scene, FigureSource]:
    """The scene and figure an object belongs to.

    Where loose meshes taken for one figure are partly the one measured last (``here_read``), the
    object stands for itself. Raises NothingToCheckError.
    """
    for scene in _scenes():
        if not holds(scene.objects, item):
            continue
        name = unique_name(item)
        for source in find_figures(scene):
            if name == source.armature_name or name in source.mesh_names:
                shared = source.armature_name is None and here_read & set(source.mesh_names)
                alone = FigureSource(name, (name,))
                return scene, alone if shared and scene == bpy.context.scene else source
    raise NothingToCheckError(f"{unique_name(item)} belongs to no figure of this file: choose another object.")


def source_in(collection: bpy.types.Collection) -> tuple[bpy.types.Scene, FigureSource]:
    """Everything in a collection as one figure, and the scene it is in. Raises NothingToCheckError."""
    for scene in _scenes():
        items = [item for item in collection.all_objects if holds(scene.objects, item)]
        meshes = tuple(unique_name(item) for item in items if item.type == "MESH")
        rigs = [item if item.type == "ARMATURE" else armature_of(item) for item in items]
        rig = next((unique_name(item) for item in rigs if item is not None), None)
        if meshes:
            return scene, FigureSource(collection.name, meshes, rig)
    raise NothingToCheckError(f"{collection.name} holds no mesh of a scene: choose another collection.")
