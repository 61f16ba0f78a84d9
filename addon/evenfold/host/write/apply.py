"""Writing a repair's changes into the artist's file: all of them, or none."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

import bpy

from ...core.errors import EvenfoldError
from ...core.repair.changes import (
    BonesSet,
    Change,
    KeyMade,
    KeyMoved,
    Moved,
    SeamsSet,
    UVMoved,
    Weighted,
)
from ..named import find, unique_name
from ..read.mesh import flush
from .bones import refuse_bones, write_bones
from .keys import write_key_made
from .mode import object_mode, refuse_mode
from .positions import write_places
from .uv import refuse_seams, refuse_uv_moved, write_seams, write_uv_moved
from .weights import refuse_weighted, write_weighted


@dataclass(frozen=True)
class Applied:
    """``summary`` says in a sentence what was changed on which objects."""

    summary: str
    objects: tuple[str, ...] = ()


@dataclass(frozen=True)
class Writer:
    """How one kind of change is written, called, and refused.

    ``said`` names what it changes and how many, for the summary. ``refuse`` gives a sentence
    where it must not be written; all are asked before anything is written.
    """

    write: Callable[[bpy.types.Object, Any], None]
    said: Callable[[Any], tuple[str, int]]
    refuse: Callable[[bpy.types.Object, Any], str | None]


def apply(
    changes: Sequence[Change], scene: bpy.types.Scene, counts: Mapping[str, int] | None = None
) -> Applied:
    """Write the changes in their order. Raises EvenfoldError before anything is touched.

    ``counts`` are the vertices each mesh had when it was checked. An open edit session is left
    for the time of writing and goes on afterwards.
    """
    if not changes:
        return Applied("Nothing had to be changed.")
    items = {name: _owner(scene, name) for name in dict.fromkeys(one.owner for one in changes)}
    for name, item in items.items():
        _refuse(refusal_of(item))
        if isinstance(item.data, bpy.types.Mesh):
            flush(item)
            _refuse(_stale(item, (counts or {}).get(name)))
    for one in changes:
        _refuse(WRITERS[type(one)].refuse(items[one.owner], one))
    names = tuple(items)
    with object_mode(items.values()):
        items = {name: _owner(scene, name) for name in names}
        for (owner, places), some in groupby(changes, _place):
            _write(items[owner], list(some), places)
        for item in items.values():
            if isinstance(item.data, bpy.types.Mesh):
                item.data.update()
    return Applied(_summary(changes), names)


def _place(one: Change) -> tuple[str, bool]:
    return one.owner, isinstance(one, (Moved, KeyMoved))


def _write(item: bpy.types.Object, changes: list[Any], places: bool) -> None:
    """Changes of places on one object together, others one by one."""
    if places:
        write_places(item, changes)
        return
    for one in changes:
        WRITERS[type(one)].write(item, one)


def _refuse(reason: str | None) -> None:
    if reason is not None:
        raise EvenfoldError(reason)


def _owner(scene: bpy.types.Scene, name: str) -> bpy.types.Object:
    item = find(scene.objects, name) or find(bpy.data.objects, name)
    if item is None:
        raise EvenfoldError(f"{name} is not in this file any more: check again.")
    return item


def refusal_of(item: bpy.types.Object) -> str | None:
    """Why nothing may be written to an object, in a sentence; None where it may."""
    keys = item.data.shape_keys if isinstance(item.data, bpy.types.Mesh) else None
    blocks = [block for block in (item, item.data, keys) if block is not None]
    if any(block.library is not None for block in blocks):
        return f"{item.name} is linked from another file: open that file to repair it."
    if any(block.override_library is not None for block in blocks):
        return f"{item.name} is a library override: repair it in the file it comes from."
    others = ", ".join(sorted(unique_name(one) for one in bpy.data.objects if one.data == item.data and one != item))
    if others:
        return f"{item.name} shares its data with {others}: make it single-user first."
    return refuse_mode(item)


def _stale(item: bpy.types.Object, expected: int | None) -> str | None:
    if expected is not None and len(item.data.vertices) != expected:
        return f"{item.name} was changed since the check: check again."
    return None


def _refuse_rows(item: bpy.types.Object, change: Moved | KeyMoved) -> str | None:
    if not isinstance(item.data, bpy.types.Mesh):
        return f"{item.name} is no mesh any more: check again."
    if len(change.vertices) and int(change.vertices.max()) >= len(item.data.vertices):
        return f"{item.name} was changed since the check: check again."
    keys = item.data.shape_keys
    if keys is not None and any(len(key.points) != len(item.data.vertices) for key in keys.key_blocks):
        return f"Some keys of {item.name} do not fit its vertices: go into Edit Mode and back once."
    if isinstance(change, KeyMoved) and (keys is None or change.key not in keys.key_blocks):
        return f"{item.name} has no key {change.key} any more: check again."
    return None


def _refuse_new(item: bpy.types.Object, change: KeyMade) -> str | None:
    keys = item.data.shape_keys if isinstance(item.data, bpy.types.Mesh) else None
    if keys is None or change.like not in keys.key_blocks or change.relative_to not in keys.key_blocks:
        return f"{item.name} has no key {change.like} any more: check again."
    if change.key in keys.key_blocks:
        return f"{item.name} has a key {change.key} already: check again."
    if len(change.points) != len(item.data.vertices):
        return f"{item.name} was changed since the check: check again."
    return None


def _one_place(item: bpy.types.Object, change: Moved | KeyMoved) -> None:
    write_places(item, (change,))


WRITERS: dict[type, Writer] = {
    Moved: Writer(_one_place, lambda one: ("vertices moved", len(one.vertices)), _refuse_rows),
    KeyMoved: Writer(
        _one_place, lambda one: (f"vertices moved in {one.key}", len(one.vertices)), _refuse_rows
    ),
    KeyMade: Writer(write_key_made, lambda one: (f"key made: {one.key}", 1), _refuse_new),
    Weighted: Writer(
        write_weighted, lambda one: (f"weights set in {one.group}", len(one.vertices)), refuse_weighted
    ),
    UVMoved: Writer(
        write_uv_moved, lambda one: (f"UVs moved in {one.uv_map}", len(one.corners)), refuse_uv_moved
    ),
    SeamsSet: Writer(
        write_seams, lambda one: (f"seams {'made' if one.seam else 'taken off'}", len(one.edges)),
        refuse_seams,
    ),
    BonesSet: Writer(
        write_bones,
        lambda one: (
            "rest bones set (meshes at rest stay; poses and actions on them look different)",
            len(one.bones),
        ),
        refuse_bones,
    ),
}
"""How each kind of change is written."""


def _summary(changes: Iterable[Change]) -> str:
    total: dict[str, Counter[str]] = {}
    for one in changes:
        words, count = WRITERS[type(one)].said(one)
        total.setdefault(one.owner, Counter())[words] += count
    parts = []
    for owner, counted in total.items():
        said = [f"{count:,} {words}" for words, count in list(counted.items())[:4]]
        if len(counted) > 4:
            said.append(f"and {len(counted) - 4} more")
        parts.append(f"{owner}: {', '.join(said)}")
    return "; ".join(parts) + "."
