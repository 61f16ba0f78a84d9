"""What changes of weights, UVs, seams and rest bones make of the records."""

from dataclasses import replace

import numpy as np

from ..figure import Armature, Bone, Figure, FloatArray, Surface, Weights, transform_points
from ..layers import SurfaceLayers, UVMap
from .changes import BoneSet, BonesSet, Change, SeamsSet, UVMoved, Weighted


def with_layer_change(figure: Figure, change: Change) -> Figure:
    """The figure after one change of these kinds; after any other the very same."""
    if isinstance(change, BonesSet):
        armature = figure.armature
        if armature is None or armature.name != change.owner:
            return figure
        return replace(figure, armature=_with_bones(armature, change))
    if not isinstance(change, Weighted | UVMoved | SeamsSet):
        return figure
    surfaces = tuple(
        _on_surface(one, change) if one.name == change.owner else one for one in figure.surfaces
    )
    return replace(figure, surfaces=surfaces)


def _on_surface(surface: Surface, change: Weighted | UVMoved | SeamsSet) -> Surface:
    if surface.layers is None:
        return surface
    return replace(surface, layers=_on_layers(surface.layers, change))


def _on_layers(layers: SurfaceLayers, change: Weighted | UVMoved | SeamsSet) -> SurfaceLayers:
    if isinstance(change, Weighted):
        return replace(layers, weights=_with_weights(layers.weights, change))
    if isinstance(change, SeamsSet):
        seams = layers.seams.copy()
        seams[change.edges] = change.seam
        return replace(layers, seams=seams)
    maps = [_moved(one, change) if one.name == change.uv_map else one for one in layers.uv_maps]
    return replace(layers, uv_maps=tuple(maps))


def _moved(uv_map: UVMap, change: UVMoved) -> UVMap:
    places = uv_map.places.copy()
    places[change.corners] = change.places
    return replace(uv_map, places=places)


def _with_weights(weights: Weights, change: Weighted) -> Weights:
    """Rows by vertex, then in the order they were; a new group comes last."""
    names = weights.names if change.group in weights.names else (*weights.names, change.group)
    group = names.index(change.group)
    stays = (weights.group != group) | ~np.isin(weights.vertex, change.vertices)
    held = change.weights > 0.0
    vertex = np.concatenate([weights.vertex[stays], change.vertices[held]])
    order = np.argsort(vertex, kind="stable")
    return Weights(
        names,
        vertex[order],
        np.concatenate([weights.group[stays], np.full(int(held.sum()), group)])[order],
        np.concatenate([weights.weight[stays], change.weights[held]])[order],
    )


def _with_bones(armature: Armature, change: BonesSet) -> Armature:
    bones = dict(armature.by_name)
    for one in change.bones:
        bones[one.bone] = _bone(one, bones.get(one.like or one.bone), armature.to_world)
    return replace(armature, bones=tuple(bones.values()))


def _bone(one: BoneSet, before: Bone | None, to_world: FloatArray) -> Bone:
    head, tail = transform_points(to_world, np.stack([one.head, one.tail]))
    along, z_axis = tail - head, to_world[:3, :3] @ one.z_axis
    y_axis = along / max(float(np.linalg.norm(along)), 1e-30)
    z_axis = z_axis - float(z_axis @ y_axis) * y_axis
    z_axis /= max(float(np.linalg.norm(z_axis)), 1e-30)
    axes = np.stack([np.cross(y_axis, z_axis), y_axis, z_axis])
    numbers = () if before is None else before.properties
    return Bone(one.bone, one.parent, head, tail, axes, one.deform, one.connected, numbers)
