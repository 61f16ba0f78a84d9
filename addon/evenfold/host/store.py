"""What the artist says about a figure, kept on its own objects as custom properties.

Custom properties, not registered ones, so that a batch run reads them without the add-on
being enabled. A vertex pin is a number tagged onto the vertex in an integer attribute: it
moves with the vertex, and survives edits that renumber the mesh.
"""

import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace
from typing import Any, cast

import bmesh
import bpy
import numpy as np
from mathutils import Vector

from ..core.errors import EvenfoldError
from ..core.figure import Figure, Pin, Worn
from .kept import each, keep_rows, rows_on, text_on
from .named import unique_name
from .read.mesh import mesh_of, neutral_positions

TAG_ATTRIBUTE = "evenfold_pin"
PINS_KEY = "evenfold_pins"
WORN_KEY = "evenfold_left_out"
HEAD_KEY = "evenfold_head_bone"


class PinError(EvenfoldError):
    """A pin could not be set or found again."""


@dataclass(frozen=True)
class StoredPin:
    """A pin as kept on an object: ``point`` is local; ``tag`` is 0 for a pin at a free place."""

    landmark: str
    point: tuple[float, float, float]
    tag: int = 0


def with_notes(figure: Figure, objects: Iterable[bpy.types.Object]) -> Figure:
    """The figure with what is stored on exactly these objects."""
    from .allowances import read_allowances
    from .baselines import read_baselines

    items = tuple(objects)
    return replace(
        figure, pins=pins_on(items), worn=worn_on(items), head_bone=head_bone_on(items),
        allowances=read_allowances(items), baselines=read_baselines(items),
    )


def pins_on(objects: Iterable[bpy.types.Object]) -> tuple[Pin, ...]:
    """The pins kept on these objects; the first of each landmark counts."""
    found: dict[str, Pin] = {}
    for item in objects:
        for stored in stored_pins(item):
            place = local_point(item, stored)
            if place is not None and stored.landmark not in found:
                world = item.matrix_world @ Vector(place)
                found[stored.landmark] = Pin(stored.landmark, np.array(world, np.float64))
    return tuple(found.values())


def worn_on(objects: Iterable[bpy.types.Object]) -> tuple[Worn, ...]:
    """What is marked on these objects as left out, or as body after all."""
    found: dict[Worn, None] = {}
    for item in objects:
        for entry in stored_worn(item):
            name = unique_name(item) if entry.kind == "object" else entry.name
            found[Worn(entry.kind, name, entry.excluded)] = None
    return tuple(found)


def head_bone_on(objects: Iterable[bpy.types.Object]) -> str | None:
    for item in objects:
        name = text_on(item, HEAD_KEY)
        if name:
            return name
    return None


def stored_pins(item: bpy.types.Object) -> tuple[StoredPin, ...]:
    return tuple(each(rows_on(item, PINS_KEY), _pin))


def _pin(row: dict[str, Any]) -> StoredPin:
    x, y, z = (float(value) for value in row["point"])
    if not math.isfinite(x + y + z):
        raise ValueError("no place")
    return StoredPin(str(row["landmark"]), (x, y, z), int(row.get("tag", 0)))


def stored_worn(item: bpy.types.Object) -> tuple[Worn, ...]:
    return tuple(each(rows_on(item, WORN_KEY), _worn))


def _worn(row: dict[str, Any]) -> Worn:
    return Worn(str(row["kind"]), str(row.get("name", "")), bool(row.get("excluded", True)))


def local_point(item: bpy.types.Object, pin: StoredPin) -> tuple[float, float, float] | None:
    """Where a pin is now, in its object's space; None when its vertex was deleted."""
    if not pin.tag:
        return pin.point
    vertex = _tagged_vertex(item, pin)
    if vertex is None:
        return None
    place = neutral_positions(mesh_of(item))[vertex].tolist()
    return (place[0], place[1], place[2])


def _tagged_vertex(item: bpy.types.Object, pin: StoredPin) -> int | None:
    """The vertex that carries the tag; of several copies the one nearest to where it was set."""
    if item.type != "MESH":
        return None
    if item.mode == "EDIT":
        item.update_from_editmode()
        if item.data.is_editmode:
            return _tagged_in_edit_mesh(cast("bpy.types.Mesh", item.data), pin)
    attribute = item.data.attributes.get(TAG_ATTRIBUTE)
    if attribute is None or attribute.domain != "POINT" or attribute.data_type != "INT":
        return None
    tags = np.zeros(len(attribute.data), np.int32)
    attribute.data.foreach_get("value", tags)
    places = np.zeros(len(item.data.vertices) * 3, np.float32)
    item.data.vertices.foreach_get("co", places)
    return _nearest(np.flatnonzero(tags == pin.tag), places.reshape(-1, 3), pin.point)


