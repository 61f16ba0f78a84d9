"""Rest bones in world space, and the numbers kept on them."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import cast

import bpy
import numpy as np
from mathutils import Matrix

from ...core.figure import Armature, Bone, FloatArray, transform_points
from ..named import unique_name
from .place import as_array

DEPTH = 4
"""How deep nested groups of custom properties are read."""

LONGEST = 16
"""Lists of numbers longer than this are data, not settings."""

AXES = (".x", ".y", ".z")


def read_armature(item: bpy.types.Object, world: Matrix) -> Armature:
    """The rest bones of an armature object that stands at ``world``."""
    if item.data.is_editmode:
        item.update_from_editmode()
    matrix = as_array(world)
    posed = item.pose.bones if item.pose is not None else {}
    bones = tuple(_read_bone(bone, posed.get(bone.name), matrix) for bone in item.data.bones)
    return Armature(unique_name(item), bones, matrix)


def _read_bone(bone: bpy.types.Bone, posed: bpy.types.PoseBone | None, world: FloatArray) -> Bone:
    ends = np.array([bone.head_local[:], bone.tail_local[:]], np.float64)
    head, tail = transform_points(world, ends)
    axes = (world[:3, :3] @ as_array(bone.matrix_local)[:3, :3]).T
    lengths = np.linalg.norm(axes, axis=1, keepdims=True)
    axes = axes / np.where(lengths > 0.0, lengths, 1.0)
    parent = bone.parent.name if bone.parent is not None else None
    return Bone(
        bone.name, parent, head, tail, axes, bone.use_deform, bone.use_connect,
        tuple(numbers_on(bone, posed).items()),
    )


def numbers_on(bone: bpy.types.Bone, posed: bpy.types.PoseBone | None) -> dict[str, float]:
    """The numbers kept on a bone and on its pose bone, by name."""
    numbers: dict[str, float] = {}
    for owner in (bone, posed):
        if owner is not None:
            numbers.update(_kept_on(owner))
    return numbers


def _kept_on(owner: "bpy.types.Bone | bpy.types.PoseBone") -> Iterator[tuple[str, float]]:
    """Custom properties, and from 5.0 on also what add-ons' own properties hold."""
    yield from _numbers(owner.items(), DEPTH)
    hidden = getattr(owner, "bl_system_properties_get", None)
    group = hidden() if hidden is not None else None
    if group is not None:
        yield from _numbers(group.items(), DEPTH)


def _numbers(items: Iterable[tuple[str, object]], depth: int, above: str = "") -> Iterator[tuple[str, float]]:
    """Every number below, named by its way: ``group.setting``, ``list[2]``, ``direction.x``."""
    for key, value in items:
        if not key.startswith("_"):
            yield from _flat(f"{above}{key}", value, depth)


def _flat(name: str, value: object, depth: int) -> Iterator[tuple[str, float]]:
    if isinstance(value, (bool, int, float)):
        yield name, float(value)
        return
    if isinstance(value, (str, bytes, bpy.types.bpy_struct)) or depth <= 0:
        return
    if isinstance(value, Mapping) or hasattr(value, "items"):
        yield from _numbers(value.items(), depth - 1, f"{name}.")
        return
    parts = list(cast("Sequence[object]", value)) if hasattr(value, "__len__") else []
    if len(parts) > LONGEST:
        return
    for place, part in enumerate(parts):
        end = AXES[place] if len(parts) == 3 and isinstance(part, float) else f"[{place}]"
        yield from _flat(name + end, part, depth - 1)
