"""Deliberate asymmetry as it is kept in the artist's file.

Each allowance stands on its object as a custom property, and once more in a register on the
scene, so that joining objects does not lose the reason. A selection is a point attribute of its
own: edits, undo, saving, appending and joining carry it along. What is excused by name leaves its
mark in an empty attribute of the mesh or on a bone, by which it is known again after joining.
"""

import math
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, cast

import bmesh
import bpy
import numpy as np

from ..core.allowances import KINDS, Allowance
from ..core.errors import EvenfoldError
from ..core.figure import IntArray
from ..core.findings import Finding
from .kept import each, keep_rows, rows_on
from .named import unique_name
from .store import require_editable

KEY = "evenfold_allowances"
PREFIX = "evenfold_excused_"
NAMED_PREFIX = "evenfold_named_"
"""Attributes that only say that a mesh holds, or was joined with one that held, what is excused by name."""
BONE_KEY = "evenfold_named"
"""The same on a bone: the marks, with spaces between."""
NAMED_KINDS = frozenset({"group", "material", "key", "bones", "bone"})
LOST = "its reason was not kept"


class AllowanceError(EvenfoldError):
    """An allowance could not be kept or found."""


@dataclass(frozen=True)
class StoredAllowance:
    """An allowance as kept: ``whole`` is True where it means the whole figure.

    ``code``, ``names`` and ``worst`` are those of the finding it was made from, see ``Allowance``;
    empty and None on wide ones, and on all that were kept before there were any.
    """

    mark: str
    kind: str
    subject: str
    reason: str
    owner: str
    whole: bool = False
    code: str = ""
    names: tuple[str, ...] = ()
    worst: float | None = None


def stored_on(item: bpy.types.Object) -> tuple[StoredAllowance, ...]:
    """The allowances kept on an object, those it got by joining included."""
    own = _rows(item)
    marks = {row.mark for row in own}
    vertices = [mark for mark in _attribute_marks(item, PREFIX) if mark not in marks]
    named = [mark for mark in _named_marks(item) if mark not in marks]
    if vertices or named:
        register = {row.mark: row for scene in bpy.data.scenes for row in _rows(scene)}
        kept = {row.mark for other in bpy.data.objects for row in _rows(other)} if named else set()
        lost = StoredAllowance("", "selection", "", LOST, "")
        own += [register.get(mark, replace(lost, mark=mark)) for mark in vertices]
        own += [register[mark] for mark in named if mark in register and mark not in kept]
    return tuple(replace(row, owner=unique_name(item)) for row in own)


def read_allowances(items: Iterable[bpy.types.Object]) -> tuple[Allowance, ...]:
    """The allowances of a figure's objects; selections with the vertices they cover now."""
    found = []
    for item in items:
        for row in stored_on(item):
            vertices = np.zeros(0, np.int64)
            if row.kind == "selection":
                vertices = _marked_vertices(item, row.mark)
            owner = "" if row.whole else unique_name(item)
            found.append(
                Allowance(
                    row.mark, row.kind, row.subject, row.reason, owner, vertices,
                    frozenset(row.names), row.code, row.worst,
                )
            )
    return tuple(found)


def allow(
    item: bpy.types.Object, kind: str, subject: str, reason: str, *, whole: bool = False
) -> str:
    """Keep an allowance on an object; returns its mark. Raises AllowanceError or PinError."""
    if kind not in KINDS or kind == "selection":
        raise AllowanceError(f"{kind} is nothing that can be excused by name.")
    require_editable(item)
    for row in _rows(item):
        if not row.code and (row.kind, row.subject, row.whole) == (kind, subject, whole):
            raise AllowanceError(f"{subject or item.name} is excused already: {row.reason or LOST}.")
    return _keep_named(item, replace(_WIDE, kind=kind, subject=subject, reason=reason, whole=whole))