def _tagged_in_edit_mesh(mesh: bpy.types.Mesh, pin: StoredPin) -> int | None:
    edit = bmesh.from_edit_mesh(mesh)
    layer = edit.verts.layers.int.get(TAG_ATTRIBUTE)
    if layer is None:
        return None
    tagged = np.array([v.index for v in edit.verts if v[layer] == pin.tag], np.int64)
    places = np.array([v.co[:] for v in edit.verts], np.float32).reshape(-1, 3)
    return _nearest(tagged, places, pin.point)


def _nearest(tagged: np.ndarray, places: np.ndarray, to: tuple[float, ...]) -> int | None:
    if not tagged.size:
        return None
    return int(tagged[np.argmin(np.linalg.norm(places[tagged] - np.array(to), axis=1))])


def pin_vertex(item: bpy.types.Object, landmark: str, vertex: int) -> None:
    """Pin a landmark to a vertex, in any mode. Raises PinError when the mesh cannot be changed."""
    require_editable(item)
    mesh = cast("bpy.types.Mesh", item.data)
    if mesh.library is not None:
        raise PinError(f"The mesh of {item.name} is linked: pin the place of the 3D cursor instead.")
    if mesh.is_editmode:
        tag = _tag_in_edit_mesh(mesh, vertex)
        item.update_from_editmode()
    else:
        tag = _tag_in_mesh(mesh, vertex)
    place = mesh.vertices[vertex].co
    _keep_pin(item, StoredPin(landmark, (place[0], place[1], place[2]), tag))


def _tag_in_edit_mesh(mesh: bpy.types.Mesh, vertex: int) -> int:
    edit = bmesh.from_edit_mesh(mesh)
    layer = edit.verts.layers.int.get(TAG_ATTRIBUTE)
    if layer is None:
        layer = edit.verts.layers.int.new(TAG_ATTRIBUTE)
    edit.verts.ensure_lookup_table()
    used = {v[layer] for v in edit.verts}
    tag = edit.verts[vertex][layer] or _fresh(used)
    edit.verts[vertex][layer] = tag
    bmesh.update_edit_mesh(mesh, loop_triangles=False, destructive=False)
    return tag


def _tag_in_mesh(mesh: bpy.types.Mesh, vertex: int) -> int:
    attribute = mesh.attributes.get(TAG_ATTRIBUTE)
    if attribute is None:
        attribute = mesh.attributes.new(TAG_ATTRIBUTE, "INT", "POINT")
    used = {entry.value for entry in attribute.data}
    tag = attribute.data[vertex].value or _fresh(used)
    attribute.data[vertex].value = tag
    return tag


def _fresh(used: set[int]) -> int:
    """A tag no halving or blending of others yields: odd, large and far from those in use."""
    tag = 1_000_003
    while tag in used:
        tag += 2_000_006
    return tag


def pin_place(item: bpy.types.Object, landmark: str, world_point: Iterable[float]) -> None:
    """Pin a landmark to a place in world space; it then moves with the object."""
    require_editable(item)
    local = item.matrix_world.inverted_safe() @ Vector(tuple(world_point))
    _keep_pin(item, StoredPin(landmark, (local[0], local[1], local[2])))


def remove_pin(item: bpy.types.Object, landmark: str) -> None:
    require_editable(item)
    kept = [pin for pin in stored_pins(item) if pin.landmark != landmark]
    keep_rows(item, PINS_KEY, [asdict(pin) for pin in kept])


def mark(item: bpy.types.Object, entry: Worn) -> None:
    """Keep on an object that it, or something of it, is left out or is body after all."""
    require_editable(item)
    name = "" if entry.kind == "object" else entry.name
    kept = [e for e in stored_worn(item) if (e.kind, e.name) != (entry.kind, name)]
    keep_rows(item, WORN_KEY, [asdict(e) for e in (*kept, replace(entry, name=name))])


def unmark(item: bpy.types.Object, kind: str, name: str) -> None:
    require_editable(item)
    name = "" if kind == "object" else name
    kept = [e for e in stored_worn(item) if (e.kind, e.name) != (kind, name)]
    keep_rows(item, WORN_KEY, [asdict(e) for e in kept])


def name_head_bone(armature: bpy.types.Object, bone: str | None) -> None:
    require_editable(armature)
    if bone:
        armature[HEAD_KEY] = bone
    elif armature.get(HEAD_KEY) is not None:
        del armature[HEAD_KEY]


def require_editable(item: bpy.types.Object) -> None:
    if item.library is not None:
        raise PinError(f"{item.name} is linked from another file: say it there, or override it here.")


def _keep_pin(item: bpy.types.Object, pin: StoredPin) -> None:
    kept = [old for old in stored_pins(item) if old.landmark != pin.landmark]
    keep_rows(item, PINS_KEY, [asdict(old) for old in (*kept, pin)])
