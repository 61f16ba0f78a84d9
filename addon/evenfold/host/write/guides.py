"""Guides as objects in a collection of their own, marked so that no figure counts them."""

from typing import Any

import bpy

from ...core.guides import GuideLabel, GuidePlane, Guides
from ..read.figures import GUIDE_KEY

COLLECTION = "Evenfold Guides"


def guides_collection(scene: bpy.types.Scene) -> bpy.types.Collection | None:
    """The scene's own collection of guide objects, if it has one."""
    return next((one for one in scene.collection.children_recursive if one.get(GUIDE_KEY)), None)


def has_guides(scene: bpy.types.Scene) -> bool:
    return guides_collection(scene) is not None


def make_guide_objects(scene: bpy.types.Scene, guides: Guides) -> int:
    """One object of edges and an empty for each label, in place of earlier ones.

    Lines stand in both planes, names in the front one. Returns the number of objects.
    """
    remove_guide_objects(scene)
    collection = bpy.data.collections.new(COLLECTION)
    collection[GUIDE_KEY] = True
    collection.hide_render = True
    scene.collection.children.link(collection)
    made = [_edges((guides.front, guides.side))]
    made += [_named(label) for label in guides.front.labels]
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


def _edges(planes: tuple[GuidePlane, ...]) -> bpy.types.Object:
    mesh = bpy.data.meshes.new("Guide Lines")
    points = [point for plane in planes for ends in plane.segments.tolist() for point in ends]
    edges = [(start, start + 1) for start in range(0, len(points), 2)]
    mesh.from_pydata(points, edges, [])
    return bpy.data.objects.new("Guide Lines", mesh)


def _named(label: GuideLabel) -> bpy.types.Object:
    """An empty that shows its name in the viewport."""
    item = bpy.data.objects.new(label.text, None)
    item.empty_display_type = "PLAIN_AXES"
    item.empty_display_size = 0.01
    item.location = label.anchor.tolist()
    item.show_name = True
    return item
