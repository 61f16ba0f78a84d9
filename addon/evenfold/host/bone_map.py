"""The humanoid bone map: as kept on the armature object, else guessed, or taken from an avatar file.

Kept as one custom property, like what store.py keeps, so that a batch run reads it too.
"""

import json
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import bpy

from ..core.errors import EvenfoldError
from ..core.figure import Armature, Figure
from ..core.humanoid import guess_humanoid
from ..core.humanoid_table import BY_NAME, label, newer_names
from .kept import parsed, text_on
from .read.armature import read_armature
from .read.place import rest_world
from .read.vrm import humanoid_of, read_json_chunk

BONE_MAP_KEY = "evenfold_bone_map"


class BoneMapError(EvenfoldError):
    """A bone map could not be read or kept."""


def stored_map(item: bpy.types.Object) -> dict[str, str] | None:
    """The kept map, standard names to bone names; None when none is kept or it is damaged."""
    text = text_on(item, BONE_MAP_KEY)
    rows = _parsed(text) if text is not None else None
    return None if rows is None else dict(rows)


@lru_cache(maxsize=16)
def _parsed(text: str) -> dict[str, str] | None:
    """Read once for each text: panels ask at every redraw."""
    rows = parsed(text)
    if not isinstance(rows, dict):
        return None
    return {name: bone for name, bone in rows.items() if name in BY_NAME and isinstance(bone, str)}


def keep_map(item: bpy.types.Object, humanoid: dict[str, str]) -> None:
    """Keep a map on the armature object. Raises BoneMapError when it is linked from another file."""
    _require_editable(item)
    item[BONE_MAP_KEY] = json.dumps(humanoid)


def clear_map(item: bpy.types.Object) -> None:
    """Forget the kept map: bones are guessed by name again. Raises BoneMapError."""
    _require_editable(item)
    if item.get(BONE_MAP_KEY) is not None:
        del item[BONE_MAP_KEY]


def _require_editable(item: bpy.types.Object) -> None:
    if item.library is not None:
        raise BoneMapError(
            f"{item.name} is linked from another file: choose its bones there, or override it here."
        )


def guess_map(item: bpy.types.Object) -> dict[str, str]:
    """The map guessed from the armature's rest bones; kept nowhere."""
    return guess_humanoid(rest_bones(item))


def rest_bones(item: bpy.types.Object) -> Armature:
    """The armature's rest bones in world space."""
    return read_armature(item, rest_world(item))


def map_bone(item: bpy.types.Object, standard: str, bone: str) -> str | None:
    """Say that ``bone`` plays the standard bone; "" leaves it without one.

    A map that was only guessed so far is kept from now on. Returns the standard bone that
    loses ``bone``, if any. Raises BoneMapError for names that are not there.
    """
    if standard not in BY_NAME:
        raise BoneMapError(f"'{standard}' is no bone of the standard: choose one from the list.")
    if item.data.is_editmode:
        item.update_from_editmode()
    if bone and bone not in item.data.bones:
        raise BoneMapError(f"{item.name} has no bone '{bone}': choose one of its bones.")
    kept = stored_map(item)
    humanoid = guess_map(item) if kept is None else kept
    lost = next((name for name, own in humanoid.items() if bone and own == bone and name != standard), None)
    humanoid = {name: own for name, own in humanoid.items() if name not in (standard, lost)}
    if bone:
        humanoid[standard] = bone
    keep_map(item, humanoid)
    return lost


def with_bones(figure: Figure, item: bpy.types.Object) -> Figure:
    """The figure with the map kept on its armature object, else with the guessed one."""
    if figure.armature is None:
        return figure
    kept = stored_map(item)
    if kept is None:
        return replace(figure, humanoid=guess_humanoid(figure.armature, figure.up))
    known = {name: bone for name, bone in kept.items() if bone in figure.armature.by_name}
    gone = [label(name).lower() for name in kept if name not in known]
    if not gone:
        return replace(figure, humanoid=known)
    note = (
        f"The bone map of {item.name} names bones that are not in it any more "
        f"({', '.join(gone)}): choose them again under Humanoid Bones."
    )
    return replace(figure, humanoid=known, notes=(*figure.notes, note))


def map_of_file(path: Path | str, item: bpy.types.Object) -> dict[str, str]:
    """The humanoid table of an avatar file, as far as its bones are in the armature.

    Raises UnreadableError for a file that is none, BoneMapError when the table is empty or
    none of its bones is here.
    """
    path = Path(path)
    table = newer_names(humanoid_of(read_json_chunk(path)))
    if not table:
        raise BoneMapError(f"{path.name} holds no humanoid bone table: choose an avatar file (.vrm).")
    known = {name: bone for name, bone in table.items() if bone in item.data.bones}
    if not known:
        raise BoneMapError(
            f"None of the {len(table)} bones named in {path.name} is in {item.name}: "
            "choose the file this armature was made from."
        )
    return known
