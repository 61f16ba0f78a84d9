"""Which other files a result may rest on; only a worker asks, while the file is open."""

import json
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote

import bpy
from evenfold.core.errors import EvenfoldError
from evenfold.host.read.vrm import read_json_chunk

MOST = 200
"""A file that names more others than this is checked anew each time. Our choice."""
WHOLE = frozenset({"FILE", "GENERATED", "VIEWER"})
"""Kinds of images that are one file or none; films, sequences and tiles are many."""
KNOWN = frozenset({".blend", ".glb", ".gltf", ".vrm", ".fbx", ".obj"})


def other_files(path: Path) -> tuple[str, ...] | None:
    """Absolute paths of the files that ``path``, which is open, refers to; there or not.

    None where they cannot be told, as with layers of scene descriptions (.usd).
    """
    suffix = path.suffix.lower()
    if suffix not in KNOWN or any(image.source not in WHOLE for image in bpy.data.images):
        return None
    try:
        found = {*_of_host(), *_NAMED.get(suffix, _none)(path)} - {str(path.absolute())}
    except (OSError, ValueError, EvenfoldError):
        return None
    if len(found) > MOST or any("<" in Path(one).name or _is_remote(one) for one in found):
        return None
    return tuple(sorted(found))


def _of_host() -> Iterator[str]:
    """Libraries, images and caches as the host knows them, those inside libraries too."""
    for one in bpy.utils.blend_paths(absolute=True, packed=False, local=False):
        if one:
            yield str(Path(one).absolute())


def _of_gltf(path: Path) -> Iterator[str]:
    said = json.loads(path.read_bytes()) if path.suffix.lower() == ".gltf" else read_json_chunk(path)
    for kind in ("buffers", "images"):
        for entry in said.get(kind) or ():
            uri = entry.get("uri") if isinstance(entry, dict) else None
            if isinstance(uri, str) and not uri.startswith("data:"):
                yield str(path.absolute().parent / unquote(uri))


def _of_obj(path: Path) -> Iterator[str]:
    with path.open("rb") as file:
        for line in file:
            if line.startswith(b"mtllib"):
                yield str(path.absolute().parent / line[6:].strip().decode("utf-8", "surrogateescape"))


def _is_remote(path: str) -> bool:
    return path.startswith(("\\\\", "//")) or "://" in path


def _none(_: Path) -> Iterator[str]:
    return iter(())


_NAMED = {".gltf": _of_gltf, ".glb": _of_gltf, ".vrm": _of_gltf, ".obj": _of_obj}