def allow_found(item: bpy.types.Object, kind: str, finding: Finding, reason: str) -> str:
    """Excuse what a finding lists by name, of its code and up to its size; returns the mark."""
    require_editable(item)
    row = _of_finding(finding)
    for old in _rows(item):
        if (old.kind, old.code, old.names, old.worst) == (kind, row.code, row.names, row.worst):
            raise AllowanceError(f"{old.subject} is excused already: {old.reason or LOST}.")
    return _keep_named(item, replace(row, kind=kind, reason=reason))


def allow_vertices(
    item: bpy.types.Object, vertices: IntArray, reason: str, finding: Finding | None = None
) -> str:
    """Excuse these vertices of a mesh; returns the allowance's mark.

    With a finding only what it says is excused: its code, up to its size. Raises AllowanceError when there are none or the mesh cannot be changed.
    """
    require_markable(item)
    mesh = cast("bpy.types.Mesh", item.data)
    if not len(vertices):
        raise AllowanceError("No vertex is selected: select what is meant to differ.")
    row = _WIDE if finding is None else _of_finding(finding)
    mark = _keep(item, replace(row, kind="selection", reason=reason))
    _mark_vertices(mesh, vertices, PREFIX + mark)
    return mark


def require_markable(item: bpy.types.Object) -> None:
    """Raises PinError or AllowanceError where no vertices of this mesh can be excused."""
    require_editable(item)
    if item.data.library is not None:
        raise AllowanceError(f"The mesh of {item.name} is linked: excuse the whole object instead.")


def forget(item: bpy.types.Object, mark: str) -> None:
    """Remove an allowance from an object, with its attribute and its place in the register."""
    require_editable(item)
    _write(item, [row for row in _rows(item) if row.mark != mark])
    for scene in bpy.data.scenes:
        if scene.library is None:
            _write(scene, [row for row in _rows(scene) if row.mark != mark])
    if item.type == "MESH" and item.data.library is None:
        for prefix in (PREFIX, NAMED_PREFIX):
            _drop_attribute(cast("bpy.types.Mesh", item.data), prefix + mark)
    elif item.type == "ARMATURE" and item.data.library is None:
        _unmark_bones(cast("bpy.types.Armature", item.data), mark)


_WIDE = StoredAllowance("", "selection", "", "", "")


def _of_finding(finding: Finding) -> StoredAllowance:
    names = finding.names or finding.about
    more = f" and {len(names) - 2} more" if len(names) > 2 else ""
    return replace(
        _WIDE, subject=", ".join(names[:2]) + more, code=finding.code, names=names,
        worst=finding.worst,
    )


def _keep_named(item: bpy.types.Object, row: StoredAllowance) -> str:
    mark = _keep(item, row)
    _mark_named(item, replace(row, mark=mark))
    return mark


def _keep(item: bpy.types.Object, row: StoredAllowance) -> str:
    row = replace(
        row, mark=uuid.uuid4().hex[:8], reason=row.reason.strip(), owner=item.name
    )
    _write(item, [*_rows(item), row])
    for scene in item.users_scene:
        if scene.library is None:
            _write(scene, [*_rows(scene), row])
    return row.mark


def _mark_named(item: bpy.types.Object, row: StoredAllowance) -> None:
    """Mark what is excused by name, so that it is known again in what the object is joined to."""
    if row.kind not in NAMED_KINDS or item.data is None or item.data.library is not None:
        return
    if item.type == "MESH":
        _mark_vertices(cast("bpy.types.Mesh", item.data), np.zeros(0, np.int64), NAMED_PREFIX + row.mark)
    elif item.type == "ARMATURE":
        name = row.names[0] if row.names else row.subject
        bone = _bones(cast("bpy.types.Armature", item.data)).get(name)
        if bone is not None:
            bone[BONE_KEY] = " ".join([*str(bone.get(BONE_KEY, "")).split(), row.mark])


