"""Names that tell a file's objects apart, also where a linked one is called like another."""

from collections.abc import Iterable
from typing import Any

import bpy


def unique_name(item: bpy.types.Object) -> str:
    """The object's name; with its library's where another object has the same name."""
    return str(item.name_full) if item.library is not None and _is_shared(item) else str(item.name)


def _is_shared(item: bpy.types.Object) -> bool:
    objects: Any = bpy.data.objects
    files = (None, *(library.filepath for library in bpy.data.libraries))
    return any(objects.get((item.name, file)) not in (None, item) for file in files)


def find(pool: "bpy.types.bpy_prop_collection[bpy.types.Object]", name: str) -> bpy.types.Object | None:
    """The object of this name among those of a scene, view layer or file; None without one."""
    item = pool.get(name)
    if item is not None and (item.library is None or unique_name(item) == name):
        return item
    if item is None and not name.endswith("]"):
        return None
    return next((one for one in pool if one.name_full == name or (one.name == name and unique_name(one) == name)), None)


def holds(pool: "bpy.types.bpy_prop_collection[bpy.types.Object]", item: bpy.types.Object) -> bool:
    """Whether this very object is among those of a scene, view layer or file."""
    return find(pool, unique_name(item)) == item


def found(
    pool: "bpy.types.bpy_prop_collection[bpy.types.Object]", names: Iterable[str]
) -> tuple[bpy.types.Object, ...]:
    """The objects of these names that are there, in the order of the names."""
    items = (find(pool, name) for name in names)
    return tuple(item for item in items if item is not None)
