"""Guides as objects in a collection of their own, marked so that no figure counts them."""

from typing import Any

import bpy

from ...core.guides import GuideLabel, GuidePlane, Guides
from ..read.figures import GUIDE_KEY

COLLECTION = "Evenfold Guides"
PREFIX = "Guide "
MESHES = {"Heads": ("head", "partial", "ruler"), "Landmarks": ("landmark",), "Target": ("target",)}
"""Lines of these kinds make one object each, so that each can be hidden by itself."""
EMPTY_SIZE = 0.01
"""A share of the figure's height; our own choice."""


def guides_collection(scene: bpy.types.Scene) -> bpy.types.Collection | None:
    """The scene's own collection of guide objects, if it has one."""
    return next((one for one in scene.collection.children_recursive if one.get(GUIDE_KEY)), None)


def has_guides(scene: bpy.types.Scene) -> bool:
    return guides_collection(scene) is not None


def make_guide_objects(scene: bpy.types.Scene, guides: Guides) -> int:
    """Up to three objects of edges and an empty for each label, in place of earlier ones.

    Lines stand in both planes, names in the front one. Returns the number of objects.
    """
    remove_guide_objects(scene)
    collection = bpy.data.collections.new(COLLECTION)
    collection[GUIDE_KEY] = True
    collection.hide_render = True
    scene.collection.children.link(collection)
    planes = (guides.front, guides.side)
    made = [_edges(PREFIX + name, planes, kinds) for name, kinds in MESHES.items() if _has(planes, kinds)]
    made += [_named(label, EMPTY_SIZE * guides.size) for label in guides.front.labels]
    for item in made:
        item[GUIDE_KEY] = True
        item.hide_render = item.hide_select = True
        collection.objects.link(item)
    return len(made)


def remove_guide_objects(scene: bpy.types.Scene) -> int:
    """Remove the scene's guide objects and their data; returns how many objects there were.

    What an artist has put into the collection stays in the scene.
    """
    collection = guides_collection(scene)
    if collection is None:
        return 0
    count = 0
    for item in list(collection.objects):
        if not item.get(GUIDE_KEY):
            if item.name not in scene.collection.objects:
                scene.collection.objects.link(item)
            continue
        mesh: Any = item.data
        bpy.data.objects.remove(item)
        if mesh is not None and mesh.users == 0:
            bpy.data.meshes.remove(mesh)
        count += 1
    for inner in list(collection.children):
        scene.collection.children.link(inner)
    bpy.data.collections.remove(collection)
    return count


def _has(planes: tuple[GuidePlane, ...], kinds: tuple[str, ...]) -> bool:
    return any(kind in kinds for plane in planes for kind in plane.kinds)


def _edges(name: str, planes: tuple[GuidePlane, ...], kinds: tuple[str, ...]) -> bpy.types.Object:
    mesh = bpy.data.meshes.new(name)
    points = [
        point for plane in planes
        for ends, kind in zip(plane.segments.tolist(), plane.kinds, strict=True) if kind in kinds
        for point in ends
    ]
    edges = [(start, start + 1) for start in range(0, len(points), 2)]
    mesh.from_pydata(points, edges, [])
    return bpy.data.objects.new(name, mesh)


def _named(label: GuideLabel, size: float) -> bpy.types.Object:
    """An empty that shows its name in the viewport."""
    item = bpy.data.objects.new(PREFIX + label.text, None)
    item.empty_display_type = "PLAIN_AXES"
    item.empty_display_size = size
    item.location = label.anchor.tolist()
    item.show_name = True
    return item