def _unmark_bones(data: bpy.types.Armature, mark: str) -> None:
    for bone in _bones(data):
        marks = str(bone.get(BONE_KEY, "")).split()
        if mark in marks:
            marks.remove(mark)
            bone[BONE_KEY] = " ".join(marks)
            if not marks:
                del bone[BONE_KEY]


def _bones(data: bpy.types.Armature) -> Any:
    """The bones as they can be written on: an edit session has its own."""
    return data.edit_bones if data.is_editmode else data.bones


def _named_marks(item: bpy.types.Object) -> Iterator[str]:
    yield from _attribute_marks(item, NAMED_PREFIX)
    if item.type == "ARMATURE":
        marks = (str(bone.get(BONE_KEY, "")).split() for bone in _bones(cast("bpy.types.Armature", item.data)))
        yield from dict.fromkeys(mark for own in marks for mark in own)


def _attribute_marks(item: bpy.types.Object, prefix: str) -> Iterator[str]:
    if item.type != "MESH":
        return
    for attribute in item.data.attributes:
        if attribute.name.startswith(prefix):
            yield attribute.name.removeprefix(prefix)


def _marked_vertices(item: bpy.types.Object, mark: str) -> IntArray:
    mesh = cast("bpy.types.Mesh", item.data)
    if mesh.is_editmode:
        edit = bmesh.from_edit_mesh(mesh)
        layer = edit.verts.layers.int.get(PREFIX + mark)
        if layer is None:
            return np.zeros(0, np.int64)
        return np.array([v.index for v in edit.verts if v[layer]], np.int64)
    attribute = mesh.attributes.get(PREFIX + mark)
    if attribute is None or attribute.domain != "POINT" or attribute.data_type != "INT":
        return np.zeros(0, np.int64)
    flags = np.zeros(len(attribute.data), np.int32)
    attribute.data.foreach_get("value", flags)
    return np.flatnonzero(flags)


def _mark_vertices(mesh: bpy.types.Mesh, vertices: IntArray, name: str) -> None:
    if mesh.is_editmode:
        edit = bmesh.from_edit_mesh(mesh)
        layer = edit.verts.layers.int.new(name)
        edit.verts.ensure_lookup_table()
        for number in vertices.tolist():
            edit.verts[number][layer] = 1
        bmesh.update_edit_mesh(mesh, loop_triangles=False, destructive=False)
        return
    attribute = mesh.attributes.new(name, "INT", "POINT")
    flags = np.zeros(len(mesh.vertices), np.int32)
    flags[vertices] = 1
    attribute.data.foreach_set("value", flags)


def _drop_attribute(mesh: bpy.types.Mesh, name: str) -> None:
    if mesh.is_editmode:
        edit = bmesh.from_edit_mesh(mesh)
        layer = edit.verts.layers.int.get(name)
        if layer is not None:
            edit.verts.layers.int.remove(layer)
            bmesh.update_edit_mesh(mesh, loop_triangles=False, destructive=False)
        return
    attribute = mesh.attributes.get(name)
    if attribute is not None:
        mesh.attributes.remove(attribute)


def _rows(owner: bpy.types.ID) -> list[StoredAllowance]:
    return each(rows_on(owner, KEY), _row)


def _row(one: dict[str, Any]) -> StoredAllowance:
    words = [str(one.get(name, "")) for name in ("mark", "kind", "subject", "reason", "owner")]
    if words[1] not in KINDS:
        raise ValueError("no kind")
    names, worst = one.get("names"), one.get("worst")
    size = float(worst) if isinstance(worst, int | float) else math.nan
    return StoredAllowance(
        words[0], words[1], words[2], words[3], words[4], bool(one.get("whole")), str(one.get("code", "")),
        tuple(str(name) for name in names) if isinstance(names, list) else (),
        size if math.isfinite(size) else None,
    )


def _write(owner: bpy.types.ID, rows: list[StoredAllowance]) -> None:
    keep_rows(owner, KEY, [vars(row) for row in rows])
