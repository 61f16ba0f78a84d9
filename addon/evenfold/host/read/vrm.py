"""The avatar data of a VRM file, which the host's importer leaves behind."""

import json
import struct
from dataclasses import replace
from pathlib import Path

from ...core.errors import UnreadableError
from ...core.figure import Armature

JSON_CHUNK = 0x4E4F534A

SPRING_NUMBERS = ("hitRadius", "stiffness", "gravityPower", "dragForce")
SPRING_DEFAULTS = {"hitRadius": 0.0, "stiffness": 1.0, "gravityPower": 0.0, "dragForce": 0.5}
"""What a 1.0 joint has where it says nothing (VRMC_springBone-1.0 schema)."""


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


def springs_of(gltf: dict[str, object]) -> dict[str, dict[str, float]]:
    """The settings of each bone that swings, by bone name; empty where the file has none.

    1.0: each joint of a chain but the last, which is only its tail. 0.x: the roots named and
    everything below them. ``gravityDir.x`` points across the figure in both.
    """
    extensions = _mapping(gltf.get("extensions"))
    nodes = [_mapping(one) for one in _list(gltf.get("nodes"))]
    found: dict[str, dict[str, float]] = {}
    for spring in _list(_mapping(extensions.get("VRMC_springBone")).get("springs")):
        for joint in _list(_mapping(spring).get("joints"))[:-1]:
            said = {**SPRING_DEFAULTS, **_mapping(joint)}
            _keep(found, nodes, _mapping(joint).get("node"), said, [0.0, -1.0, 0.0])
    older = _mapping(_mapping(extensions.get("VRM")).get("secondaryAnimation"))
    for group in _list(older.get("boneGroups")):
        said = dict(_mapping(group))
        said["stiffness"] = said.get("stiffness", said.get("stiffiness"))
        for root in _list(said.get("bones")):
            for node in _below(nodes, root):
                _keep(found, nodes, node, said, [0.0, 0.0, 0.0])
    return found


def with_springs(armature: Armature, springs: dict[str, dict[str, float]]) -> Armature:
    """The armature with these settings added to its bones' numbers, named ``spring.…``."""
    bones = tuple(
        replace(
            bone,
            properties=(
                *bone.properties,
                *((f"spring.{name}", value) for name, value in springs.get(bone.name, {}).items()),
            ),
        )
        for bone in armature.bones
    )
    return replace(armature, bones=bones)


def _keep(
    found: dict[str, dict[str, float]],
    nodes: list[dict[str, object]],
    node: object,
    said: dict[str, object],
    down: list[float],
) -> None:
    name = nodes[node].get("name") if isinstance(node, int) and 0 <= node < len(nodes) else None
    if not isinstance(name, str):
        return
    values = {key: said.get(key) for key in SPRING_NUMBERS}
    gravity = said.get("gravityDir")
    parts = [_mapping(gravity).get(axis) for axis in "xyz"] if isinstance(gravity, dict) else _list(gravity)
    values.update(zip(("gravityDir.x", "gravityDir.y", "gravityDir.z"), parts or down, strict=False))
    found[name] = {key: float(one) for key, one in values.items() if isinstance(one, (int, float))}


def _below(nodes: list[dict[str, object]], root: object) -> list[int]:
    """The node and everything under it; each once, whatever the file says."""
    seen: list[int] = []
    todo = [root]
    while todo:
        node = todo.pop()
        if isinstance(node, int) and 0 <= node < len(nodes) and node not in seen:
            seen.append(node)
            todo.extend(_list(nodes[node].get("children")))
    return seen


def _list(value: object) -> list[object]:
    return value if isinstance(value, list) else []
