"""The invented figure with every layer, and mask images, as real data of the host."""

import bpy
import numpy as np
from figures.layered import Layered


def add_layered(made: Layered, name: str = "Body") -> bpy.types.Object:
    """The figure as a mesh object of the open scene, with all its layers."""
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(made.surface.positions.tolist(), [], made.faces)
    item = bpy.data.objects.new(name, mesh)
    bpy.context.scene.collection.objects.link(item)
    _marks(mesh, made)
    _groups(item, made)
    _masks(mesh, made)
    mesh.normals_split_custom_set(made.layers.corner_normals.tolist())
    for key in made.layers.keys.keys:
        item.shape_key_add(name=key.name, from_mix=False).points.foreach_set("co", key.points.ravel())
        item.data.shape_keys.key_blocks[key.name].value = 0.0
    bpy.context.view_layer.update()
    return item


def _marks(mesh: bpy.types.Mesh, made: Layered) -> None:
    """UVs, materials, and seams by the ends of their edges: the host numbers edges its own way."""
    for uv_map in made.layers.uv_maps:
        mesh.uv_layers.new(name=uv_map.name).uv.foreach_set("vector", uv_map.places.ravel())
    for name in made.layers.materials:
        mesh.materials.append(bpy.data.materials.new(name))
    mesh.polygons.foreach_set("material_index", made.layers.face_material.astype(np.int32))
    mesh.polygons.foreach_set("use_smooth", np.ones(len(made.faces), bool))
    marked = {frozenset(edge) for edge in made.surface.edges[made.layers.seams].tolist()}
    mesh.edges.foreach_set("use_seam", [frozenset(edge.vertices) in marked for edge in mesh.edges])


def _groups(item: bpy.types.Object, made: Layered) -> None:
    weights = made.layers.weights
    groups = [item.vertex_groups.new(name=name) for name in weights.names]
    for vertex, group, weight in zip(weights.vertex, weights.group, weights.weight, strict=True):
        groups[group].add([int(vertex)], float(weight), "REPLACE")


def _masks(mesh: bpy.types.Mesh, made: Layered) -> None:
    kinds = {1: ("FLOAT", "value"), 4: ("FLOAT_COLOR", "color")}
    for mask in made.layers.masks:
        kind, field = kinds[mask.values.shape[1]]
        domain = "POINT" if mask.domain == "vertex" else "CORNER"
        mesh.attributes.new(mask.name, kind, domain).data.foreach_set(field, mask.values.ravel())


def picture(item, name, pixels=None, slot=0, size=(8, 4)):
    """An image of data in the material of a slot, made of ``pixels`` (high, wide, 4)."""
    image = bpy.data.images.new(name, *size, is_data=True, float_buffer=True)
    if pixels is not None:
        image.pixels.foreach_set(np.asarray(pixels, np.float32).ravel())
    material = item.material_slots[slot].material
    if material.node_tree is None:
        material.use_nodes = True
    node = material.node_tree.nodes.new("ShaderNodeTexImage")
    node.image = image
    return node
