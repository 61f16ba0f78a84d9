"""Names in use outside a figure, which engines may take for the figure's own."""

from collections.abc import Iterable, Iterator

import bpy


def names_outside(
    pool: Iterable[bpy.types.Object],
    meshes: Iterable[bpy.types.Object],
    armature: bpy.types.Object | None,
) -> tuple[tuple[str, str], ...]:
    """Objects beside the figure's, and bones of other armatures: each name with whose it is."""
    own = {*meshes, armature}
    return tuple(entry for item in pool if item not in own for entry in _names_of(item))


def _names_of(item: bpy.types.Object) -> Iterator[tuple[str, str]]:
    yield item.name, "an object"
    if item.type == "ARMATURE":
        for bone in item.data.bones:
            yield bone.name, f"a bone of the armature {item.name}"
