"""The avatar data of a VRM file, which the host's importer leaves behind."""

import json
import struct
from pathlib import Path

from ...core.errors import UnreadableError

JSON_CHUNK = 0x4E4F534A


def read_json_chunk(path: Path) -> dict[str, object]:
    """The JSON of a binary glTF file. Raises UnreadableError when it is cut short or no glTF."""
    try:
        data = path.read_bytes()
        magic, _version, length = struct.unpack_from("<4sII", data)
        size, kind = struct.unpack_from("<II", data, 12)
        if magic != b"glTF" or kind != JSON_CHUNK:
            raise UnreadableError(f"{path.name} is not a binary glTF file: export it again.")
        if length > len(data):
            raise UnreadableError(f"{path.name} is cut short: copy or export it again.")
        found = json.loads(data[20 : 20 + size])
    except (struct.error, ValueError) as error:
        raise UnreadableError(f"{path.name} is cut short or damaged: export it again.") from error
    except OSError as error:
        raise UnreadableError(f"{path.name} cannot be read: {error.strerror}.") from error
    if not isinstance(found, dict):
        raise UnreadableError(f"{path.name} holds no glTF scene: export it again.")
    return found


def humanoid_of(gltf: dict[str, object]) -> dict[str, str]:
    """The standard's bone names and the nodes that play them; empty where nothing usable is said."""
    extensions = _mapping(gltf.get("extensions"))
    nodes = gltf.get("nodes")
    names = [_mapping(n).get("name") for n in nodes] if isinstance(nodes, list) else []
    newer = _mapping(_mapping(_mapping(extensions.get("VRMC_vrm")).get("humanoid")).get("humanBones"))
    pairs = [(bone, _mapping(entry).get("node")) for bone, entry in newer.items()]
    older = _mapping(_mapping(extensions.get("VRM")).get("humanoid")).get("humanBones")
    entries = [_mapping(entry) for entry in older] if isinstance(older, list) else []
    pairs += [(str(entry.get("bone")), entry.get("node")) for entry in entries]
    return {
        bone: names[node]
        for bone, node in pairs
        if isinstance(node, int) and 0 <= node < len(names) and isinstance(names[node], str)
    }


def _mapping(value: object) -> dict[str, object]:
    return value if isinstance(value, dict) else {}
