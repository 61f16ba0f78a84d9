"""Blender's own modelling tools, used as artists use them, on pieces and objects."""

import bmesh
import bpy
import numpy as np
from mathutils import Vector, noise

from .naming import material_name
from .shapes import Piece, Points, joined


def mesh_object(name: str, pieces: list[Piece], naming: str, flat: bool = False) -> bpy.types.Object:
    """One object of joined pieces with a material slot for each kind of material."""
    points, faces = joined(pieces)
    mesh = bpy.data.meshes.new(name)
    mesh.from_pydata(points.tolist(), [], [list(face) for face in faces])
    slots: dict[str, int] = {}
    which = []
    for piece in pieces:
        title = material_name(naming, piece.material)
        if title not in slots:
            slots[title] = len(slots)
            mesh.materials.append(bpy.data.materials.get(title) or bpy.data.materials.new(title))
        which += [slots[title]] * len(piece.faces)
    mesh.polygons.foreach_set("material_index", np.array(which, np.int32))
    mesh.polygons.foreach_set("use_smooth", np.full(len(faces), not flat))
    mesh.update()
    item = bpy.data.objects.new(name, mesh)
    bpy.context.scene.collection.objects.link(item)
    return item


def evaluated(item: bpy.types.Object) -> tuple[Points, list[tuple[int, ...]]]:
    """Local points and faces with all modifiers that are on."""
    bpy.context.view_layer.update()
    ready = item.evaluated_get(bpy.context.evaluated_depsgraph_get())
    mesh = ready.to_mesh()
    points = np.empty(len(mesh.vertices) * 3, np.float32)
    mesh.vertices.foreach_get("co", points)
    faces = [tuple(face.vertices) for face in mesh.polygons]
    ready.to_mesh_clear()
    return points.reshape(-1, 3).astype(float), faces


def remove(item: bpy.types.Object) -> None:
    data = item.data
    bpy.data.objects.remove(item)
    if isinstance(data, bpy.types.Mesh) and data.users == 0:
        bpy.data.meshes.remove(data)


def _taken(item: bpy.types.Object, label: str, like: Piece) -> Piece:
    points, faces = evaluated(item)
    remove(item)
    return Piece(label, points, tuple(faces), like.material, like.bones)


def subdivided(piece: Piece, levels: int) -> Piece:
    """The piece as a Subdivision Surface modifier shows it."""
    item = mesh_object("work", [piece], "default")
    item.modifiers.new("Subdivision", "SUBSURF").levels = levels
    return _taken(item, piece.label, piece)


def remeshed(pieces: list[Piece], voxel: float) -> Piece:
    """Pieces united by the voxel Remesh modifier."""
    item = mesh_object("work", pieces, "default")
    change = item.modifiers.new("Remesh", "REMESH")
    change.mode, change.voxel_size = "VOXEL", voxel
    return _taken(item, "united", pieces[0])


def united(pieces: list[Piece]) -> Piece:
    """Pieces united one after the other by exact Boolean modifiers."""
    item = mesh_object("work", pieces[:1], "default")
    others = []
    for piece in pieces[1:]:
        other = mesh_object("other", [piece], "default")
        change = item.modifiers.new("Union", "BOOLEAN")
        change.operation, change.solver, change.object = "UNION", "EXACT", other
        change.use_self = True
        others.append(other)
    done = _taken(item, "united", pieces[0])
    for other in others:
        remove(other)
    return done


def sculpted(piece: Piece, rough: float, seed: int) -> Piece:
    """Smoothed once, with bumps of about ``rough`` as strokes of a brush leave."""
    item = mesh_object("work", [piece], "default")
    made = bmesh.new()
    made.from_mesh(item.data)
    bmesh.ops.smooth_vert(made, verts=made.verts, factor=0.4, use_axis_x=True, use_axis_y=True, use_axis_z=True)
    made.normal_update()
    away = Vector((seed % 97, seed % 89, seed % 83))
    for vertex in made.verts:
        vertex.co += vertex.normal * rough * noise.noise(vertex.co * 4 + away)
    made.to_mesh(item.data)
    made.free()
    return _taken(item, "united", piece)


def skin_cage(places: dict[str, Points], sizes: dict[str, float], bones: list[tuple[str, str]], like: Piece) -> Piece:
    """A connected cage round a stick figure, by the Skin modifier."""
    names = list(places)
    mesh = bpy.data.meshes.new("sticks")
    mesh.from_pydata([tuple(places[name]) for name in names], [(names.index(a), names.index(b)) for a, b in bones], [])
    item = bpy.data.objects.new("sticks", mesh)
    bpy.context.scene.collection.objects.link(item)
    item.modifiers.new("Skin", "SKIN").use_smooth_shade = True
    layer = mesh.skin_vertices[0].data
    for number, name in enumerate(names):
        layer[number].radius = (sizes[name], sizes[name])
    layer[0].use_root = True
    return _taken(item, "body", like)


def split_everywhere(item: bpy.types.Object) -> None:
    """Every triangle gets vertices of its own, as flat-shaded exports have."""
    made = bmesh.new()
    made.from_mesh(item.data)
    bmesh.ops.triangulate(made, faces=made.faces)
    bmesh.ops.split_edges(made, edges=made.edges)
    made.to_mesh(item.data)
    made.free()


def halved(item: bpy.types.Object) -> None:
    """Keep the left half, and let a Mirror modifier make the other one."""
    made = bmesh.new()
    made.from_mesh(item.data)
    bmesh.ops.bisect_plane(
        made, geom=[*made.verts, *made.edges, *made.faces], dist=1e-5, plane_co=(0, 0, 0), plane_no=(1, 0, 0),
        clear_inner=True,
    )
    for vertex in made.verts:
        if abs(vertex.co.x) < 1e-4:
            vertex.co.x = 0.0
    made.to_mesh(item.data)
    made.free()
    change = item.modifiers.new("Mirror", "MIRROR")
    change.use_axis, change.use_clip = (True, False, False), True
