"""Opening one input in a clean state, never running what is written in it."""

import re
import shutil
import tempfile
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

import bpy
from mathutils import Matrix

from ..core.errors import UnreadableError
from ..core.kinds import SUFFIXES
from .read.sound import is_sound
from .read.vrm import humanoid_of, read_json_chunk, springs_of


@dataclass(frozen=True)
class Opened:
    """What an opened file says besides its scene, which the host's importer leaves behind.

    ``humanoid`` are the standard's bones (see Figure.humanoid), ``springs`` the settings of
    bones that swing, both by the file's own bone names. ``split`` is True for formats that have
    only triangles and store a vertex again at every seam (see Surface.split).
    """

    humanoid: dict[str, str] = field(default_factory=dict)
    springs: dict[str, dict[str, float]] = field(default_factory=dict)
    split: bool = False


def open_input(path: Path | str) -> Opened:
    """Replace what is open by this file. Raises UnreadableError with one sentence.

    After a failure an empty scene is open, never the file before.
    """
    path = Path(path)
    _require_readable(path)
    start_empty()
    try:
        return _READERS[path.suffix.lower()](path)
    except UnreadableError:
        start_empty()
        raise
    except Exception as error:  # importers fail with whatever the damaged data provokes
        start_empty()
        raise UnreadableError(f"{path.name} could not be opened: {_last_line(error)}") from error


def start_empty() -> None:
    """An empty scene with factory settings, which never run a file's scripts."""
    bpy.ops.wm.read_factory_settings(use_empty=True)
    bpy.context.preferences.use_preferences_save = False
    bpy.context.preferences.filepaths.use_scripts_auto_execute = False


def _require_readable(path: Path) -> None:
    if path.suffix.lower() not in _READERS:
        known = ", ".join(SUFFIXES)
        raise UnreadableError(f"{path.name} is of a kind that is not read here: give one of {known}.")
    try:
        size = path.stat().st_size
        with path.open("rb"):
            pass
    except OSError as error:
        raise UnreadableError(f"{path.name} cannot be read: {error.strerror}.") from error
    if not size:
        raise UnreadableError(f"{path.name} is empty: copy or export it again.")


def _open_blend(path: Path) -> Opened:
    bpy.ops.wm.open_mainfile(filepath=str(path), load_ui=False, use_scripts=False)
    made = cast("tuple[int, int, int]", bpy.data.version)[:2]
    if made > bpy.app.version[:2]:
        raise UnreadableError(
            f"{path.name} was saved by Blender {made[0]}.{made[1]}, newer than this "
            f"{bpy.app.version[0]}.{bpy.app.version[1]}: check it with that version."
        )
    broken = next((mesh.name for mesh in bpy.data.meshes if not is_sound(mesh)), None)
    if broken is not None:
        raise UnreadableError(f"The mesh {broken} in {path.name} is damaged: go back to an earlier copy of the file.")
    return Opened()


def _import_gltf(path: Path) -> Opened:
    _require_finished(path, bpy.ops.import_scene.gltf(filepath=str(path)))
    return Opened(split=True)


def _import_glb(path: Path) -> Opened:
    found = read_json_chunk(path)
    _import_gltf(path)
    return Opened(humanoid_of(found), springs_of(found), split=True)


def _import_vrm(path: Path) -> Opened:
    found = read_json_chunk(path)
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "avatar.glb"
        shutil.copyfile(path, copy)
        _import_gltf(copy)
    return Opened(humanoid_of(found), springs_of(found), split=True)


def _import_fbx(path: Path) -> Opened:
    _require_finished(path, bpy.ops.import_scene.fbx(filepath=str(path)))
    return Opened()


def _import_obj(path: Path) -> Opened:
    _require_finished(path, bpy.ops.wm.obj_import(filepath=str(path)))
    for item in bpy.data.objects:
        # The importer stands the file's Y up by turning the objects, which the file never did.
        if isinstance(item.data, bpy.types.Mesh):
            item.data.transform(item.matrix_basis)
            item.matrix_basis = Matrix()
    return Opened()


def _import_usd(path: Path) -> Opened:
    """Geometry, skeletons, keys and materials; no image is unpacked and nothing else looked up."""
    known = cast("Any", bpy.ops.wm.usd_import).get_rna_type().properties
    outcome = bpy.ops.wm.usd_import(
        filepath=str(path), import_cameras=False, import_lights=False, import_volumes=False,
        import_textures_mode="IMPORT_NONE", validate_meshes=True, create_world_material=False,
        set_frame_range=False,
        scale=1.0 if "apply_unit_conversion_scale" in known else _metres_per_unit(path),
    )
    _require_finished(path, outcome)
    return Opened()


def _metres_per_unit(path: Path) -> float:
    """What a USD text says of its unit, for 4.2, which does not look; other USD is taken as metres.

    A text that says nothing is in centimetres (metersPerUnit in the USD documentation).
    """
    with path.open("rb") as file:
        head = file.read(1 << 16)
    if not head.startswith(b"#usda"):
        return 1.0
    said = re.search(rb"metersPerUnit\s*=\s*([0-9]*\.?[0-9]+(?:[eE][+-]?[0-9]+)?)", head)
    value = float(said[1]) if said else 0.01
    return value if 1e-6 < value < 1e6 else 1.0


def _require_finished(path: Path, outcome: Collection[str]) -> None:
    if "FINISHED" not in outcome:
        raise UnreadableError(f"{path.name} could not be imported: export it again.")


def _last_line(error: Exception) -> str:
    lines = [line.strip() for line in str(error).splitlines() if line.strip()]
    text = lines[-1] if lines else type(error).__name__
    return text.removeprefix("Error: ").rstrip(".") + "."


_READERS: dict[str, Callable[[Path], Opened]] = {
    ".blend": _open_blend,
    ".glb": _import_glb,
    ".gltf": _import_gltf,
    ".vrm": _import_vrm,
    ".fbx": _import_fbx,
    ".obj": _import_obj,
    ".usd": _import_usd,
    ".usda": _import_usd,
    ".usdc": _import_usd,
    ".usdz": _import_usd,
}
