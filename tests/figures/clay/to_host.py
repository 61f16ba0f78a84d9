"""A Figure record made into real objects in the host, and saved the ways avatars travel."""

import bpy
import numpy as np
from host.scenes import empty_scene
from mathutils import Matrix


def put(figure):
    """Link the figure's objects into an emptied scene; each keeps its unapplied scale and turn."""
    empty_scene()
    rig = None if figure.armature is None else _rig(figure.armature)
    items = [_item(surface, part, rig) for surface, part in zip(figure.surfaces, figure.parts, strict=True)]
    if rig is None:
        for item in items[1:]:
            placed = item.matrix_world.copy()
            item.parent = items[0]
            item.matrix_parent_inverse = items[0].matrix_world.inverted()
            item.matrix_world = placed
    bpy.context.view_layer.update()
    return items, rig


def _rig(armature):
    rig = bpy.data.objects.new("Rig", bpy.data.armatures.new("Rig"))
    bpy.context.scene.collection.objects.link(rig)
    bpy.context.view_layer.objects.active = rig
    bpy.ops.object.mode_set(mode="EDIT")
    for bone in armature.bones:
        made = rig.data.edit_bones.new(bone.name)
        made.head, made.tail = bone.head, bone.tail
    for bone in armature.bones:
        if bone.parent is not None:
            rig.data.edit_bones[bone.name].parent = rig.data.edit_bones[bone.parent]
    bpy.ops.object.mode_set(mode="OBJECT")
    return rig


def _item(surface, part, rig):
    mesh = bpy.data.meshes.new(surface.name)
    faces = np.split(surface.corners, surface.face_starts[1:-1])
    mesh.from_pydata(surface.positions.tolist(), [], [face.tolist() for face in faces])
    mesh.shade_smooth()
    for name in part.materials:
        mesh.materials.append(bpy.data.materials.get(name) or bpy.data.materials.new(name))
    item = bpy.data.objects.new(surface.name, mesh)
    bpy.context.scene.collection.objects.link(item)
    item.matrix_world = Matrix(surface.to_world.tolist())
    groups = [item.vertex_groups.new(name=name) for name in part.weights.names]
    for vertex, group, weight in zip(part.weights.vertex, part.weights.group, part.weights.weight, strict=True):
        groups[group].add([int(vertex)], float(weight), "REPLACE")
    if rig is not None:
        item.parent = rig
    if rig is not None and len(part.weights.vertex):
        # The host's glTF exporter applies an object's transform twice when this carries no weights.
        item.modifiers.new("Armature", "ARMATURE").object = rig
    return item


def save(path, **more):
    """Write what is open as .blend, .glb or .fbx, by the path's suffix; ``more`` goes to the exporter."""
    if path.suffix == ".blend":
        bpy.ops.wm.save_as_mainfile(filepath=str(path), **more)
    elif path.suffix == ".glb":
        bpy.ops.export_scene.gltf(filepath=str(path), export_format="GLB", export_animations=False, **more)
    else:
        bpy.ops.export_scene.fbx(filepath=str(path), add_leaf_bones=False, bake_anim=False, **more)
